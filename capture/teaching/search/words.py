"""Finds what the words round a number mean: the unit, the sign, and which of them may change."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import product
from typing import Final, Literal, TypeAlias

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.sentences import ANY_DIGITS, ANY_NUMBER, Meaning, columns_of, round_about
from capture.dialects.taught.written_numbers import Number
from capture.teaching.search.matching import Match, Taught

Candidate: TypeAlias = tuple[Taught, str, Number]
"""An example, a line of it, and the number on that line which the display showed."""

Label: TypeAlias = tuple[ShownUnit, Literal["+", "-", "written"]]
"""The unit and the sign that the words of a line must mean."""

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
        words, states = _judgements(_loosened(words, labels), labels)
    if signed and len({unit for unit, _ in labels}) > 1:
        words = _without_other_counts(words, labels)
    words = _without_other_sizes(words, labels, candidates)
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
        wild = ANY_DIGITS in before + after or ANY_NUMBER in before + after
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


_OTHER_COUNT = r"(?<![0-9A-Za-z.,+{-])[1-9][0-9]{2,}(?![0-9A-Za-z.,}])"
"""A number of three digits or more that stands apart: a code of a unit is shorter, or begins with a zero."""


def _without_other_counts(words: Sequence[tuple[str, str]], labels: Sequence[Label]) -> list[tuple[str, str]]:
    """*words* with numbers that stand apart left open, such as a battery's state, if units still show.

    Once both units and both signs were shown there is nothing left that such a number might tell.
    """
    opened = [
        (re.sub(_OTHER_COUNT, ANY_DIGITS, before), re.sub(_OTHER_COUNT, ANY_DIGITS, after))
        for before, after in words
    ]
    same = len(set(zip(opened, labels, strict=True))) == len(set(opened)) == len(set(labels))
    return opened if same else list(words)


def _without_other_sizes(
    words: Sequence[tuple[str, str]], labels: Sequence[Label], candidates: Sequence[Candidate]
) -> list[tuple[str, str]]:
    """*words* with numbers of two decimals and more left open, if they still tell the sign and the unit.

    It is the size of something else that did not change in the lesson, such as the largest so far.
    """
    comma = any("," in text[number.digits : number.end] for _, text, number in candidates)
    mark = "," if comma else r"\."
    seen, changed = rf"[0-9]*{mark}[0-9]{{2,}}", rf"\{{digits\}}{mark}\{{digits\}}"
    size = rf"(?: ?[+-] ?| )?(?<![0-9}}{mark}])(?:{seen}|{changed})(?![0-9{mark}])"
    opened = [tuple(re.sub(size, ANY_NUMBER, side) for side in both) for both in words]
    same = len(set(zip(opened, labels, strict=True))) == len(set(opened)) == len(set(labels))
    return [(before, after) for before, after in opened] if same else list(words)


_HALF_OPEN = (
    r"\{digits\}[.,]\{digits\}"
    r"|(?<![0-9.}])[0-9]+\.\{digits\}(?![.])"
    r"|(?<![.0-9])\{digits\}\.[0-9]+(?![0-9.])"
)
"""A number of which only the digits on one side of the point are open, and that is no part of a date."""
_OTHER_NUMBER = "((?: ?[+-] ?| )?(?:[0-9]+(?:[.,][0-9]+)?|(?<![0-9])[.,][0-9]+))"
"""Another number on the line, with a blank in the place of its sign where it has none."""


def _loosened(words: Sequence[tuple[str, str]], labels: Sequence[Label]) -> list[tuple[str, str]]:
    """*words* with digits, or else numbers, left open that change though the sign and the unit do not."""
    digits = _opened(words, labels, "([0-9]+)", ANY_DIGITS)
    enough = len(set(zip(digits, labels, strict=True))) <= len(set(labels))
    if enough and not any(re.search(_HALF_OPEN, side) for both in digits for side in both):
        return digits
    numbers = _opened(words, labels, _OTHER_NUMBER, ANY_NUMBER)
    return numbers if len(set(numbers)) <= len(set(digits)) - (not enough) else digits


def _opened(
    words: Sequence[tuple[str, str]], labels: Sequence[Label], pattern: str, wild: str
) -> list[tuple[str, str]]:
    """*words* with *wild* for what *pattern* finds, where it changes though the sign and the unit do not.

    Of a time of day all is open where its seconds are: the hour did not change in the lesson, and will.
    """
    sides: list[list[str]] = []
    for side in (0, 1):
        split = [re.split(pattern, both[side]) for both in words]
        if len({len(each) for each in split}) > 1:
            return list(words)
        columns = list(zip(*split, strict=True))
        changing = {
            place
            for place, column in enumerate(columns)
            if place % 2 and len(set(zip(column, labels, strict=True))) > len(set(labels))
        }
        for time in _times(columns):
            if changing & time:
                changing |= time
        for place in changing:
            columns[place] = (wild,) * len(words)
        sides.append(["".join(each) for each in zip(*columns, strict=True)])
    return list(zip(*sides, strict=True))


_LINKS: Final = ({":"}, {"-"}, {"/"}, {"T"}, {"."}, {""})
"""What may stand between the parts of a time and of the date before it (ISO 8601 and others)."""


def _times(columns: Sequence[tuple[str, ...]]) -> Iterator[set[int]]:
    """The places of each time of day among *columns*, with its date: every second column is digits."""
    chain = {1}
    linked = False
    for place in range(3, len(columns) + 2, 2):
        between = set(columns[place - 1]) if place < len(columns) else set()
        if between in _LINKS:
            chain.add(place)
            linked |= between == {":"}
            continue
        if linked:
            yield chain
        chain, linked = {place}, False


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
