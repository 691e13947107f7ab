"""What is missing, and when it is asked for: not while it may still be on its way, and seldomer each time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Generic, TypeVar

from msgspec import Struct

from capture.shop.messages.topics import Resend

LONGEST: Final = 60.0
"""Seconds at most between two requests for the same lines."""

Key = tuple[str, str]
"""Machine and recording."""
Named = TypeVar("Named")
"""What a gap is known by."""


class _Gap(Struct):
    first: int
    end: int
    due: float
    wait: float


class Gaps(Generic[Named]):
    """The gaps there are, by what they are of; asked for when none of it has come for *patience* seconds."""

    def __init__(self, patience: float) -> None:
        self._patience = patience
        self._gaps: dict[Named, _Gap] = {}

    def note(self, key: Named, first: int, end: int, now: float) -> None:
        """Lines from *first* to before *end* are missing; none are where *end* is not after *first*."""
        if first >= end:
            self._gaps.pop(key, None)
            return
        gap = self._gaps.get(key)
        if gap is None or gap.first != first:  # something of it came: wait whether the rest does
            self._gaps[key] = _Gap(first, end, now + self._patience, self._patience)
        else:
            gap.end = end

    def end_of(self, key: Named) -> int:
        """Where a gap ends; 0 where none is known."""
        gap = self._gaps.get(key)
        return 0 if gap is None else gap.end

    def due(self, now: float) -> Iterator[tuple[Named, Resend]]:
        """The requests to be made now."""
        for key, gap in self._gaps.items():
            if now >= gap.due:
                gap.wait = min(gap.wait * 2.0, LONGEST)
                gap.due = now + gap.wait
                yield key, Resend(gap.first, gap.end)
