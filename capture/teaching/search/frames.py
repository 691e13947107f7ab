"""Finds frames in captures: by line ends, by silences, or by the beat of a stream."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from operator import eq

from msgspec import Struct

from capture.dialects.taught.framing import (
    LONGEST,
    Chunk,
    DelimitedFrame,
    Frame,
    Gap,
    bursts,
    pieces,
)
from capture.teaching.search.stuffing import stuffed

ENDS = (b"\r\n", b"\n\r", b"\r", b"\n", b"\x03", b"\x04", b"\x00", b";")
"""Line ends to try; what else all captures end in is tried behind them."""
TEXT = bytes([1, 2, 3, 4, 9, 12, 27, *range(32, 127)])
"""What a line has in it: what can be printed, what begins and ends a text, and the escape and form
feed of a terminal (ECMA-48)."""
NO_TEXT = bytes(byte for byte in range(256) if byte not in TEXT)
LEAST_LINES = 3
"""Times that an end stands before the same head in a stream that stops in the middle of a line."""
LONGEST_PROMPT = 8
"""Characters of a prompt, at most (our own choice)."""
MOST_MORE = 2
"""Bytes of a check that may stand behind an end of text."""
LEAST_JUMP = 2.5
"""A pause between frames is so many times one inside a frame, or it tells nothing."""
SHORTEST_PAUSE = 0.001
LONGEST_GAP = 0.25
"""Seconds; what comes after so long a silence is another message."""
USUAL_GAP = 0.03
"""Seconds; bytes of one frame follow each other faster on every slow line that is still in use."""
SHORTEST_BEAT, LONGEST_BEAT = 3, 40
LEAST_BEATS = 2.5
"""A stream repeats itself at least so often in a capture."""
ENOUGH = 640
"""Bytes of a stream that show its beat: sixteen of its longest messages."""
LEAST_REPEATS = 4
REPEATED = 800
"""Of a thousand bytes of a burst of LEAST_REPEATS messages, so many are the same one message later."""
LEAST_ALIGNED = 3
"""Captures that begin with a message, from which it is no chance that they do (our own choice)."""
MANY = (2, 3, 4)
"""Messages that one press may send, not all of them the same to the last digit."""
LEAST_STEADY = 2
"""Bytes of them that never change."""
LEAST_LIKENESS = 500
"""Of a thousand bytes of a stream, so many are the same one frame later while the gauge stands still."""


class FrameCut(Struct, frozen=True):
    """One way to cut the captures, and what it gives."""

    frame: Frame | None
    """None for a stream of frames of one length without a line end or a silence."""
    pieces: tuple[tuple[bytes, ...], ...]
    """The pieces of each example, without their line ends."""
    sure: bool = True
    """Whether a frame surely begins where its piece begins."""
    headed: bool = True
    """Whether all pieces begin with the same byte, and that is not zero."""

    @property
    def printable(self) -> bool:
        """Whether all pieces are text, so that no line end can stand inside by chance."""
        return not any(p.strip(TEXT) for each in self.pieces for p in each)


Captures = Sequence[Sequence[Chunk]]
Pieces = tuple[tuple[bytes, ...], ...]
"""The pieces of each capture."""


def ways(captures: Captures) -> Iterator[FrameCut]:
    """All ways that give at least one piece for each example, the surest first."""
    lines = list(_lines(captures))
    text = [way for way in lines if way.printable]
    yield from text
    if not text:
        yield from (FrameCut(frame, cut) for frame, cut in stuffed(_joined(captures)))
    yield from _silences(captures)
    if not text:
        yield from _beats(captures)
    for way in lines:
        if not (way.printable or way.frame == DelimitedFrame("\0") or _even_stream(way)):
            yield way


def _even_stream(way: FrameCut) -> bool:
    """Whether all pieces of a stream have one length, so that its end may be any byte that never changed."""
    inner = [some[1:] for some in way.pieces]
    return all(len(some) >= LEAST_REPEATS for some in inner) and len({len(p) for s in inner for p in s}) == 1


def _joined(captures: Captures) -> list[bytes]:
    return [b"".join(data for _, data in chunks) for chunks in captures]


def _lines(captures: Captures) -> Iterator[FrameCut]:
    whole = _joined(captures)
    last = {data[-1:] for data in whole}
    others = [byte for byte in last if len(last) == 1 and not byte.isalnum() and byte not in ENDS]
    for end in (*ENDS, *others):
        if end.strip(b"\r\n") and 2 * sum(_ends(data, end) for data in whole) < len(whole):
            continue
        text_only = end.strip(b"\r\n") and 2 * sum(data.endswith(end) for data in whole) < len(whole)
        for more in range(MOST_MORE + 1):
            if more and end not in (b"\x03", b"\x04", b"\r", b"\n"):
                break
            if more and not all(data[-len(end) - more :].startswith(end) for data in whole):
                continue
            prompt = "" if more else _prompt(whole, end)
            if prompt is None:
                continue
            line = DelimitedFrame(end.decode("latin-1"), more, prompt=prompt)
            cut = tuple(
                tuple(body for piece in pieces(line.cut, data) if (body := line.body(piece)).strip(b"\r\n"))
                for data in whole
            )
            way = FrameCut(line, _headed(cut))
            if all(cut) and (way.printable or not text_only or more):
                yield way


def _prompt(whole: Sequence[bytes], end: bytes) -> str | None:
    """What all captures have behind their last line end, if a word; None where it has a digit or a sign.

    It stands before the next message, whose number a digit or a sign of it would change.
    """
    rests = {data.rpartition(end)[2] for data in whole}
    rest = rests.pop() if len(rests) == 1 and len(whole) > 1 else b""
    if re.search(rb"[0-9+.,-]", rest):
        return None
    return "" if len(rest) > LONGEST_PROMPT or rest.strip(TEXT) else rest.decode("latin-1")


def _headed(cut: Pieces) -> Pieces:
    """Lines of text without the bytes before them that are none; *cut* itself where not all are text then."""
    bare = tuple(tuple(piece.lstrip(NO_TEXT) for piece in some) for some in cut)
    text = all(piece and not piece.strip(TEXT) for some in bare for piece in some)
    return bare if text else cut


def _ends(data: bytes, end: bytes) -> bool:
    """Whether a capture stops at a line end, but for a check, or has it before every head but the first.

    Elsewhere inside a frame the byte would mean nothing.
    """
    if end in data[-len(end) - MOST_MORE :]:
        return True
    behind = {after[:1] for after in data.split(end)[1:]}
    return data.count(end) >= LEAST_LINES and len(behind) == 1


def _silences(captures: Captures) -> Iterator[FrameCut]:
    for gap in _gaps(captures):
        cut = _split(tuple(tuple(bursts(chunks, gap)) for chunks in captures))
        even = len({len(burst) for some in cut for burst in some[1:-1] or some}) == 1
        if max((len(burst) for some in cut for burst in some), default=0) > LONGEST:
            continue
        if all(cut) and (gap >= USUAL_GAP / 2 or even) and not all(any(map(_beating, some)) for some in cut):
            once = _once(cut) or _several(cut)
            if once:
                yield FrameCut(None, once)
            yield FrameCut(Gap(gap), _without_noise(cut))


def _beating(burst: bytes) -> bool:
    """Whether a burst says nearly the same again and again: several messages that no silence parts."""
    for length in range(SHORTEST_BEAT, len(burst) // LEAST_REPEATS + 1):
        later = burst[length:]
        same = sum(map(eq, burst, later))
        if 1000 * same >= REPEATED * len(later) and len(set(burst[-length:])) > 1:
            return True
    return False


def _split(cut: Pieces) -> Pieces:
    """*cut* with bursts parted that are as long as several of the usual: they came late, all at once."""
    lengths = Counter(len(burst) for some in cut for burst in some)
    usual, often = next(iter(lengths.most_common(1)), (0, 0))
    if usual < SHORTEST_BEAT or 2 * often < lengths.total():
        return cut
    return tuple(
        tuple(
            piece
            for burst in some
            for piece in (_rows(burst, usual, 0) if len(burst) % usual == 0 else [burst])
        )
        for some in cut
    )


def _once(cut: Pieces) -> Pieces | None:
    """The frames of bursts that each say one frame several times; None where one burst does not."""
    every = [burst for some in cut for burst in some]
    for length in range(SHORTEST_BEAT, min(LONGEST_BEAT, max(map(len, every)) // 2) + 1):
        if all(len(burst) >= 2 * length and _repeats(burst, length) for burst in every):
            return tuple(tuple(burst[:length] for burst in some) for some in cut)
    return None


def _several(cut: Pieces) -> Pieces | None:
    """The frames of bursts that each say so many frames that are nearly the same; None where they do not."""
    lengths = {len(burst) for some in cut for burst in some}
    for number in MANY if len(lengths) == 1 else ():
        length, rest = divmod(min(lengths), number)
        if rest or length < SHORTEST_BEAT:
            continue
        rows = tuple(tuple(row for burst in some for row in _rows(burst, length, 0)) for some in cut)
        steady = [at for at in range(length) if len({row[at] for some in rows for row in some}) == 1]
        alike = [sum(map(eq, some[0], row)) for some in rows for row in some[1:]]
        if len(steady) >= LEAST_STEADY and 1000 * sum(alike) >= LEAST_LIKENESS * length * len(alike):
            return rows
    return None


def _repeats(burst: bytes, length: int) -> bool:
    return len(burst) % length == 0 and burst == burst[:length] * (len(burst) // length)


def _without_noise(cut: Pieces) -> Pieces:
    """*cut* without a byte or two before some frames, as a cable gives that is plugged in."""
    lengths = Counter(len(burst) for some in cut for burst in some)
    (usual, often), *_ = lengths.most_common(1)
    if 2 * often < lengths.total() or not lengths.keys() <= {usual, usual + 1, usual + 2}:
        return cut
    return tuple(tuple(burst[-usual:] for burst in some) for some in cut)


def _gaps(captures: Captures) -> list[float]:
    """Silences that may part frames but not the bytes of one: inside the widest jumps of all pauses."""
    pauses = sorted({round(b - a, 6) for chunks in captures for (a, _), (b, _) in pairwise(chunks)})
    jumps = sorted(((high / max(low, SHORTEST_PAUSE), low, high) for low, high in pairwise([0.0, *pauses])))
    found = [
        round(min(max(math.sqrt(max(low, SHORTEST_PAUSE) * high), min(USUAL_GAP, high / 2)), 0.8 * high), 4)
        for factor, low, high in reversed(jumps)
        if factor >= LEAST_JUMP and high > 2 * SHORTEST_PAUSE
    ]
    together = round(min(max(USUAL_GAP, 3 * max(pauses, default=0.0)), LONGEST_GAP), 4)
    slow = [gap for gap in found if gap >= USUAL_GAP / 2]
    return [*slow, together, *(gap for gap in found if gap not in slow)][:3]


def _beats(captures: Captures) -> Iterator[FrameCut]:
    joined = _joined(captures)
    whole = [data[-ENOUGH:] for data in joined]
    shortest = min(map(len, whole), default=0)
    scores = Counter[int]()
    for length in range(SHORTEST_BEAT, min(LONGEST_BEAT, int(shortest / LEAST_BEATS)) + 1):
        same = sum(sum(map(eq, data, data[length:])) for data in whole)
        scores[length] = round(1000 * same / sum(len(data) - length for data in whole))
    best = max(scores.values(), default=0)
    if best < LEAST_LIKENESS:
        return
    likely = sorted(length for length, score in scores.items() if score >= 0.85 * best)
    # Two messages in a row repeat as one of twice the length does: the shorter explains both.
    single = [
        length for length in likely if not any(length % other == 0 for other in likely if other < length)
    ]
    for length in single[:2]:
        # What stands before a capture that was shortened is another part of the same message.
        streams = joined != whole or (len(whole) < LEAST_ALIGNED and len(whole[0]) >= LEAST_REPEATS * length)
        cuts = [_phased(whole, length, phase, streams=streams) for phase in range(length)]
        yield from sorted(cuts, key=lambda way: not way.sure)


def _phased(whole: Sequence[bytes], length: int, phase: int, *, streams: bool) -> FrameCut:
    """Frames that begin at *phase* in the first capture, and where they fit it best in the others.

    *streams*: that a capture begins with a message is chance.
    """
    rows = _rows(whole[0], length, phase)
    steady = {at: rows[0][at] for at in range(length) if len({row[at] for row in rows}) == 1}
    cut, aligned = [rows], int(phase == 0)
    for data in whole[1:]:
        kept = []
        for shift in range(min(length, len(data) - length + 1)):
            rows = _rows(data, length, shift)
            same = {at: byte for at, byte in steady.items() if all(row[at] == byte for row in rows)}
            likeness = sum(3 if byte else 1 for byte in same.values()) + (length * 3 if same.get(0) else 0)
            kept.append((likeness, -shift, same, rows))
        _, shift, steady, rows = max(kept, key=lambda each: each[:2])
        aligned += shift == 0
        cut.append(rows)
    cut_up = tuple(map(tuple, cut))
    return FrameCut(
        None, cut_up, sure=not streams and aligned * 5 >= len(whole) * 4, headed=bool(steady.get(0))
    )


def _rows(data: bytes, length: int, phase: int) -> list[bytes]:
    return [data[at : at + length] for at in range(phase, len(data) - length + 1, length)]
