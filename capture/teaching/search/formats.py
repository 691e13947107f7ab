"""Finds the format that explains all examples: each way to cut them, with sentences or records in it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import cached_property
from itertools import pairwise

from msgspec.structs import replace

from capture.dialects.taught.checks import FrameCheck
from capture.dialects.taught.formats import SURE, Format, decoded
from capture.dialects.taught.framing import (
    MARKED,
    Chunk,
    DelimitedFrame,
    DoubledFrame,
    Fixed,
    Frame,
    Gap,
    StuffedFrame,
    bursts,
)
from capture.dialects.taught.records import DisplayValue, Record
from capture.dialects.taught.sentences import Sentence
from capture.dialects.taught.values import Count
from capture.teaching.examples import Example
from capture.teaching.search.checks import find as find_check
from capture.teaching.search.frames import FrameCut, ways
from capture.teaching.search.matching import EXACT, LEEWAYS, MOST_COARSE, NEWEST, Leeway, Taught, evidence
from capture.teaching.search.phases import headed, most_natural, undivided
from capture.teaching.search.places import PlaceMatch, records
from capture.teaching.search.scales import proof as scale_proof
from capture.teaching.search.texts import counts_on_lines, sentences

OLDEST = 2
"""Pieces from its beginning that show what changed since, though the display did not."""
MOST_RIVALS = 3
"""Ways to understand the same examples that are kept until one is left."""
LEAST_EVIDENCE = {"text": 12.0, "places": 24.0}
"""Bits of information that a format needs from displays to be accepted: places fit by chance, text hardly."""
UNHURRIED = 0.5
"""Seconds between the presses of a button, at the least."""
MOST_ACROSS = 16
"""Different frames that are looked at in pairs: more tell nothing new."""
PATIENCE = 0.25
"""Seconds of silence after which the last frame of a stream is whole, if nothing else says so."""


def explain(examples: Sequence[Example], *, beyond_doubt: bool = False) -> Format | None:
    """The likeliest format that explains all *examples*; *beyond_doubt* leaves out unlikely cuts."""
    every = list(ways([each.chunks for each in examples])) if examples else []
    unsure = [_Checked(way) for way in every if not way.sure]
    sure = [_Checked(way) for way in every if way.sure]
    likely = [one for one in sure if one.way.printable or not isinstance(one.way.frame, DelimitedFrame)]
    for leeway in LEEWAYS[:1] if beyond_doubt else LEEWAYS:
        found = _first(likely, examples, leeway)
        if found is None and not beyond_doubt:
            found = _phased(unsure, examples, leeway)
        if found is None and not beyond_doubt and leeway == EXACT:
            # Among bytes that are no text the end of a line may be any byte: it is tried last.
            found = _first([one for one in sure if one not in likely], examples, leeway)
        if found:
            return found
    return None


class _Checked:
    """A way to cut, and the check of the frames that it gives, which is looked for once."""

    def __init__(self, way: FrameCut) -> None:
        self.way = way

    @cached_property
    def check(self) -> FrameCheck | None:
        return _check(self.way)


def _first(some: Sequence[_Checked], examples: Sequence[Example], leeway: Leeway) -> Format | None:
    """The likeliest format that explains *examples* cut in one of *some* ways, in their order."""
    return next(
        (
            each
            for one in some
            for each in _formats(one.way, examples, leeway, one.check)
            if _agrees_with_all(each, examples, leeway)
        ),
        None,
    )


def _phased(some: Sequence[_Checked], examples: Sequence[Example], leeway: Leeway) -> Format | None:
    """The format of a stream whose frames may begin at any of some places: a check or a head shows which."""
    for checked in (True, False):
        found = [
            (one.way, format_)
            for one in some
            if one.way.headed and (one.check is not None) == checked
            for format_ in [_first([one], examples, leeway)]
            if format_ and (format_.check if checked else headed(format_) and undivided(format_, one.way))
        ]
        if found:
            return most_natural(found)
    return None


def _agrees_with_all(format_: Format, examples: Sequence[Example], leeway: Leeway) -> bool:
    return all(_agrees(format_, each, leeway) for each in examples)


def _formats(
    way: FrameCut, examples: Sequence[Example], leeway: Leeway, found: FrameCheck | None
) -> Iterator[Format]:
    """Formats that fit *examples* cut in one way, the likeliest first."""
    taught = _taught(way, examples)
    proof = evidence(taught) if len({each.value for each in taught}) > 1 else 0.0
    if leeway.free:
        proof = scale_proof(taught)
    for check in (found, None) if found else (None,):
        if way.frame is not None and proof >= LEAST_EVIDENCE["text"]:
            said = sentences(taught, check, leeway)[:MOST_RIVALS]
            if said:
                yield Format(_doubting(way, said, streams=_streams(way, examples)), check, tuple(said))
        if proof >= LEAST_EVIDENCE["places"]:
            finds = records(taught, check, leeway)[:MOST_RIVALS]
            written = all(
                isinstance(each.record.value, Count) and each.record.value.hexadecimal for each in finds
            )
            if way.frame is not None and way.printable and written:
                counts = counts_on_lines(taught, check, leeway)[:MOST_RIVALS]
                if counts:
                    yield Format(
                        _doubting(way, counts, streams=_streams(way, examples)), check, tuple(counts)
                    )
            if finds:
                yield from _framed(way, check, finds)


def _taught(way: FrameCut, examples: Sequence[Example]) -> list[Taught]:
    shown: dict[str, list[Decimal]] = {}
    for each in examples:
        shown.setdefault(each.unit, []).append(each.shown)
    decimals = {unit: max(map(_decimals, values)) for unit, values in shown.items()}
    return [
        Taught(
            tuple(dict.fromkeys(_whole(some))),
            each.shown,
            each.unit,
            decimals[each.unit],
            _counts(shown[each.unit], decimals[each.unit]),
            each.only,
        )
        for some, each in zip(way.pieces, examples, strict=True)
    ]


def _decimals(shown: Decimal) -> int:
    return max(0, -int(shown.as_tuple().exponent))


def _counts(shown: Sequence[Decimal], decimals: int) -> int:
    """By how many of its last digit a display counts, if all that it showed are multiples of them."""
    steps = [int(abs(each).scaleb(decimals)) for each in shown]
    return next(counts for counts in (5, 2, 1) if not any(step % counts for step in steps))


def _whole(some: tuple[bytes, ...]) -> tuple[bytes, ...]:
    """The last pieces of a stream and its oldest, without the first, whose head may be missing."""
    whole = some[1:] if len(some) > 2 and some[0] not in some[1:] else some
    return whole if len(whole) <= NEWEST + OLDEST else whole[:OLDEST] + whole[-NEWEST:]


def _check(way: FrameCut) -> FrameCheck | None:
    """The check of the frames; of those of the commonest length if there are others between."""
    inner = [piece for some in way.pieces for piece in (some[1:-1] if len(some) > 2 else some)]
    lengths = Counter(map(len, inner))
    common = lengths.most_common(1)[0][0]
    return find_check(inner) or find_check([piece for piece in inner if len(piece) == common])


def streams(example: Example) -> bool:
    """Whether bytes came all the time, as from a gauge that sends without being pressed."""
    times = [at for at, _ in example.chunks]
    return times[-1] - times[0] > 2 * UNHURRIED and max(b - a for a, b in pairwise(times)) < UNHURRIED


def _streams(way: FrameCut, examples: Sequence[Example]) -> bool:
    """Whether messages follow each other so fast that a link may well open inside one.

    Lines of other forms do not show it: a press may send an error or a heading before its reading.
    """
    return any(
        sum(_form(piece) == _form(some[-1]) for piece in some) > 1
        and each.chunks[-1][0] - each.chunks[0][0] < UNHURRIED * (len(some) - 1)
        for some, each in zip(way.pieces, examples, strict=True)
    )


def _form(piece: bytes) -> bytes:
    """*piece* with one digit in place of each number of any length, and without signs and blanks."""
    return re.sub(rb"[0-9]+", b"0", piece.translate(None, b"+- "))


def _doubting(way: FrameCut, said: Sequence[Sentence], *, streams: bool) -> Frame:
    frame = way.frame
    if not isinstance(frame, DelimitedFrame):
        return frame or Gap(PATIENCE)
    bare = not all(means.shows_its_head for each in said for means in each.means)
    return replace(frame, doubt_first=bare and streams)


def _framed(way: FrameCut, check: FrameCheck | None, finds: Sequence[PlaceMatch]) -> Iterator[Format]:
    """Formats of records: found by what never changes if that is enough, else by an end or a silence."""
    found = tuple(find.record for find in finds)
    length = found[0].length
    if isinstance(way.frame, StuffedFrame | DoubledFrame) or (
        isinstance(way.frame, DelimitedFrame) and way.printable
    ):
        yield Format(way.frame, check, (), found)
        return
    alone = Format(Fixed(length, gap=PATIENCE), check, (), found)
    paced = Format(Fixed(length, twice=True, gap=PATIENCE), check, (), found)
    if not isinstance(way.frame, DelimitedFrame):
        surely = alone.check_bits + alone.head_bits >= SURE
        if (surely and _one_phase(alone, finds[0].frames)) or _shows_its_beginning(found[0]):
            yield alone if alone.check_bits >= SURE else paced
        if way.frame is None:
            yield paced
    if way.frame is not None:
        yield Format(way.frame, check, (), found)


def _shows_its_beginning(record: Record) -> bool:
    """Whether constants alone forbid that a message begins inside another, as a bit of the first byte may."""
    fixed = {at: (mask, value) for at, mask, value in record.fixed}

    def forbidden(shift: int) -> bool:
        pairs = [(fixed[at], fixed[at + shift]) for at in fixed if at + shift in fixed]
        return any(one & other & (value ^ later) for (one, value), (other, later) in pairs)

    return all(map(forbidden, range(1, record.length)))


def _one_phase(format_: Format, taught: Sequence[bytes]) -> bool:
    """Whether no frame can be found across two of the frames that were taught."""
    length = format_.record[0].length
    frames = list(dict.fromkeys(taught))[:MOST_ACROSS]
    return not any(
        format_.whole((one + other)[shift : shift + length])
        for one in frames
        for other in frames
        for shift in range(1, length)
    )


def _agrees(format_: Format, example: Example, leeway: Leeway) -> bool:
    """Whether *format_* reads what the display showed, and nothing that is far from it.

    Of what silences part at least half must be read: of pieces that are none some look like messages.
    """
    received = [said for _, said in decoded(format_, _joined(format_, example.chunks))]
    readings = [said for said in received if isinstance(said, DisplayValue)]
    if isinstance(format_.frame, Gap) and 2 * len(readings) < len(received):
        return False
    step = Decimal(1).scaleb(-_decimals(example.shown))
    room = max(20 * step, abs(example.shown) / 50)
    offs = [abs(said.value - example.shown) for said in readings if said.unit == example.unit]
    return (
        len(offs) == len(readings)
        and min(offs, default=0 if leeway.free else room + 1) <= leeway.steps * MOST_COARSE * step
        and max(offs, default=0) <= room
    )


def _joined(format_: Format, chunks: Sequence[Chunk]) -> list[Chunk]:
    """*chunks* in which only silences that end a message of *format_* are left: they are read much faster."""
    frame = format_.frame
    if isinstance(frame, MARKED) or frame.gap is None:
        return [(0.0, b"".join(data for _, data in chunks))]
    return [(2 * place * frame.gap, burst) for place, burst in enumerate(bursts(chunks, frame.gap))]
