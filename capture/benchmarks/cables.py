"""Cables: pseudo-terminals at whose far ends simulated gauges speak, so that real ports are opened."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from msgspec import Struct

from capture.benchmarks.rows import NoFigure


class NoCables(NoFigure):
    """This system has no pseudo-terminals."""


class Cable(Struct, frozen=True):
    """One cable."""

    far: int
    """The gauge's end, to be written to."""
    port: str
    """The device that a program opens."""

    def send(self, number: int) -> int:
        """The gauge sends reading *number*; the `time.monotonic_ns` just before it did."""
        stamp = time.monotonic_ns()
        os.write(self.far, b"%+09.3f\r\n" % (number / 1000))
        return stamp


@contextmanager
def cables(count: int) -> Iterator[list[Cable]]:
    """So many cables, plugged in while the context is open.

    Raises:
        NoCables: There are none on this system.
    """
    if sys.platform == "win32":
        raise NoCables("this figure needs pseudo-terminals, which Windows does not have")
    import pty  # noqa: PLC0415 - POSIX only
    import tty  # noqa: PLC0415

    ends: list[int] = []
    laid: list[Cable] = []
    try:
        for _ in range(count):
            far, near = pty.openpty()
            ends += [far, near]
            tty.setraw(near)
            laid.append(Cable(far, os.ttyname(near)))
        yield laid
    finally:
        for end in ends:
            os.close(end)


def speak(laid: list[Cable], *, rate: float, count: int) -> dict[int, int]:
    """Every gauge sends *count* readings, *rate* a second; when each was sent, by its number.

    Reading *n* of cable *c* has the number ``n * len(laid) + c``. The gauges speak one after
    another within each period, as gauges that know nothing of each other do.
    """
    sent: dict[int, int] = {}
    gap = 1.0 / rate / len(laid)
    begun = time.monotonic()
    for number in range(count * len(laid)):
        wait = begun + number * gap - time.monotonic()
        if wait > 0:
            time.sleep(wait)
        sent[number] = laid[number % len(laid)].send(number)
    return sent
