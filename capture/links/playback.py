"""A played instrument: bytes from a script, with its pauses and its faults."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Iterator, Sequence
from contextlib import asynccontextmanager
from typing import TypeAlias

from msgspec import Struct

from capture.links.link import Link, Open


class AwaitQuestion(Struct, frozen=True):
    """A step of a script: wait until exactly these bytes have been sent to the instrument."""

    data: bytes


Step: TypeAlias = bytes | float | OSError | AwaitQuestion
"""Bytes are received; a number is a pause in seconds (`math.inf` holds the link open); an OSError happens."""


def playback(*scripts: Sequence[Step], detail: str = "played instrument", speed: float = 1.0) -> Open:
    """How to open an instrument that plays its first script at the first opening, and so on.

    A script that begins with an OSError can't be opened; one that comes to its end closes the link,
    as the instrument would; when all have been played there is nothing left to open. *speed* shortens
    the pauses.
    """
    left = iter(scripts)

    @asynccontextmanager
    async def connect() -> AsyncIterator[Link]:
        script = next(left, (OSError(f"{detail}: the script has come to its end"),))
        if script and isinstance(script[0], OSError):
            raise script[0]
        yield _Player(detail, iter(script), speed)

    return connect


class _Player:
    def __init__(self, detail: str, steps: Iterator[Step], speed: float) -> None:
        self.detail = detail
        self._steps = steps
        self._speed = speed
        self._sent = b""
        self._more = asyncio.Event()

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        for step in self._steps:
            match step:
                case bytes():
                    yield step, time.monotonic_ns()
                case OSError():
                    raise step
                case AwaitQuestion(data):
                    await self._until_asked(data)
                case pause:
                    await asyncio.sleep(pause / self._speed)

    async def send(self, data: bytes) -> None:
        self._sent += data
        self._more.set()

    async def _until_asked(self, due: bytes) -> None:
        while len(self._sent) < len(due) and due.startswith(self._sent):
            self._more.clear()
            await self._more.wait()
        if not self._sent.startswith(due):
            raise OSError(f"{self.detail}: {self._sent!r} was sent, {due!r} was due")
        self._sent = self._sent[len(due) :]
