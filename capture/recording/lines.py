"""The lines of a recording as they stand in it, byte for byte, checked by their chain and followed.

For whoever passes a recording on: what is given out was read as an event, fits the chain, and is on disk.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from msgspec import Struct

from capture.events import Event, Other
from capture.host.disk import open_regular
from capture.recording.codec import LONGEST, first_chain, next_chain, split_chain
from capture.recording.reader import Damage, follow, unreadable

HEADER: Final = -1
"""The number of the header's line, before that of the first event."""
_EVERY: Final = 1000
"""Lines between two whose place in the file is remembered."""


class RecordedLine(Struct, frozen=True, gc=False):
    """One line of a recording, without its line end."""

    seq: int
    """Of its event; `HEADER` for the first line."""
    kind: str
    """Of its fact; ``header`` for the first line."""
    data: bytes
    chain: str
    """The chain after this line, whether it carries one or not."""
    wall: int
    """Nanoseconds since 1970 at which it was recorded; 0 for the header."""


class BrokenChain(ValueError):
    """A line that does not follow the lines before it: what came, and what was due."""


class ChainCheck:
    """The chain of a recording, line by line."""

    def __init__(self, header: bytes, *, chain: str = "", chained: bool = False) -> None:
        self.chain = chain or first_chain(header)
        self.chained = chained
        """Whether a line before carried its chain: then all must from there on."""

    def step(self, seq: int, line: bytes) -> str:
        """The chain after *line*.

        Raises:
            BrokenChain: It carries another, or none where one was due.
        """
        body, chain = split_chain(line)
        due = next_chain(self.chain, body)
        if chain is None and self.chained:
            raise BrokenChain(f"event {seq}: no chain came, but the lines before have one")
        if chain not in {due, None}:
            raise BrokenChain(f"event {seq}: chain {chain} came, but {due} was due")
        self.chained = self.chained or chain is not None
        self.chain = due
        return due


def kind_of(event: Event) -> str:
    """The kind of an event's fact, as it stands in the recording."""
    fact = event.fact
    return fact.name if isinstance(fact, Other) else str(fact.__struct_config__.tag)


class LineFollower:
    """Reads on in a recording as it grows, line by line."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.damage: Damage | None = None
        """What stopped the reading, if anything did."""
        self.turn = 0
        """Goes up when the file was replaced or cut short and is read again from its start."""
        self._follower = follow(path)
        self._begin()

    def _begin(self) -> None:
        self.header: RecordedLine | None = None
        self.due = HEADER
        """The number of the line that comes next."""
        self.last: RecordedLine | None = None
        self._check = ChainCheck(b"")
        self._rest = b""
        self._offset = 0
        self._places: list[int] = []

    def poll(self) -> list[RecordedLine]:
        """The lines that came since the last call; none of a file that is not there (yet).

        Raises:
            BadRecording: The file is not a recording, or cannot be read.
        """
        data = self._follower.poll_bytes()
        if self._follower.turn != self.turn:
            self.turn, self.damage = self._follower.turn, None
            self._begin()
        if not data or self.damage is not None:
            return []
        events = iter(self._follower.parse(data))
        whole, end, rest = (self._rest + data).rpartition(b"\n")
        self._rest = rest
        found: list[RecordedLine] = []
        for line in whole.split(b"\n") if end else ():
            taken = self._take(line, events)
            if taken is None:
                break
            found.append(taken)
        if self.damage is None:
            self.damage = self._follower.damage
        return found

    def _take(self, line: bytes, events: Iterator[Event]) -> RecordedLine | None:
        """The line that comes next; None where the recording is damaged there."""
        if self.header is None:
            self._check = ChainCheck(line)
            taken = RecordedLine(HEADER, "header", line, self._check.chain, 0)
            self.header = taken
        else:
            event = next(events, None)
            if event is None:
                return None
            try:
                chain = self._check.step(event.seq, line)
            except BrokenChain as error:
                why = f"{error}: this line or what stood before it was changed"
                self.damage = Damage(str(self.path), self.due + 2, self._offset, "chain", why)
                return None
            taken = RecordedLine(event.seq, kind_of(event), line, chain, event.at.wall)
        if (self.due - HEADER) % _EVERY == 0:
            self._places.append(self._offset)
        self.due += 1
        self.last = taken
        self._offset += len(line) + 1
        return taken

    @property
    def size(self) -> int:
        """Bytes in the lines that were given out."""
        return self._offset

    def between(self, first: int, end: int) -> Iterator[bytes]:
        """The lines from number *first* to before *end*, of those that were given out; `HEADER` is the first.

        Raises:
            BadRecording: The file cannot be read.
        """
        first, end = max(first, HEADER), min(end, self.due)
        if first >= end:
            return
        number = (first - HEADER) // _EVERY
        try:
            with os.fdopen(open_regular(self.path), "rb") as file:
                file.seek(self._places[number])
                for seq in range(number * _EVERY + HEADER, end):
                    line = file.readline(LONGEST + 1).removesuffix(b"\n")
                    if seq >= first:
                        yield line
        except OSError as error:
            raise unreadable(self.path, error) from None

    def close(self) -> None:
        """Lets go of the file."""
        self._follower.close()
