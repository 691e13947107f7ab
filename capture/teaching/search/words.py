"""Finds what the words round a number mean: the unit, the sign, and which of them may change."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import product
from typing import TypeAlias

from capture.dialects.taught.sentences import WILD, Meaning, columns_of, round_about
from capture.dialects.taught.written_numbers import Number
from capture.teaching.search.matching import Match, Taught
from capture.teaching.search.others import Label, loosened, without_other_counts, without_other_sizes

Candidate: TypeAlias = tuple[Taught, str, Number]
"""An example, a line of it, and the number on that line which the display showed."""

Key: TypeAlias = tuple[str, str, int | None]
"""Words before and after a number, and its decimals where they tell the unit."""

MOST_STATES = 4
"""States of a judgement: below, within, above, and one that is none of these (our own choice)."""
_STATE = "\0{}\0"


def meanings(candidates: Sequence[Candidate], found: Match, *, signed: bool) -> tuple[Meaning, ...] | None:
    """What each combination of words means; None where words do not tell the sign and the unit."""
    labels: list[Label] = [
        (each.unit, "written" if signed else "-" if each.value < 0 else "+") for each, _, _ in candidates
    ]
    words = [round_about(text, number, signed=signed) for _, text, number in candidates]
    states: Sequence[tuple[str, ...]] = ()
    if len({(w, label) for w, label in zip(words, labels, strict=True)}) > len(set(labels)):
        words, states = _judgements(loosened(words, labels), labels)
    comma = any("," in text[number.digits : number.end] for _, text, number in candidates)
    words = without_other_sizes(words, labels, comma=comma)
    both = signed or {sign for _, sign in labels} == {"+", "-"}
    if both and (len({unit for unit, _ in labels}) > 1 or all(each.only for each, _, _ in candidates)):
        words = without_other_counts(words, labels)
    points = [number.decimals for _, _, number in candidates]
    for tell in (False, True):
        keys: list[Key] = [(*w, point if tell else None) for w, point in zip(words, points, strict=True)]
        keyed = _keyed(keys, labels)
        if keyed is not None:
            break
    else:
        return None
    by_words = not tell and len({unit for unit, _ in keyed.values()}) > 1
    means: list[Meaning] = []
    for key, label in keyed.items():
        own = [each for each, its in zip(candidates, keys, strict=True) if its == key]
        of_unit = [each for each in candidates if each[0].unit == label[0]]
        plus = signed and _signs(candidates)
        means += _of_label(key, label, own, of_unit, found, states, by_words=by_words, plus=plus)
    return tuple(means)


def _keyed(keys: Sequence[Key], labels: Sequence[Label]) -> dict[Key, Label] | None:
    """The label that each of *keys* means; None where one means two, or one label has several."""
    keyed: dict[Key, Label] = {}
    if any(keyed.setdefault(key, label) != label for key, label in zip(keys, labels, strict=True)):
        return None
    return keyed if len(keyed) == len(set(labels)) else None


def _of_label(
    key: Key,
    label: Label,
    own: Sequence[Candidate],
    of_unit: Sequence[Candidate],
    found: Match,
    states: Sequence[tuple[str, ...]],
    *,
    by_words: bool,
    plus: bool,
) -> Iterator[Meaning]:
    """The meanings of one label: one for each combination of the *states* that were seen of a judgement.

    *own* are the candidates of the label, *of_unit* those of its unit, which all have their decimals alike.
    """
    behind = {number.decimals for _, _, number in of_unit}
    different = len({each.value for each, _, _ in of_unit}) > 1
    sure = len(behind) == 1 and (not by_words or behind == {0} or different)
    unit, sign = label
    for chosen in product(*states):
        before, after = key[:2]
        for place, state in enumerate(chosen):
            before, after = (side.replace(_STATE.format(place), state) for side in (before, after))
        wild = any(each in before + after for each in WILD)
        length = None if wild and not _others_padded(own) else _length(own)
        yield Meaning(
            before,
            after,
            unit,
            sign,
            found.displays[unit],
            min(behind) if sure else None,
            length,
            plus,
            _zeros_to(own),
            _bare(own),
            *((None, None) if length is not None else _columns(own)),
        )


def _judgements(
    words: Sequence[tuple[str, str]], labels: Sequence[Label]
) -> tuple[list[tuple[str, str]], list[tuple[str, ...]]]:
    """*words* with a mark for each word that changes though the sign and the unit do not, and its states.

    Such a word judges the reading: below, within or above its tolerance. Only states that were seen are read.
    """
    states: list[tuple[str, ...]] = []
    sides: list[list[str]] = []
    for side in (0, 1):
        split = [re.split("([ ,;:|\t]+)", both[side]) for both in words]
        if len({len(each) for each in split}) > 1:
            return list(words), []
        columns = list(zip(*split, strict=True))
        for place, column in enumerate(columns):
            seen = set(zip(column, labels, strict=True))
            free = len(seen) > len(set(labels)) and not any(re.search("[0-9{]|^$", word) for word in column)
            if free and place % 2 == 0 and len(set(column)) <= MOST_STATES:
                columns[place] = (_STATE.format(len(states)),) * len(column)
                states.append(tuple(dict.fromkeys(column)))
        sides.append(["".join(each) for each in zip(*columns, strict=True)])
    return list(zip(*sides, strict=True)), states


def _length(candidates: Sequence[Candidate]) -> int | None:
    """The length of all lines, if they are of one length for a reason: padding with zeros or blanks."""
    lengths = {len(text) for _, text, _ in candidates}
    # Of two blanks one may be the place of a sign.
    padded = _differ(candidates) or any(
        re.match("0[0-9]", text[number.digits :]) or re.search("   $|  [+-]$|[+-] +$", text[: number.digits])
        for _, text, number in candidates
    )
    return lengths.pop() if len(lengths) == 1 and padded else None


def _others_padded(candidates: Sequence[Candidate]) -> bool:
    """Whether all other numbers on the lines that change are padded to a width too, with zeros or blanks.

    A running number that is not makes a line longer one day.
    """
    others = [
        [one for one in re.finditer("[0-9]+", text) if one.end() <= number.begin or one.start() >= number.end]
        for _, text, number in candidates
    ]
    if len(set(map(len, others))) > 1:
        return False
    return all(
        len({one[0] for one in column}) == 1 or any(map(_padded, column))
        for column in zip(*others, strict=True)
    )


def _padded(number: re.Match[str]) -> bool:
    """Whether digits are padded with zeros, or with blanks before them; of two one may be for a sign."""
    before = number.string[: number.start()]
    return bool(re.match("0[0-9]", number[0]) or re.search("^ +$|   $", before))


def _columns(candidates: Sequence[Candidate]) -> tuple[int | None, int | None]:
    """The characters of all numbers with the blanks before and behind them, where these pad them."""
    if not _differ(candidates):
        return None, None
    sides = zip(*(columns_of(text, number) for _, text, number in candidates), strict=True)
    before, behind = (widths.pop() if len(widths := set(side)) == 1 else None for side in sides)
    return before, behind


def _differ(candidates: Sequence[Candidate]) -> bool:
    """Whether numbers of one sign are of different lengths: a sign alone makes up for a digit too."""
    sizes = {(each.value < 0, number.end - number.digits) for each, _, number in candidates}
    return len(sizes) > len({negative for negative, _ in sizes})


def _whole(text: str, number: Number) -> str:
    """The digits of a number before its point, if it is written in decimal digits."""
    found = re.match("[0-9]*", text[number.digits :])
    return found[0] if found else ""


def _zeros_to(candidates: Sequence[Candidate]) -> int | None:
    """The characters of all numbers behind their signs, if they are padded with zeros to so many."""
    widths = {number.end - number.digits for _, _, number in candidates}
    padded = any(re.match("0[0-9]", _whole(text, number)) for _, text, number in candidates)
    return widths.pop() if len(widths) == 1 and padded else None


def _bare(candidates: Sequence[Candidate]) -> bool:
    """Whether numbers grow in length as they must, and none has a zero before its digits."""
    whole = [_whole(text, number) for _, text, number in candidates]
    return len(set(map(len, whole))) > 1 and not any(re.match("0[0-9]", digits) for digits in whole)


def _signs(candidates: Sequence[Candidate]) -> bool:
    return all(number.signed for _, _, number in candidates)
