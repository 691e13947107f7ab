"""Finds the number on lines of text, and what the words round it mean."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import product
from typing import Final, Literal

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.taught.checks import FrameCheck
from capture.dialects.taught.sentences import Meaning, Sentence, counter
from capture.dialects.taught.values import Display
from capture.dialects.taught.written_numbers import Number, Signed
from capture.teaching.search.matching import Leeway, Taught
from capture.teaching.search.scales import scales
from capture.teaching.search.words import Candidate, meanings

MOST_NUMBERS = 12
COUNTERS: Final = (4, 6, 8)
"""Hexadecimal digits of a running number; fewer may be a unit's or a state's name (our own choice)."""
POINTS: Final[tuple[Literal[".", ","], ...]] = (".", ",")
SIGNED: Final[tuple[Signed, ...]] = ("no", "complement", "magnitude", "offset", "ones")


def sentences(taught: Sequence[Taught], check: FrameCheck | None, leeway: Leeway) -> list[Sentence]:
    """Every sentence that explains all that was taught; several are rivals."""
    given = [
        [_text(frame, check) for frame in each.frames if not check or check.holds(frame)] for each in taught
    ]
    if not all(given):
        return []
    found: list[_Find] = []
    for written in _notations(taught, given):
        if found and (written.fractions or any(find.sentence.counter for find in found)):
            continue
        texts = [[written.seen(text) for text in each] for each in given]
        lines = [[written.numbers(text) for text in each] for each in texts]
        most = min(MOST_NUMBERS, max(len(line) for each in lines for line in each))
        fits = (
            _fit(taught, texts, lines, replace(written, number=which), leeway) for which in range(1, most + 1)
        )
        found += [fit for fit in fits if fit]
    return _apart(found)


def counts_on_lines(taught: Sequence[Taught], check: FrameCheck | None, leeway: Leeway) -> list[Sentence]:
    """Every sentence whose number is a count in hexadecimal digits that explains all that was taught."""
    texts = [
        [_text(frame, check) for frame in each.frames if not check or check.holds(frame)] for each in taught
    ]
    if not all(texts):
        return []
    negative = any(each.value < 0 for each in taught)
    found: list[_Find] = []
    for digits, running in product(COUNTERS, (0, *COUNTERS)):
        if found and running:
            break
        for signed in SIGNED if negative and digits != running else SIGNED[: digits != running]:
            written = Sentence((), hexadecimal=digits, signed=signed, counter=running)
            seen = [[written.seen(text) for text in each] for each in texts]
            lines = [[written.numbers(text) for text in each] for each in seen]
            most = min(MOST_NUMBERS, max(len(line) for each in lines for line in each))
            fits = (
                _fit(taught, seen, lines, replace(written, number=which), leeway)
                for which in range(1, most + 1)
            )
            found += [fit for fit in fits if fit]
    return _apart(found)


def _notations(taught: Sequence[Taught], texts: Sequence[Sequence[str]]) -> Iterator[Sentence]:
    """Ways to write a number in decimal digits that may be in use."""
    labels = {(each.unit, each.value < 0) for each in taught}
    for digits in COUNTERS:
        for point in POINTS:
            word = counter(digits, point)
            found = [re.findall(word, text) for each in texts for text in each]
            words = {one for some in found for one in some}
            letters = any(not one.isdecimal() for one in words) and any(
                re.search("[0-9]", one) for one in words
            )
            if all(found) and letters and len(words) > len(labels):
                yield Sentence((), point=point, counter=digits)
    yield Sentence(())
    yield Sentence((), point=",")
    if any("/" in text for each in texts for text in each):
        yield Sentence((), fractions=True)


def _apart(found: Sequence[_Find]) -> list[Sentence]:
    """The sentences whose numbers stand at different places, those with a point first."""
    best: list[_Find] = []
    for find in sorted(found, key=lambda find: not find.pointed):
        if not any(find.overlaps(other) for other in best):
            best.append(find)
    return [find.sentence for find in best]


class _Find(Struct, frozen=True):
    """A sentence that fits, and where the number stands on the first line that was taught."""

    sentence: Sentence
    begin: int
    end: int
    pointed: bool
    """Whether all numbers have a point, so that it is surely a point."""

    def overlaps(self, other: _Find) -> bool:
        return self.begin < other.end and other.begin < self.end


def _text(frame: bytes, check: FrameCheck | None) -> str:
    return (check.without(frame) if check else frame).decode("latin-1")


def _fit(
    taught: Sequence[Taught],
    texts: Sequence[Sequence[str]],
    lines: Sequence[Sequence[Sequence[Number]]],
    written: Sentence,
    leeway: Leeway,
) -> _Find | None:
    which = written.number - 1
    both = len({each.value < 0 for each in taught if each.value}) == 2
    own = scales(taught, _raws(lines, which, signed=True), leeway) if both else None
    sizes = [replace(each, value=abs(each.value)) for each in taught]
    found = own or scales(sizes, _raws(lines, which, signed=False), leeway)
    if found is None or (own is None and written.signed != "no"):
        return None
    candidates = [
        (each, texts[place][choice], lines[place][choice][which])
        for place, each in enumerate(taught)
        for choice in found.chosen[place]
    ]
    means = None if _unfit(candidates, leeway) else meanings(candidates, found, signed=own is not None)
    if means is None:
        return None
    if not written.fractions:
        seen = _within_half if written.hexadecimal else _within_seen
        means = tuple(replace(each, display=seen(each, candidates)) for each in means)
    first = candidates[0][2]
    pointed = all(each.pointed for _, _, each in candidates)
    return _Find(replace(written, means=means), first.digits, first.end, pointed)


def _raws(
    lines: Sequence[Sequence[Sequence[Number]]], which: int, *, signed: bool
) -> list[list[Decimal | None]]:
    """The number at place *which* of each line, None on shorter lines; without its sign unless *signed*."""
    return [
        [
            (line[which].value if signed else abs(line[which].value)) if which < len(line) else None
            for line in each
        ]
        for each in lines
    ]


def _unfit(candidates: Sequence[Candidate], leeway: Leeway) -> bool:
    """Whether these numbers cannot be what the display showed, though their values agree with it."""
    if leeway.rounds and _same_tails(candidates):
        return True
    if leeway.free and any(number.pointed for _, _, number in candidates):
        return True  # a number with a point is a size already
    return any(_part_of_longer(text, number) for _, text, number in candidates)


def _same_tails(candidates: Sequence[Candidate]) -> bool:
    """Whether what stands behind the display's decimals is always the same, and so is none of the number."""
    beyond = [number.decimals - each.decimals for each, _, number in candidates]
    tails = {
        text[number.end - more : number.end]
        for more, (_, text, number) in zip(beyond, candidates, strict=True)
    }
    return min(beyond) > 0 and len(candidates) > 2 and len(tails) == 1 and bool(tails.pop().strip("0"))


