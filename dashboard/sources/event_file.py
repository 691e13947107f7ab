"""Gives the events of a recording by number, a few pieces of the file decoded at a time."""

from __future__ import annotations

import os
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final, overload

from cachetools import LRUCache
from msgspec import Struct

from capture.events import Event
from capture.host.disk import open_regular
from capture.recording.codec import decode_events
from capture.recording.reader import BadRecording, Damage, Parser

PIECE: Final = 1 << 20
"""Bytes that are decoded at a time: some thousands of events, in some milliseconds."""
KEPT: Final = 4
"""Pieces that are kept decoded."""


class Piece(Struct, frozen=True):
    """Lines of the file that follow each other."""

    first: int
    """Number of the first event."""
    offset: int
    size: int


class EventFile(Sequence[Event]):
    """Events of a file that may only grow; memory is bounded however long it is."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.damage: Damage | None = None
        self._pieces: list[Piece] = []
        self._decoded: LRUCache[int, list[Event]] = LRUCache(KEPT)
        self._count = 0

    def load(self) -> Iterator[list[Event]]:
        """Reads the file once, and gives its events as it goes.

        Raises:
            BadRecording: It cannot be read, or is no recording.
        """
        parser = Parser(self.path)
        try:
            with os.fdopen(open_regular(self.path), "rb", buffering=0) as file:
                while parser.damage is None and (data := file.read(PIECE)):
                    before, first = parser.offset, self._count
                    events = parser.feed(data)
                    if not events:
                        continue
                    size = parser.offset - before
                    self._pieces.append(Piece(first, before, size))
                    self._count += len(events)
                    yield events
        except OSError as error:
            raise BadRecording(f"{self.path}: cannot be read: {error.strerror or error}") from None
        parser.finish()
        self.damage = parser.damage

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, index: int) -> Event: ...
    @overload
    def __getitem__(self, index: slice) -> list[Event]: ...
    def __getitem__(self, index: int | slice) -> Event | list[Event]:
        if isinstance(index, slice):
            return [self[one] for one in range(*index.indices(self._count))]
        if not -self._count <= index < self._count:
            raise IndexError(f"event {index} of {self._count}")
        index %= self._count
        number = bisect_right(self._pieces, index, key=lambda piece: piece.first) - 1
        return self._piece(number)[index - self._pieces[number].first]

    def _piece(self, number: int) -> list[Event]:
        if number not in self._decoded:
            self._decoded[number] = self._read(number)
        return self._decoded[number]

    def _read(self, number: int) -> list[Event]:
        piece = self._pieces[number]
        end = self._pieces[number + 1].first if number + 1 < len(self._pieces) else self._count
        count = end - piece.first
        try:
            with os.fdopen(open_regular(self.path), "rb", buffering=0) as file:
                file.seek(piece.offset)
                lines = file.read(piece.size)
        except OSError as error:
            raise BadRecording(f"{self.path}: cannot be read: {error.strerror or error}") from None
        if piece.offset == 0:
            lines = lines.partition(b"\n")[2]
        # A piece that ends in damage holds its good lines first.
        good = b"\n".join(lines.split(b"\n", count)[:count]) + b"\n"
        events = decode_events(good, count)
        if events is None or len(events) != count or events[0].seq != piece.first:
            raise BadRecording(f"{self.path}: changed since it was opened; open it again")
        return events
