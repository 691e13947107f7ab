"""A machine's own page, to look at: a screen's process on the copy of its recording."""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
import threading
from collections import OrderedDict
from pathlib import Path
from typing import Final
from urllib.parse import quote, urlsplit

from msgspec import Struct

from dashboard.web.access.tls import Secured

MOST: Final = 6
"""Screens at once: the one that was opened longest ago ends for another."""
START: Final = 30.0
"""Seconds in which one must be ready."""


class NoScreen(Exception):
    """A screen that did not start: why."""


class _Screen(Struct):
    process: subprocess.Popen[str]
    port: int
    viewer: str


def port_said(line: str, scheme: str) -> int | None:
    """The port of the address in the *line* that a screen says first; None where it says none.

    >>> port_said("open http://127.0.0.1:8501/?token=abc", "http")
    8501
    >>> port_said("tenths: http was due, see https://127.0.0.1:9/", "http")
    """
    for word in line.split():
        try:
            parts = urlsplit(word)
            port = parts.port
        except ValueError:  # no address: what stands where a port is due is no number
            continue
        if "://" in word and parts.scheme == scheme and parts.hostname and port:
            return port
    return None


class MachineScreens:
    """The screens that run, by recording; from any thread."""

    def __init__(self, host: str, shown: Secured | None = None) -> None:
        self._host, self._shown = host, shown
        self._lock = threading.Lock()
        self._screens: OrderedDict[Path, _Screen] = OrderedDict()

    def address(self, recording: Path, name: str) -> str:
        """Where *recording* is shown, under the host's *name* that the browser knows; only to look at.

        Raises:
            NoScreen: It did not start.
        """
        with self._lock:
            screen = self._screens.pop(recording, None)
            if screen is None or screen.process.poll() is not None:
                screen = self._start(recording)
            self._screens[recording] = screen
            while len(self._screens) > MOST:
                _, old = self._screens.popitem(last=False)
                _end(old)
        host = f"[{name}]" if ":" in name else name
        scheme = "http" if self._shown is None else "https"
        return f"{scheme}://{host}:{screen.port}/?token={quote(screen.viewer, safe='')}"

    def _start(self, recording: Path) -> _Screen:
        speak, viewer = secrets.token_urlsafe(24), secrets.token_urlsafe(24)
        words = [
            sys.executable,
            "-m",
            "dashboard",
            str(recording),
            "--host",
            self._host,
            "--port",
            "0",
            "--tied",
        ]
        if self._shown is not None:
            words += ["--tls-cert", str(self._shown.cert), "--tls-key", str(self._shown.key)]
        process = subprocess.Popen(
            words,
            env={**os.environ, "TENTHS_TOKEN": speak, "TENTHS_VIEWER_TOKEN": viewer},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        late = threading.Timer(START, process.kill)
        late.start()
        line = process.stdout.readline() if process.stdout is not None else ""
        late.cancel()
        port = port_said(line, "http" if self._shown is None else "https")
        screen = _Screen(process, port or 0, viewer)
        if port is None:
            _end(screen)
            raise NoScreen(
                line.strip()
                or f"it ended, or said nothing within {START:g} s: why stands with the shop's own messages"
            )
        return screen

    def close(self) -> None:
        """Ends all of them."""
        with self._lock:
            for screen in self._screens.values():
                _end(screen)
            self._screens.clear()


def _end(screen: _Screen) -> None:
    screen.process.kill()
    screen.process.wait()
    for pipe in (screen.process.stdin, screen.process.stdout):
        if pipe is not None:
            pipe.close()
