"""Finds the numbers on a line that are not the reading, and leaves them open where they tell nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final, Literal, TypeAlias

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.sentences import ANY_DIGITS, ANY_NUMBER, ANY_SIGNED_BEHIND

Label: TypeAlias = tuple[ShownUnit, Literal["+", "-", "written"]]
"""The unit and the sign that the words of a line must mean."""
Words: TypeAlias = tuple[str, str]
"""What stands before and after the reading."""

_OTHER_COUNT = r"(?<![0-9A-Za-z.,+{-])[1-9][0-9]{2,}(?![0-9A-Za-z.,}])"
"""A number of three digits or more that stands apart: a code of a unit is shorter, or begins with a zero."""
_OTHER_KIND = (
    r"(?<![0-9A-Za-z.+{-])(?<![0-9],)[0-9]+(?:\.[0-9]+)?(?=(?:%|m?V|\xb0?C|m?s|k?Hz)(?![0-9A-Za-z]))"
)
"""A number with the mark of no length behind it: a share, a voltage, a temperature, a time."""
_PART = r"(?:[0-9]{2}|\{digits\})"
_DATE = rf"(?:[0-9]{{4}}|\{{digits\}})-{_PART}-{_PART}[T ]|{_PART}([./]){_PART}\1(?:20)?{_PART} "
_TIME = re.compile(rf"(?<![0-9}}.:])(?:{_DATE})?{_PART}:{_PART}(?::{_PART})?(?![0-9:{{])")
"""A time of day, with a date before it or without (ISO 8601, and as it is written in Europe)."""


def without_other_counts(words: Sequence[Words], labels: Sequence[Label]) -> list[Words]:
    """*words* with times and numbers that stand apart left open, if units still show.

    Once all units and both signs were shown there is nothing left that such a number might tell.
    """

    def opened(side: str) -> str:
        side = _TIME.sub(lambda time: re.sub("[0-9]+", ANY_DIGITS, time[0]), side)
        return re.sub(_OTHER_COUNT, ANY_DIGITS, re.sub(_OTHER_KIND, ANY_NUMBER, side))

    return _if_told([(opened(before), opened(after)) for before, after in words], words, labels)


def _if_told(opened: list[Words], words: Sequence[Words], labels: Sequence[Label]) -> list[Words]:
    """*opened* if it still tells the sign and the unit, else *words*."""
    same = len(set(zip(opened, labels, strict=True))) == len(set(opened)) == len(set(labels))
    return opened if same else list(words)


def without_other_sizes(words: Sequence[Words], labels: Sequence[Label], *, comma: bool) -> list[Words]:
    """*words* with numbers of two decimals and more left open, if they still tell the sign and the unit.

    It is the size of something else that did not change in the lesson, such as the largest so far; *comma*:
    their points are commas.
    """
    mark = "," if comma else r"\."
    seen, changed = rf"[0-9]*{mark}[0-9]{{2,}}", rf"\{{digits\}}{mark}\{{digits\}}"
    size = rf"(?: ?[+-] ?| )?(?<![0-9}}{mark}])(?:{seen}|{changed})(?![0-9{mark}])"
    opened = [(re.sub(size, ANY_NUMBER, before), re.sub(size, ANY_NUMBER, after)) for before, after in words]
    return _if_told(opened, words, labels)


_HALF_OPEN = (
    r"\{digits\}[.,]\{digits\}"
    r"|(?<![0-9.}])[0-9]+\.\{digits\}(?![.])"
    r"|(?<![.0-9])\{digits\}\.[0-9]+(?![0-9.])"
)
"""A number of which only the digits on one side of the point are open, and that is no part of a date."""
_OTHER_NUMBER = "((?: ?[+-] ?| )?(?:[0-9]+(?:[.,][0-9]+)?|(?<![0-9])[.,][0-9]+))"
"""Another number on the line, with a blank in the place of its sign where it has none."""
_SIGN_BEHIND = "( ?[0-9]+(?:[.,][0-9]+)?[+-](?! ?[0-9.,]))"
"""Another number on the line, with its sign behind it."""


def loosened(words: Sequence[Words], labels: Sequence[Label]) -> list[Words]:
    """*words* with digits, or else numbers, left open that change though the sign and the unit do not."""
    words = _opened(words, labels, _SIGN_BEHIND, ANY_SIGNED_BEHIND)
    digits = _opened(words, labels, "([0-9]+)", ANY_DIGITS)
    enough = len(set(zip(digits, labels, strict=True))) <= len(set(labels))
    if enough and not any(re.search(_HALF_OPEN, side) for both in digits for side in both):
        return digits
    numbers = _opened(words, labels, _OTHER_NUMBER, ANY_NUMBER)
    return numbers if len(set(numbers)) <= len(set(digits)) - (not enough) else digits


def _opened(words: Sequence[Words], labels: Sequence[Label], pattern: str, wild: str) -> list[Words]:
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
