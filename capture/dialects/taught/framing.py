"""Frames: where one message of a gauge ends and the next begins, by a line end, a length or a silence."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from operator import itemgetter
from typing import Final, TypeAlias

from msgspec import Struct

from capture.dialects.dialect import Cut

Chunk: TypeAlias = tuple[float, bytes]
"""Seconds at which bytes were received, and the bytes."""

LONGEST = 256
"""No gauge known to us says more at a time."""


class DelimitedFrame(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="line"
):
    """A message that ends in certain bytes."""

    end: str
    """The bytes that end it, one a character."""
    more: int = 0
    """Bytes behind the end that still belong to the message (a check behind an end of text)."""
    doubt_first: bool = False
    """The first message after opening is read only if the next says nearly the same: nothing in it tells
    whether its head was cut off."""
    prompt: str = ""
    """What the gauge sends behind a message to show that it is ready: it comes before the next message and is
    none of it."""

    def cut(self, data: bytes) -> int:
        """Length of the first whole message, or 0."""
        end = self.end.encode("latin-1")
        at = data.find(end)
        size = at + len(end) + self.more
        return size if at >= 0 and size <= len(data) else 0

    def body(self, piece: bytes) -> bytes:
        """What a message says: without its end, if the end is last, and without the rest of one before it."""
        end = self.end.encode("latin-1")
        piece = piece.removeprefix(self.prompt.encode("latin-1"))
        if self.more or not piece.endswith(end):
            return piece
        body = piece[: -len(end)]
        return body[1:] if len(end) == 2 and body.startswith(end[1:]) else body


class Fixed(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="fixed"
):
    """A message of so many bytes, found by the bytes in it that never change and by its check."""

    length: int
    twice: bool = False
    """A message is believed once the next begins right behind it, or a silence follows: of one that has lost
    a byte on the way, the first of the next would be read as its last."""
    gap: float | None = None
    """Seconds of silence that end a message for certain, where the gauge pauses between messages."""


class Gap(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="gap"):
    """A message that ends when the gauge falls silent."""

    gap: float
    """Seconds of silence that end a message."""


class StuffedFrame(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="stuffed"
):
    """A message that ends in one byte, which is written as two wherever it stands inside (RFC 1055, 1662).

    Some send the end before a message too; between two ends nothing is said.
    """

    end: int = 0xC0
    escape: int = 0xDB
    escaped_end: int = 0xDC
    """Behind an escape: the end as a part of the message."""
    escaped_escape: int = 0xDD
    flip: int = 0
    """Where not 0: any byte behind an escape has these bits changed, in place of the two above (RFC 1662)."""

    def cut(self, data: bytes) -> int:
        """Length of the first whole message with its end, or 0."""
        return data.find(self.end) + 1

    def body(self, piece: bytes) -> bytes:
        """What a message says, without its end and with its own bytes; empty where an escape is not whole."""
        inside = piece.removesuffix(bytes([self.end]))
        parts = inside.split(bytes([self.escape]))
        if self.flip:
            behind = parts[1:]
            if not all(behind):
                return b""
            return parts[0] + b"".join(bytes([part[0] ^ self.flip]) + part[1:] for part in behind)
        meant = {self.escaped_end: self.end, self.escaped_escape: self.escape}
        if any(part[:1] == b"" or part[0] not in meant for part in parts[1:]):
            return b""
        return parts[0] + b"".join(bytes([meant[part[0]]]) + part[1:] for part in parts[1:])


class DoubledFrame(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="doubled"
):
    """A message between two marks, an escape with a byte behind it each, inside which an escape stands twice.

    As DLE STX and DLE ETX part messages of any bytes (ISO 2111).
    """

    escape: int = 0x10
    begin: int = 0x02
    end: int = 0x03
    more: int = 0
    """Bytes behind the second mark that still belong to the message (a check)."""

    def cut(self, data: bytes) -> int:
        """Length of the first whole message with its marks, or 0."""
        for at, mark in self._marks(data):
            if mark == self.end:
                size = at + 2 + self.more
                return size if size <= len(data) else 0
        return 0

    def body(self, piece: bytes) -> bytes:
        """What a message says, with its own bytes; empty where a mark is missing or an escape is alone."""
        inside: list[bytes] | None = None
        since = 0
        for at, mark in self._marks(piece):
            if mark == self.begin:
                inside = []
            elif inside is None:
                if mark == self.end:
                    return b""
            elif mark == self.end:
                return b"".join([*inside, piece[since:at], piece[at + 2 :]])
            elif mark == self.escape:
                inside.append(piece[since : at + 1])
            else:
                return b""
            since = at + 2
        return b""

    def _marks(self, data: bytes) -> Iterator[tuple[int, int]]:
        """Where an escape stands in *data*, and the byte behind it."""
        at = data.find(self.escape)
        while 0 <= at < len(data) - 1:
            yield at, data[at + 1]
            at = data.find(self.escape, at + 2)


Frame: TypeAlias = DelimitedFrame | StuffedFrame | DoubledFrame | Fixed | Gap

MARKED: Final = (DelimitedFrame, StuffedFrame, DoubledFrame)
"""Frames whose end is written in the message itself."""


def fixed_cut(
    frame: Fixed, whole: Callable[[bytes], bool], begins: Callable[[bytes], bool], following: int
) -> Cut:
    """How to cut messages of a fixed length out of a stream, finding the beat again after a loss.

    *whole* tells whether so many bytes can be a message, *begins* whether fewer can be the head of
    one, and of *following* messages the head must stand in its place. What cannot be a message is cut
    off up to where one might begin; how much hangs only on the bytes of one length, so that more bytes
    behind never change it.
    """
    length = frame.length

    def cut(data: bytes) -> int:
        if len(data) < length * (1 + following):
            return 0
        places = range(length, length * (1 + following), length)
        sound = whole(data[:length])
        if sound and all(begins(data[at : at + length]) for at in places):
            return length
        heads = (at for at in range(1, length) if begins(data[at:length]))
        # What could be read but is not believed must not be cut off in the length of a message.
        return next(heads, length - 1 if sound else length)

    return cut


def fixed_settled(
    frame: Fixed, whole: Callable[[bytes], bool], begins: Callable[[bytes], bool], *, checked: bool
) -> Cut:
    """Length of the first message where nothing came behind the last, or of what is none before it.

    0 where no whole messages stand there up to the end, or, of *checked* ones, up to one that has only begun.
    """
    length = frame.length

    def settled(data: bytes) -> int:
        for first in range(len(data) % length, len(data), length):
            later = range(first + length, len(data), length)
            if whole(data[first : first + length]) and all(begins(data[at : at + length]) for at in later):
                return first or length
        begun = checked and length < len(data) < 2 * length and begins(data[length:])
        return length if begun and whole(data[:length]) else 0

    return settled


def lately(chunks: Sequence[Chunk], newest: Chunk, seconds: float, most: int) -> tuple[Chunk, ...]:
    """What came in the last *seconds* with *newest* behind it: whole chunks, *most* bytes in all.

    >>> lately(((0.0, b"a"), (1.0, b"bc"), (2.0, b"de")), (2.5, b"fgh"), 2.0, 6)
    ((2.0, b'de'), (2.5, b'fgh'))
    """
    first = bisect_left(chunks, newest[0] - seconds, key=itemgetter(0))
    over = sum([len(data) for _, data in chunks[first:]]) + len(newest[1]) - most
    while over > 0 and first < len(chunks):
        over -= len(chunks[first][1])
        first += 1
    return (*chunks[first:], (newest[0], newest[1][-most:]))


def bursts(chunks: Sequence[Chunk], gap: float) -> list[bytes]:
    """The bytes between silences longer than *gap* seconds."""
    found: list[bytes] = []
    last = None
    for at, data in chunks:
        if last is None or at - last > gap:
            found.append(b"")
        found[-1] += data
        last = at
    return [burst for burst in found if burst]


def pieces(cut: Cut, data: bytes) -> list[bytes]:
    """The whole pieces of *data*, the unfinished rest left out."""
    found = []
    while data and (size := cut(data)):
        found.append(data[:size])
        data = data[size:]
    return found
