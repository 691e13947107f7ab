"""Finds the number on lines of text, and what the words round it mean."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import TypeAlias

from msgspec.structs import replace

from capture.dialects.checks import Check
from capture.dialects.matching import Leeway, Match, Taught, match
from capture.dialects.sentences import ANY_DIGITS, Meaning, Sentence, round_about
from capture.dialects.values import Number, numbers

Heard: TypeAlias = tuple[Taught, str, Number]
"""An example, a line of it, and the number on that line which the display showed."""

MOST_NUMBERS = 12


def sentences(taught: Sequence[Taught], check: Check | None, leeway: Leeway) -> list[Sentence]:
    """Every sentence that explains all that was taught; several are rivals."""
    texts = [
        [_text(frame, check) for frame in each.frames if not check or check.holds(frame)] for each in taught
    ]
    if not all(texts):
        return []
    found: list[Sentence] = []
    for point in (".", ","):
        lines = [[numbers(text, point) for text in each] for each in texts]
        most = min(MOST_NUMBERS, max(len(line) for each in lines for line in each))
        for which in range(most):
            sentence = _fit(taught, texts, lines, which, point, leeway)
            if sentence and not any(_same(sentence, other) for other in found):
                found.append(sentence)
    return found


def _text(frame: bytes, check: Check | None) -> str:
    return (check.without(frame) if check else frame).decode("latin-1")


def _same(one: Sentence, other: Sentence) -> bool:
    """Whether only the kind of point differs, where there is none."""
    return replace(one, point=other.point) == other


def _fit(
    taught: Sequence[Taught],
    texts: Sequence[Sequence[str]],
    lines: Sequence[Sequence[Sequence[Number]]],
    which: int,
    point: str,
    leeway: Leeway,
) -> Sentence | None:
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
    means = _meanings(heard, found, signed=written is not None)
    if means is None:
        return None
    return Sentence(means, which + 1, "." if point == "." else ",")


def _meanings(heard: Sequence[Heard], found: Match, *, signed: bool) -> tuple[Meaning, ...] | None:
    labels = [(each.unit, "written" if signed else "-" if each.value < 0 else "+") for each, _, _ in heard]
    words = [round_about(text, number, signed=signed) for _, text, number in heard]
    points = [number.decimals for _, _, number in heard]
    if len({(w, label) for w, label in zip(words, labels, strict=True)}) > len(set(labels)):
        words = _loosened(words, labels)
    for tell in (False, True):
        told: dict[tuple[str, str, int | None], tuple[str, str]] = {}
        keys = [(*w, point if tell else None) for w, point in zip(words, points, strict=True)]
        if all(told.setdefault(key, label) == label for key, label in zip(keys, labels, strict=True)):
            if len(told) > len(set(labels)):
                continue
            return tuple(
                Meaning(
                    before,
                    after,
                    unit,
                    sign,
                    found.displays[unit],
                    point,
                    _length([each for each, own in zip(heard, keys, strict=True) if own == key]),
                    signed and _signs(heard),
                )
                for key, (unit, sign) in told.items()
                for before, after, point in (key,)
            )
    return None


def _length(heard: Sequence[Heard]) -> int | None:
    """The length of all lines, if they are of one length for a reason: padded, or with numbers that are not."""
    lengths = {len(text) for _, text, _ in heard}
    widths = {number.end - number.digits for _, _, number in heard}
    padded = any(re.match("0[0-9]", text[number.digits :]) for _, text, number in heard)
    return lengths.pop() if len(lengths) == 1 and (padded or len(widths) > 1) else None


def _signs(heard: Sequence[Heard]) -> bool:
    return all(number.signed for _, _, number in heard)


def _loosened(words: Sequence[tuple[str, str]], labels: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
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
