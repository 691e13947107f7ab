"""Finds messages of any bytes between marks that stand nowhere inside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, TypeAlias

from capture.dialects.taught.framing import DoubledFrame, StuffedFrame, pieces

Stuffed: TypeAlias = DoubledFrame | StuffedFrame

FRAMES: Final[tuple[Stuffed, ...]] = (
    *(DoubledFrame(more=more) for more in range(3)),
    StuffedFrame(),
    StuffedFrame(end=0x7E, escape=0x7D, flip=0x20),
)
"""As ISO 2111, RFC 1055 and RFC 1662 write a message of any bytes."""
SHORTEST, SHORTEST_MARKED = 3, 2
"""Bytes of a message, at the least; marks of two bytes, or a mark on both sides, are no chance."""


def stuffed(
    captures: Sequence[bytes],
) -> Iterator[tuple[Stuffed, tuple[tuple[bytes, ...], ...]]]:
    """Frames in which all messages of *captures* are of one length once they have their own bytes back."""
    for frame in FRAMES:
        if not all(_may_be_in(data, frame) for data in captures) or not _shown(captures, frame):
            continue
        found = [[frame.body(piece) for piece in pieces(frame.cut, data)] for data in captures]
        bodies = [[body for body in some if body] for some in found]
        length = max((len(body) for some in bodies for body in some), default=0)
        # The first may lack its head.
        cut = [some[len(some[0]) < length :] if some else some for some in bodies]
        even = {len(body) for some in cut for body in some} == {length}
        shortest = SHORTEST if frame == StuffedFrame() else SHORTEST_MARKED
        if length >= shortest and all(cut) and even:
            yield frame, tuple(map(tuple, cut))


def _may_be_in(data: bytes, frame: Stuffed) -> bool:
    """Whether *data* has all marks, and of one message nothing else behind the last."""
    if isinstance(frame, StuffedFrame):
        return True
    begin, end = (bytes([frame.escape, byte]) for byte in (frame.begin, frame.end))
    behind = len(data) - data.rfind(end) - len(end)
    return begin in data and end in data and (behind == frame.more or data.count(begin) > 1)


def _shown(captures: Sequence[bytes], frame: Stuffed) -> bool:
    """Whether something shows that a capture is stuffed, and its mark is no head that it always has."""
    if isinstance(frame, DoubledFrame) or not frame.flip:
        return True
    end = bytes([frame.end])
    return any(frame.escape in data or 2 * end in data or (data[:1] == data[-1:] == end) for data in captures)
