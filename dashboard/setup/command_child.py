"""The command line as a child of the dashboard: what it says of the gauges in sight, and a lesson with it.

The screen opens no port itself: the child does, and may die without harm to the screen.
"""

from __future__ import annotations

import secrets
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import Any, Final

import msgspec

from dashboard.text.screen import word

TENTHS: Final = (sys.executable, "-m", "capture.cli")
LOOK: Final = 45.0
"""Seconds that a look may take."""
WATCH: Final = 0.2
"""Seconds between two looks at whether the dashboard goes on."""
WAIT: Final = 1.0
"""Seconds that who asks for news of a lesson is kept waiting; less than a server may take to stop."""
HERE: Final = 5.0
"""Seconds between two words to the child that its browser is still there."""


class Failed(Exception):
    """Why the child did not answer, in a sentence."""


def asked(words: Sequence[str], stopping: Callable[[], bool], patience: float = LOOK) -> Mapping[str, Any]:
    """What a command answers in JSON.

    Raises:
        Failed: It refused, took longer than *patience* seconds, or the dashboard was *stopping*.
    """
    with subprocess.Popen(
        [*TENTHS, *words, "--json"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        end = time.monotonic() + patience
        while True:
            try:
                said, trouble = process.communicate(timeout=WATCH)
                break
            except subprocess.TimeoutExpired:
                if not stopping() and time.monotonic() < end:
                    continue
                process.kill()
                raise Failed(word("teach.slow", seconds=f"{patience:.0f}")) from None
    try:
        found: Mapping[str, Any] = msgspec.json.decode(said)
    except msgspec.MsgspecError:
        raise Failed(_last(trouble) or word("teach.broken")) from None
    return found


def _last(trouble: bytes) -> str:
    lines = trouble.decode("utf-8", "replace").strip().splitlines()
    return lines[-1].removeprefix("tenths: ")[:500] if lines else ""


class LessonChild:
    """A gauge that is being taught: the child, and the newest of each picture that it gave."""

    def __init__(self, words: Sequence[str]) -> None:
        """Begins; *words* are those of ``tenths teach``."""
        self.name = secrets.token_urlsafe(12)
        """Who knows it teaches; no other page steers this lesson."""
        self.asked_at = time.monotonic()
        """When its browser last asked."""
        self._here = 0.0
        self._bell = threading.Condition()
        self._version = 0
        self._pictures: dict[str, tuple[int, Mapping[str, Any]]] = {}
        self._process = subprocess.Popen(
            [*TENTHS, "teach", *words, "--json"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        self._reader = threading.Thread(target=self._read, name="lesson", daemon=True)
        self._reader.start()

    @property
    def ended(self) -> bool:
        """Whether the child is gone."""
        return "ended" in self._pictures

    def newest(self, kind: str) -> Mapping[str, Any]:
        """The newest picture of that kind, empty before the first."""
        return self._pictures.get(kind, (0, {}))[1]

    def news(self, since: int, stopping: Callable[[], bool]) -> tuple[int, dict[str, Mapping[str, Any]]]:
        """The pictures newer than number *since*, by kind; waits a little where there are none."""
        self.asked_at = time.monotonic()
        if self.asked_at - self._here > HERE:
            self._here = self.asked_at
            self.say(b'{"do":"here"}')
        end = self.asked_at + WAIT
        with self._bell:
            while self._version <= since and not stopping() and (left := end - time.monotonic()) > 0:
                self._bell.wait(min(left, WATCH))
            newer = {kind: one for kind, (at, one) in self._pictures.items() if at > since}
            return self._version, newer

    def say(self, wish: bytes) -> None:
        """Gives the child a line."""
        stdin = self._process.stdin
        try:
            if stdin is not None:
                stdin.write(wish + b"\n")
                stdin.flush()
        except (OSError, ValueError):
            return  # it has ended, and its last picture says why

    def end(self) -> None:
        """Ends the child."""
        if self._process.stdin is not None:
            with suppress(OSError):  # it may have gone with a line still on its way
                self._process.stdin.close()  # what it takes as a sign to go
        try:
            self._process.wait(2.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._reader.join()

    def _read(self) -> None:
        """In a thread: what the child says, until it has gone."""
        stdout, stderr = self._process.stdout, self._process.stderr
        if stdout is None or stderr is None:
            return
        with stdout, stderr:
            for line in stdout:
                with suppress(msgspec.MsgspecError):  # what a library prints is no picture
                    self._publish(msgspec.json.decode(line, type=dict[str, Any]))
            trouble = _last(stderr.read())
        self._process.wait()
        if not self.ended:
            self._publish({"kind": "ended", "why": trouble or word("teach.broken")})

    def _publish(self, picture: Mapping[str, Any]) -> None:
        with self._bell:
            self._version += 1
            self._pictures[str(picture.get("kind"))] = (self._version, picture)
            self._bell.notify_all()