def _part_of_longer(text: str, number: Number) -> bool:
    """Whether *number* is the end of one with the other decimal mark, such as 345 of ``0.345``."""
    before = text[: number.digits]
    return not number.pointed and re.search(r"[0-9][.,]$", before) is not None


def _within_half(means: Meaning, candidates: Sequence[Candidate]) -> Display:
    """The display of *means*; of which only positive counts were shown, limited to half of all counts.

    The top of a count may mean a negative one.
    """
    width = max(number.end - number.digits for _, _, number in candidates)
    beyond = 2 ** (4 * width - 1) * Decimal(means.display.scale)
    return replace(means.display, limit=f"{min(Decimal(means.display.limit), beyond):f}")


def _within_seen(means: Meaning, candidates: Sequence[Candidate]) -> Display:
    """The display of *means*, limited to the digits in use where numbers are padded with zeros.

    A zero that never changed may be a code that stands before the number.
    """
    own = [
        (text[number.digits : number.end], number)
        for each, text, number in candidates
        if each.unit == means.unit
    ]
    if any(number.signed and text[number.digits - 1] in "+-" for _, text, number in candidates):
        return means.display  # zeros behind a sign are the number's own
    whole = [len(re.split("[.,eE]", digits)[0]) for digits, _ in own]
    seen = max(len(re.split("[.,eE]", digits)[0].lstrip("0")) for digits, _ in own)
    if len(set(whole)) > 1 or seen == whole[0] or whole[0] < 2:
        return means.display
    beyond = 10**seen * Decimal(means.display.scale)
    return replace(means.display, limit=f"{min(Decimal(means.display.limit), beyond):f}")
