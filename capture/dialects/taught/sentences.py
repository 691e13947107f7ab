"""Sentences: lines of text with a number in them, and what the words round it mean."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Literal

from msgspec import Struct

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.values import Display, Unread
from capture.dialects.taught.written_numbers import Number, Signed, hexadecimals, numbers

ANY_DIGITS = "{digits}"
"""Stands in a sentence for digits that change and mean nothing, such as a running number."""


ANY_NUMBER = "{number}"
"""Stands in a sentence for a number, with or without a sign and a point, that is not the reading."""

ANY_SIGNED_BEHIND = "{number-}"
"""Stands in a sentence for a number that is not the reading and has its sign behind it."""

WILD = {
    ANY_DIGITS: "[0-9]++",
    ANY_NUMBER: " ?+(?:[+-] ?+)?+(?:[0-9]++(?:[.,][0-9]++)?+|[.,][0-9]++)",
    ANY_SIGNED_BEHIND: " ?+[0-9]++(?:[.,][0-9]++)?+[+-]",
}
"""The pattern of what stands for more than itself in a sentence.

Each can take what it takes in one way alone: with two ways for a blank, forty numbers have 2^40.
"""
_ANY_WILD = "|".join(map(re.escape, WILD))


def counter(digits: int, point: str) -> str:
    """The pattern of a word of so many hexadecimal digits, which is no part of a number with a *point*."""
    return rf"(?<![0-9A-Za-z{point}])[0-9A-Fa-f]{{{digits}}}(?![0-9A-Za-z{point}])"


class Meaning(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """What one combination of words round the number means."""

    before: str
    """What stands before the number; blanks count once, those next to the number not at all."""
    after: str
    unit: ShownUnit
    sign: Literal["+", "-", "written"]
    """Which sign these words mean, or that it stands before the number's digits."""
    display: Display
    point: int | None = None
    """How many digits must stand behind the point: where that tells the unit, or may do so."""
    length: int | None = None
    """Characters on the line, where all lines are of one length though the numbers are not."""
    plus: bool = False
    """A positive number has a plus, so that one without a sign is not whole."""
    width: int | None = None
    """Characters of the number behind its sign, where it is padded with zeros to so many."""
    bare: bool = False
    """It is never padded with zeros, so that a zero before other digits is none of it."""
    column: int | None = None
    """Characters of the number with the blanks before it, where it is padded with them to so many."""
    column_behind: int | None = None
    """Characters of the number with the blanks behind it, where it is padded with them to so many."""

    def fits(self, text: str, number: Number) -> bool:
        """Whether these are the words in *text* round *number*."""
        if self.length not in (None, len(text)) or self.point not in (None, number.decimals):
            return False
        if self.plus and not number.signed:
            return False
        if self.width not in (None, number.end - number.digits):
            return False
        if self.bare and re.match("0[0-9]", text[number.digits :]):
            return False
        columns = zip((self.column, self.column_behind), columns_of(text, number), strict=True)
        if any(due not in (None, came) for due, came in columns):
            return False
        before, after = round_about(text, number, signed=self.sign == "written")
        return _matches(self.before, before) and _matches(self.after, after)

    @property
    def shows_its_head(self) -> bool:
        """Whether a line that has lost its head can be distinguished from a whole one."""
        return bool(self.before) or self.length is not None

    @property
    def has_a_word_before(self) -> bool:
        """Whether what stands before it is more than digits, so that noise in front is none of the number."""
        known = re.sub(_ANY_WILD, "", self.before)
        return bool(known.strip("0123456789+-., "))


def _matches(words: str, text: str) -> bool:
    if not any(wild in words for wild in WILD):
        return words == text
    # Possessive: a file with many of them in a row must not make one line take for ever.
    parts = re.split(f"({_ANY_WILD})", words)
    pattern = "".join(WILD.get(part) or re.escape(part) for part in parts)
    return re.fullmatch(pattern, text) is not None


def columns_of(text: str, number: Number) -> tuple[int, int]:
    """Characters of *number* with the blanks before it, and with those behind it."""
    before, after = text[: number.begin], text[number.end :]
    size = number.end - number.begin
    return size + len(before) - len(before.rstrip(" ")), size + len(after) - len(after.lstrip(" "))


def round_about(text: str, number: Number, *, signed: bool) -> tuple[str, str]:
    """The words before and after *number* in *text*, a sign of its own with the number or with the words."""
    before = text[: number.begin if signed else number.digits]
    return _plain(before), _plain(text[number.end :])


def _plain(words: str) -> str:
    return re.sub(" +", " ", words).strip(" ")


class Sentence(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A line of text with the reading in it."""

    means: tuple[Meaning, ...]
    number: int = 1
    """Which number on the line is the reading."""
    point: Literal[".", ","] = "."
    fractions: bool = False
    """Numbers are written as whole ones and fractions, such as ``1 35/64``."""
    hexadecimal: int = 0
    """Numbers are counts of so many hexadecimal digits; 0: they are decimal."""
    signed: Signed = "no"
    """How a hexadecimal count carries its sign."""
    counter: int = 0
    """Words of so many hexadecimal digits that stand apart are a running number; 0: there are none."""

    def seen(self, text: str) -> str:
        """A line with an underscore for each digit of its running numbers."""
        return re.sub(counter(self.counter, self.point), "_" * self.counter, text) if self.counter else text

    def numbers(self, text: str) -> list[Number]:
        """All numbers on a line that are written as the reading is."""
        if self.hexadecimal:
            return hexadecimals(text, self.hexadecimal, self.signed)
        return numbers(text, self.point, fractions=self.fractions)

    def read(self, text: str) -> tuple[Decimal, ShownUnit]:
        """The number as displayed, and its unit; Unread with the reason where the words are new."""
        text = self.seen(text)
        found = self.numbers(text)
        if len(found) < self.number:
            raise Unread(f"{len(found)} numbers on the line, at least {self.number} were due")
        number = found[self.number - 1]
        for meaning in self.means:
            if meaning.fits(text, number):
                if number.places is not None and number.places < meaning.display.decimals:
                    due = meaning.display.decimals
                    raise Unread(f"{number.value} has {number.places} decimals, {due} were due")
                value = number.value if meaning.sign == "written" else abs(number.value)
                shown = meaning.display.shown(-value if meaning.sign == "-" else value)
                return shown, meaning.unit
        before, after = round_about(text, number, signed=False)
        raise Unread(f"the words round the number were never taught: {before!r} before, {after!r} after")
