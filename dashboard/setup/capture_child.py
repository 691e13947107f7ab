"""A capture that the screen starts for a person: its own process, which goes on when the screen ends."""

from __future__ import annotations

import os
import signal
import subprocess
import tempfile
import threading
import time
from pathlib import Path
from typing import Any, Final

import msgspec

from capture.links.inbox.client import find, registered
from capture.links.inbox.endpoint import Endpoint, NoCapture
from dashboard.setup.command_child import TENTHS, Failed
from dashboard.text.screen import word

START: Final = 30.0
"""Seconds that a capture may take to say that it is ready."""
STOP: Final = 15.0
"""Seconds that it may take to stop: what waits for the disk is written first."""
LOOK: Final = 0.05
"""Seconds between two looks."""


def running(folder: Path) -> Endpoint | None:
    """The capture that runs for *folder*."""
    try:
        return find(folder)
    except NoCapture:
        return None


def start(sheet: Path, recording: Path | None) -> Path:
    """Starts the capture of *sheet*, into a new recording or going on with one; gives the recording.

    It is in a session of its own, as `tenths capture` in another terminal: a screen that is closed or
    that fails takes no reading with it.

    Raises:
        Failed: It refused, or was not ready in time; in its own words.
    """
    more = () if recording is None else ("--out", str(recording))
    trouble = tempfile.TemporaryFile()  # noqa: SIM115 - the capture keeps it
    with trouble:
        child = subprocess.Popen(
            [*TENTHS, "capture", str(sheet), *more, "--json"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=trouble,
            start_new_session=True,
        )
        said = _first_line(child)
        try:
            ready: dict[str, Any] = msgspec.json.decode(said)
            return Path(ready["recording"])
        except (msgspec.MsgspecError, KeyError, TypeError):
            child.kill()
            child.wait()
            trouble.seek(0)
            lines = trouble.read().decode("utf-8", "replace").strip().splitlines()
            raise Failed("\n".join(lines).removeprefix("tenths: ") or word("home.not-ready")) from None


def _first_line(child: subprocess.Popen[bytes]) -> bytes:
    """What it says first; empty where it ended or took too long. Whoever waits for it is a thread."""
    said: list[bytes] = []

    def read() -> None:
        if child.stdout is not None:
            said.append(child.stdout.readline())
            child.stdout.close()
        child.wait()

    threading.Thread(target=read, name="capture", daemon=True).start()
    until = time.monotonic() + START
    while not said and time.monotonic() < until:
        time.sleep(LOOK)
    return said[0] if said else b""


def stop(folder: Path) -> bool:
    """Stops the capture of *folder* as Ctrl-C does, and waits until it has written all; False: none ran.

    Raises:
        Failed: It did not stop in time.
    """
    place = running(folder)
    if place is None:
        return False
    if not registered(place):
        # A folder that was handed over could else name any process of this user.
        raise Failed(word("home.not-stopped", why=word("home.foreign")))
    try:
        os.kill(place.pid, signal.SIGTERM)
    except OSError as error:
        raise Failed(word("home.not-stopped", why=error.strerror or error)) from None
    until = time.monotonic() + STOP
    while running(folder) is not None:
        if time.monotonic() > until:
            raise Failed(word("home.not-stopped", why=word("home.slow")))
        time.sleep(LOOK)
    return True
