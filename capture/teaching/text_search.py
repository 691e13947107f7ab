"""Finds the number on lines of text, and what the words round it mean."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.checks import FrameCheck
from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.sentences import ANY_DIGITS, Meaning, Sentence, round_about
from capture.dialects.values import Display, Number, numbers
from capture.teaching.matching import Leeway, Match, Taught, match

Heard: TypeAlias = tuple[Taught, str, Number]
"""An example, a line of it, and the number on that line which the display showed."""

Label: TypeAlias = tuple[ShownUnit, Literal["+", "-", "written"]]
"""The unit and the sign that the words of a line must mean."""

MOST_NUMBERS = 12


def sentences(taught: Sequence[Taught], check: FrameCheck | None, leeway: Leeway) -> list[Sentence]:
    """Every sentence that explains all that was taught; several are rivals."""
    texts = [
        [_text(frame, check) for frame in each.frames if not check or check.holds(frame)] for each in taught
    ]
    if not all(texts):
        return []
    found: list[_Find] = []
    for point in (".", ","):
        lines = [[numbers(text, point) for text in each] for each in texts]
        most = min(MOST_NUMBERS, max(len(line) for each in lines for line in each))
        fits = (_fit(taught, texts, lines, which, point, leeway) for which in range(most))
        found += [fit for fit in fits if fit]
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
    which: int,
    point: str,
    leeway: Leeway,
) -> _Find | None:
    def raws(*, signed: bool) -> list[list[Decimal | None]]:
        return [
            [
                (line[which].value if signed else abs(line[which].value)) if which < len(line) else None
                for line in each
            ]
            for each in lines
        ]

    both = len({each.value < 0 for each in taught if each.value}) == 2
    written = match(taught, raws(signed=True), leeway) if both else None
    sizes = [replace(each, value=abs(each.value)) for each in taught]
    found = written or match(sizes, raws(signed=False), leeway)
    if found is None:
        return None
    heard = [
        (each, texts[place][choice], lines[place][choice][which])
        for place, each in enumerate(taught)
        for choice in found.chosen[place]
    ]
    if any(_part_of_longer(text, number) for _, text, number in heard):
        return None
    means = _meanings(heard, found, signed=written is not None)
    if means is None:
        return None
    means = tuple(replace(each, display=_within_seen(each, heard)) for each in means)
    first = heard[0][2]
    pointed = all(each.pointed for _, _, each in heard)
    return _Find(Sentence(means, which + 1, "." if point == "." else ","), first.digits, first.end, pointed)


def _part_of_longer(text: str, number: Number) -> bool:
    """Whether *number* is the end of one with the other decimal mark, such as 345 of ``0.345``."""
    before = text[: number.digits]
    return not number.pointed and re.search(r"[0-9][.,]$", before) is not None


def _meanings(heard: Sequence[Heard], found: Match, *, signed: bool) -> tuple[Meaning, ...] | None:
    labels: list[Label] = [
        (each.unit, "written" if signed else "-" if each.value < 0 else "+") for each, _, _ in heard
    ]
    words = [round_about(text, number, signed=signed) for _, text, number in heard]
    points = [number.decimals for _, _, number in heard]
    if len({(w, label) for w, label in zip(words, labels, strict=True)}) > len(set(labels)):
        words = _loosened(words, labels)
    for tell in (False, True):
        told: dict[tuple[str, str, int | None], Label] = {}
        keys = [(*w, point if tell else None) for w, point in zip(words, points, strict=True)]
        if all(told.setdefault(key, label) == label for key, label in zip(keys, labels, strict=True)):
            break
    else:
        return None
    if len(told) > len(set(labels)):
        return None
    by_words = not tell and len({unit for unit, _ in told.values()}) > 1
    means = []
    for key, (unit, sign) in told.items():
        own = [each for each, its in zip(heard, keys, strict=True) if its == key]
        behind = {number.decimals for _, _, number in own}
        sure = len(behind) == 1 and (
            not by_words or behind == {0} or len({each.value for each, _, _ in own}) > 1
        )
        means.append(
            Meaning(
                *key[:2],
                unit,
                sign,
                found.displays[unit],
                behind.pop() if sure else None,
                None if ANY_DIGITS in key[0] + key[1] else _length(own),
                signed and _signs(heard),
            )
        )
    return tuple(means)


def _within_seen(means: Meaning, heard: Sequence[Heard]) -> Display:
    """The display of *means*, limited to the digits in use where numbers are padded with zeros.

    A zero that never changed may be a code that stands before the number.
    """
    own = [
        (text[number.digits : number.end], number) for each, text, number in heard if each.unit == means.unit
    ]
    whole = [len(re.split("[.,eE]", digits)[0]) for digits, _ in own]
    seen = max(len(re.split("[.,eE]", digits)[0].lstrip("0")) for digits, _ in own)
    if len(set(whole)) > 1 or seen == whole[0] or whole[0] < 2:
        return means.display
    beyond = 10**seen * Decimal(means.display.scale)
    return replace(means.display, limit=f"{min(Decimal(means.display.limit), beyond):f}")


def _length(heard: Sequence[Heard]) -> int | None:
    """The length of all lines, if they are of one length for a reason: padding with zeros or blanks."""
    lengths = {len(text) for _, text, _ in heard}
    padded = any(
        re.match("0[0-9]", text[number.digits :]) or re.search("  [+-]?$|[+-] +$", text[: number.digits])
        for _, text, number in heard
    )
    return lengths.pop() if len(lengths) == 1 and padded else None


def _signs(heard: Sequence[Heard]) -> bool:
    return all(number.signed for _, _, number in heard)


def _loosened(words: Sequence[tuple[str, str]], labels: Sequence[Label]) -> list[tuple[str, str]]:
    """*words* with those digits left open that change though the sign and the unit do not."""
    sides: list[list[str]] = []
    for side in (0, 1):
        split = [re.split("([0-9]+)", both[side]) for both in words]
        if len({len(each) for each in split}) > 1:
            return list(words)
        columns = list(zip(*split, strict=True))
        for place, column in enumerate(columns):
            states = {(text, label) for text, label in zip(column, labels, strict=True)}
            if place % 2 and len(states) > len(set(labels)):
                columns[place] = (ANY_DIGITS,) * len(column)
        sides.append(["".join(each) for each in zip(*columns, strict=True)])
    return list(zip(*sides, strict=True))
