"""Learns a gauge's frames from examples of what came and what its display showed; never guesses."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import count
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.checks import FrameCheck
from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.formats import SURE, Format, decoded
from capture.dialects.framing import Chunk, DelimitedFrame, Fixed, Frame, Gap, StuffedFrame
from capture.dialects.records import DisplayValue
from capture.dialects.sentences import Sentence
from capture.teaching import explaining
from capture.teaching.check_search import find as find_check
from capture.teaching.frame_search import FrameCut, ways
from capture.teaching.line_settings import TEXT
from capture.teaching.matching import EXACT, LEEWAYS, MOST_COARSE, Leeway, Taught, evidence
from capture.teaching.place_search import PlaceMatch, records
from capture.teaching.text_search import sentences

MOST_PIECES = 8
"""The last pieces of a capture came when the display was read; more tell nothing new."""
MOST_RIVALS = 3
"""Ways to understand the same examples that are kept until one is left."""
LEAST_EVIDENCE = {"text": 12.0, "places": 24.0}
"""Bits that displays must have told before a format is believed: places fit by chance, text hardly."""
UNHURRIED = 0.5
"""Seconds between the presses of a button, at the least."""
WIDEST = 24
"""Characters of a number on a display, at the most (our own choice: no display is that wide)."""
PATIENCE = 0.25
"""Seconds of silence after which the last frame of a stream is whole, if nothing else says so."""


class Example(Struct, frozen=True):
    """One reading: the bytes that came, and what a person saw on the display."""

    chunks: tuple[Chunk, ...]
    shown: Decimal
    """The number on the display, with all its decimals."""
    unit: ShownUnit


class Learnt(Struct, frozen=True):
    """What examples taught."""

    format: Format | None
    """The description of the frames, or None while it is not certain."""
    understood: tuple[str, ...]
    """What is known now, in words."""
    open: tuple[str, ...]
    """What to show next, so that nothing has to be guessed."""
    mistyped: int | None = None
    """The example (from 0) that contradicts all others."""


def number(text: str) -> Decimal:
    """A number as a person types it from a display; ValueError tells what was due."""
    plain = text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-").replace("- ", "-")
    if len(plain) > WIDEST:
        raise ValueError(f"came {len(plain)} characters, due a number of at most {WIDEST}, such as -12.345")
    whole = re.fullmatch(r"([+-]?)(?:([0-9]+)[ -])?([0-9]+)/(2|4|8|16|32|64|128)", plain)
    if whole:
        size = Decimal(whole[2] or 0) + Decimal(whole[3]) / Decimal(whole[4])
        return -size if whole[1] == "-" else size
    if not re.fullmatch(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)", plain):
        raise ValueError(f"{text!r} is no number: type it as the display shows it, such as -12.345")
    return Decimal(plain)


def learn(examples: Sequence[Example]) -> Learnt:
    """The format that explains all *examples*, and what is still open.

    A bit that never changed is taken for a constant; a frame in which it has changed is
    refused. Where more than one format explains the examples, a frame is read only
    where they agree. An example that contradicts all others is named and left out.
    """
    parity = _parity(examples)
    if parity:
        bare = learn([_seven_bits(each) for each in examples])
        if bare.format is not None and isinstance(bare.format.frame, DelimitedFrame):
            proof = f"each byte has seven bits and {'even' if parity == 'E' else 'odd'} parity"
            return replace(
                bare, format=replace(bare.format, parity=parity), understood=(proof, *bare.understood)
            )
    found = _explain(examples)
    if found is not None:
        return Learnt(found, tuple(explaining.understood(found)), tuple(explaining.questions(found)))
    odd = list(_odd_ones(examples)) if len(examples) > 3 else []
    if len(odd) == 1:
        place, rest = odd[0]
        again = f"reading {place + 1} does not fit the others: show it again, and look at what was typed"
        return Learnt(
            rest if _slipped(rest, examples[place]) else None,
            tuple(explaining.understood(rest)),
            (again, *explaining.questions(rest)),
            place,
        )
    different = len({(each.shown, each.unit) for each in examples})
    return Learnt(None, (), tuple(explaining.unexplained(different, _apart(examples))))


def _parity(examples: Sequence[Example]) -> Literal["", "E", "O"]:
    """The parity in the eighth bit of all bytes, if the other seven are text; empty where there is none."""
    data = b"".join(chunk for each in examples for _, chunk in each.chunks)
    if not any(byte & 0x80 for byte in data):
        return ""
    ones = {byte.bit_count() % 2 for byte in data}
    if len(ones) > 1 or any(byte & 0x7F not in TEXT for byte in data):
        return ""
    return "O" if ones.pop() else "E"


def _seven_bits(example: Example) -> Example:
    chunks = tuple((at, bytes(byte & 0x7F for byte in data)) for at, data in example.chunks)
    return replace(example, chunks=chunks)


def _apart(examples: Sequence[Example]) -> list[str]:
    """Units whose examples are explained alone, though not together with those of another."""
    units = list(dict.fromkeys(each.unit for each in examples))
    alone = {unit: [each for each in examples if each.unit == unit] for unit in units}
    return [unit for unit, some in alone.items() if len(units) > 1 and _explain(some, beyond_doubt=True)]


def _explain(examples: Sequence[Example], *, beyond_doubt: bool = False) -> Format | None:
    """The likeliest format that explains all *examples*; *beyond_doubt* leaves out unlikely cuts."""
    all_ways = list(ways([each.chunks for each in examples])) if examples else []
    likely = [
        way for way in all_ways if way.sure and (way.printable or not isinstance(way.frame, DelimitedFrame))
    ]
    for leeway in LEEWAYS[:1] if beyond_doubt else LEEWAYS:
        unsure: list[tuple[FrameCut, Format]] = []
        for way in likely if beyond_doubt or leeway != EXACT else all_ways:
            fits = (
                each for each in _formats(way, examples, leeway) if _agrees_with_all(each, examples, leeway)
            )
            found = next(fits, None)
            if found and way.sure:
                return found
            if found and (found.check or _headed(found)):
                unsure.append((way, found))
        if unsure:
            return _most_natural(unsure)
    return None


def _most_natural(found: Sequence[tuple[FrameCut, Format]]) -> Format | None:
    """Of formats that differ in where a frame begins, the one with a head and its check last, if one has."""

    def oddity(format_: Format) -> tuple[bool, int, int]:
        check = format_.check
        return (check.plus != 0, check.skip, -check.at - check.size) if check else (True, 0, 0)

    headed = sorted((format_ for way, format_ in found if way.headed), key=oddity)
    if not headed:
        return None
    if headed[0].check is None:  # all read the same of a stream: only where a frame is said to begin differs
        return max(headed, key=_heads)
    return None if len(headed) > 1 and oddity(headed[0]) == oddity(headed[1]) else headed[0]


def _heads(format_: Format) -> int:
    """How many bytes at the beginning of a record never change."""
    fixed = {at for at, mask, _ in format_.record[0].fixed if mask == 0xFF} if format_.record else set()
    return next(at for at in count() if at not in fixed)


def _headed(format_: Format) -> bool:
    """Whether bytes that never change tell beyond doubt where a record begins."""
    return bool(format_.record) and format_.head_bits >= SURE and _heads(format_) > 0


def _agrees_with_all(format_: Format, examples: Sequence[Example], leeway: Leeway) -> bool:
    return all(_agrees(format_, each, leeway) for each in examples)


def _formats(way: FrameCut, examples: Sequence[Example], leeway: Leeway) -> Iterator[Format]:
    """Formats that fit *examples* cut in one way, the likeliest first."""
    taught = _taught(way, examples)
    proof = evidence(taught) if len({each.value for each in taught}) > 1 else 0.0
    found = _check(way)
    for check in (found, None) if found else (None,):
        if way.frame is not None and proof >= LEAST_EVIDENCE["text"]:
            said = sentences(taught, check, leeway)[:MOST_RIVALS]
            if said:
                yield Format(_doubting(way, said, streams=_streams(way, examples)), check, tuple(said))
        if proof >= LEAST_EVIDENCE["places"]:
            finds = records(taught, check, leeway)[:MOST_RIVALS]
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
    """The last pieces of a stream, without the first, whose head may be missing."""
    whole = some[1:] if len(some) > 2 and some[0] not in some[1:] else some
    return whole[-MOST_PIECES:]


def _check(way: FrameCut) -> FrameCheck | None:
    """The check of the frames; of those of the commonest length if there are others between."""
    inner = [piece for some in way.pieces for piece in (some[1:-1] if len(some) > 2 else some)]
    lengths = Counter(map(len, inner))
    common = lengths.most_common(1)[0][0]
    return find_check(inner) or find_check([piece for piece in inner if len(piece) == common])


def _streams(way: FrameCut, examples: Sequence[Example]) -> bool:
    """Whether messages follow each other so fast that a link may well open inside one."""
    return any(
        len(some) > 1 and each.chunks[-1][0] - each.chunks[0][0] < UNHURRIED * (len(some) - 1)
        for some, each in zip(way.pieces, examples, strict=True)
    )


def _doubting(way: FrameCut, said: Sequence[Sentence], *, streams: bool) -> Frame:
    frame = way.frame
    if not isinstance(frame, DelimitedFrame):
        return frame or Gap(PATIENCE)
    bare = not all(means.shows_its_head for each in said for means in each.means)
    return DelimitedFrame(frame.end, frame.more, doubt_first=bare and streams)


def _framed(way: FrameCut, check: FrameCheck | None, finds: Sequence[PlaceMatch]) -> Iterator[Format]:
    """Formats of records: found by what never changes if that is enough, else by an end or a silence."""
    found = tuple(find.record for find in finds)
    length = found[0].length
    if isinstance(way.frame, StuffedFrame) or (isinstance(way.frame, DelimitedFrame) and way.printable):
        yield Format(way.frame, check, (), found)
        return
    alone = Format(Fixed(length, gap=PATIENCE), check, (), found)
    paced = Format(Fixed(length, twice=True, gap=PATIENCE), check, (), found)
    if not isinstance(way.frame, DelimitedFrame):
        surely = alone.check_bits + alone.head_bits >= SURE
        if surely and _one_phase(alone, finds[0].frames):
            yield alone if alone.check_bits >= SURE else paced
        if way.frame is None:
            yield paced
    if way.frame is not None:
        yield Format(way.frame, check, (), found)


def _one_phase(format_: Format, frames: Sequence[bytes]) -> bool:
    """Whether no frame can be found across two of the frames that were taught."""
    length = format_.record[0].length
    return not any(
        format_.whole((one + other)[shift : shift + length])
        for one in frames
        for other in frames
        for shift in range(1, length)
    )


def _agrees(format_: Format, example: Example, leeway: Leeway) -> bool:
    """Whether *format_* reads what the display showed, and nothing that is far from it."""
    readings = [said for _, said in decoded(format_, example.chunks) if isinstance(said, DisplayValue)]
    step = Decimal(1).scaleb(-_decimals(example.shown))
    room = max(20 * step, abs(example.shown) / 50)
    offs = [abs(said.value - example.shown) for said in readings if said.unit == example.unit]
    return (
        len(offs) == len(readings)
        and min(offs, default=room + 1) <= leeway.steps * MOST_COARSE * step
        and max(offs, default=0) <= room
    )


def _odd_ones(examples: Sequence[Example]) -> Iterator[tuple[int, Format]]:
    """Examples without which all others fit, with the format of the others."""
    for place in range(len(examples)):
        rest = _explain([*examples[:place], *examples[place + 1 :]], beyond_doubt=True)
        if rest is not None:
            yield place, rest


def _slipped(format_: Format, example: Example) -> bool:
    """Whether what was typed is a slip of what the format reads: else the format itself is in doubt."""
    readings = [said for _, said in decoded(format_, example.chunks) if isinstance(said, DisplayValue)]
    return not readings or any(
        said.value == example.shown or _one_slip(said.text, f"{example.shown:f}") for said in readings
    )


def _one_slip(one: str, other: str) -> bool:
    """Whether one character changed, missing or added, or two swapped, lies between the texts."""
    while one and other and one[0] == other[0]:
        one, other = one[1:], other[1:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    return max(len(one), len(other)) <= 1 or (len(one) == 2 and one == other[::-1])
