"""Numbers in text: decimal ones, fractions, and counts in hexadecimal digits."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final, Literal, TypeAlias

from msgspec import Struct

Signed: TypeAlias = Literal["no", "complement", "magnitude", "offset", "ones"]
"""No sign of its own, two's complement, the top bit as the sign, zero in the middle, or ones' complement."""

_NUMBERS: Final = {
    point: re.compile(
        r"(?:([+-]) *)?([0-9]+%s[0-9]*|%s[0-9]+|[0-9]+)(?:[eE]([+-]?[0-9]{1,2})(?![0-9]))?"
        % ((re.escape(point),) * 2)
    )
    for point in (".", ",")
}


class Number(Struct, frozen=True):
    """A number as text, and where it stands."""

    value: Decimal
    """With the sign that stands before it."""
    begin: int
    """Where it begins, its sign included."""
    digits: int
    """Where its digits begin."""
    end: int
    decimals: int
    """Digits behind its point."""
    pointed: bool
    signed: bool
    """Whether a sign stands before the digits."""
    places: int | None = None
    """Digits behind the point that an exponent leaves; None of a number without one."""


_FRACTIONS: Final = re.compile(
    r"(?:([+-]) *)?(?:(?:(?<![0-9A-Za-z])([0-9]++)[ -])?([0-9]{1,3})/(2|4|8|16|32|64|128)(?![0-9/.])"
    r"|(?<![0-9])([0-9]++)(?![0-9/.]))"
)
"""Each run of digits or spaces is gone through once: a gauge that sends nothing else keeps nobody waiting."""


def numbers(text: str, point: str, *, fractions: bool = False) -> list[Number]:
    """All decimal numbers in *text*, or all *fractions* and whole ones, in order."""
    if fractions:
        return [_fraction(match) for match in _FRACTIONS.finditer(text)]
    found = []
    for match in _NUMBERS[point].finditer(text):
        digits = match[2].replace(",", ".")
        value = Decimal(f"{match[1] or ''}{digits}E{match[3] or 0}")
        behind = len(digits.partition(".")[2])
        places = None if match[3] is None else behind - int(match[3])
        begin = match.start() if match[1] else match.start(2)
        found.append(
            Number(value, begin, match.start(2), match.end(), behind, "." in digits, bool(match[1]), places)
        )
    return found


def _fraction(match: re.Match[str]) -> Number:
    sign, whole, above, below, alone = match.groups()
    size = Decimal(alone or whole or 0) + (Decimal(above) / Decimal(below) if above else 0)
    begin = match.start(5 if alone else 2 if whole else 3)
    first = match.start() if sign else begin
    return Number(-size if sign == "-" else size, first, begin, match.end(), 0, False, bool(sign))


def hexadecimals(text: str, digits: int, signed: Signed) -> list[Number]:
    """All counts in *text* of so many hexadecimal digits, one kind of letter within each, in order."""
    kinds = "|".join(f"[{letters}]{{{digits}}}" for letters in ("0-9A-F", "0-9a-f"))
    found = re.finditer(f"(?<![0-9A-Fa-f])(?:{kinds})(?![0-9A-Fa-f])", text)
    return [
        Number(
            with_sign(int(one[0], 16), 4 * digits, signed), *(one.start(),) * 2, one.end(), 0, False, False
        )
        for one in found
    ]


def with_sign(count: int, bits: int, signed: Signed) -> Decimal:
    """*count* of so many bits with the sign that it carries."""
    top = 1 << (bits - 1)
    if signed == "offset":
        return Decimal(count - top)
    if not count & top or signed == "no":
        return Decimal(count)
    below = {"complement": count - 2 * top, "ones": count - 2 * top + 1, "magnitude": top - count}
    return Decimal(below[signed])
