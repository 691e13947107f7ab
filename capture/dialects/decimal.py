"""Lines of decimal text: a sign, digits, a point or a comma, perhaps a unit and a channel."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal, TypeAlias

from msgspec import Struct

from capture.dialects.dialect import Dialect
from capture.events import Decoded, Garbled, Reading, Unit, Wire

Shown: TypeAlias = Literal["mm", "um", "in", "degC", "degF", "K", "%", "deg", "N", "W", "kW", "1"]
"""Units that an instrument may show."""


class Scale(Struct, frozen=True):
    """From a shown unit to ours: add `offset`, then multiply by `factor`."""

    unit: Unit
    factor: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)


SCALES: dict[Shown, Scale] = {
    "mm": Scale("mm"),
    "um": Scale("mm", Fraction(1, 1000)),
    "in": Scale("mm", Fraction(254, 10)),
    "degC": Scale("degC"),
    "degF": Scale("degC", Fraction(5, 9), Fraction(-32)),
    "K": Scale("degC", offset=Fraction(-27315, 100)),
    "%": Scale("%"),
    "deg": Scale("deg"),
    "N": Scale("N"),
    "W": Scale("W"),
    "kW": Scale("W", Fraction(1000)),
    "1": Scale("1"),
}
"""Exact by definition: the inch is 25.4 mm (ISO 31-1), 0 °C is 273.15 K, 1 °C is 1.8 °F (ISO 80000-5)."""

_WRITTEN: dict[str, Shown] = {
    "mm": "mm",
    "um": "um",
    "\xb5m": "um",
    "in": "in",
    "inch": "in",
    '"': "in",
    "c": "degC",
    "degc": "degC",
    "\xb0c": "degC",
    "f": "degF",
    "degf": "degF",
    "\xb0f": "degF",
    "k": "K",
    "%": "%",
    "deg": "deg",
    "\xb0": "deg",
    "n": "N",
    "w": "W",
    "kw": "kW",
}
"""How instruments write units, in small letters; latin-1 for µ and °."""

LONE_CR = 0.05
"""Seconds after which no LF belongs to a CR any more: longer than an interface cable holds a byte back."""

_MOST_DIGITS = 15
"""More decimal digits than these a double can't hold exactly, and no instrument shows them."""

_NUMBER = r"(?P<sign>[+-]?)[ \t]*(?P<digits>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_UNIT = (
    r"(?:[ \t]*(?P<unit>"
    + "|".join(sorted(map(re.escape, _WRITTEN), key=len, reverse=True))
    + r")(?![A-Za-z0-9]))?"
)
_NAME = r"CH[ .]?[0-9]{1,2}|[A-DF-Z][0-9]{0,2}|[0-9]{1,2}[A-Z]"
"""Channel names that are taken as such unasked: CH2, A, B1, 01A. E is left out, as it begins errors."""
_BARE = r"[0-9]{1,2}(?=[ \t]*[:=][ \t]*(?:[+-]|[0-9]*[.,]))"
"""A bare number is a channel only before a colon or equals sign and something that is surely a value."""
_AFTER_NAME = r"(?:[ \t]*[:=][ \t]*|[ \t]+|(?=[+-]))"
_BETWEEN = re.compile(r"[ \t]*;[ \t]*|,(?=[+-])|,[ \t]+|[ \t]+")


class _Field(Struct, frozen=True):
    """One number on a line, with what stands before and behind it."""

    name: str
    sign: str
    digits: str
    unit: str


def decimal_line(
    *,
    unit: Shown = "mm",
    channel: str | None = None,
    longest: int = 128,
    hello: bytes = b"",
    ask: bytes = b"",
    name: str = "decimal-line",
) -> Dialect:
    """Lines ended by CR, LF or both, with one number each or, with *channel*, one of several.

    *unit* is what the numbers are in where the line itself doesn't say; a line that says another unit
    of the same quantity is believed (`Reading.shown` tells), one of another quantity is garbled.
    *channel* picks one number where lines carry several: by its name on the line (`A`, `CH2`, `01A`,
    `1`), or by its place (`#2` is the second number); lines of other channels then say nothing.
    Without it a channel's name is read over, and a line with two numbers is garbled, never guessed at.
    """
    field = _pattern(channel)

    def read(raw: Wire) -> Decoded | None:
        text = raw.strip(" \t\r\n")
        if not text:
            return None
        if len(raw) > longest:
            return Garbled(f"a line of {len(raw)} bytes, at most {longest} were due", raw)
        fields = _fields(text, field)
        if not fields:
            return Garbled("no decimal number with at most a channel and a unit", raw)
        return _chosen(fields, channel, unit, raw)

    return Dialect(
        name,
        line_end,
        read,
        longest,
        hello,
        ask,
        gap=LONE_CR,
        headless=True,
        unchecked=True,
        settled=settled_line,
    )


def _place(channel: str | None) -> int:
    """The number's place on the line that *channel* gives, from 1; 0 where it gives none."""
    place = re.fullmatch(r"#([1-9])", channel or "")
    return int(place[1]) if place else 0


def _pattern(channel: str | None) -> re.Pattern[str]:
    """The pattern of one number with its name and unit, on lines of which *channel* is read."""
    names = [_NAME, _BARE]
    if channel is not None and not _place(channel):
        names = [re.escape(channel), _NAME, "[0-9]{1,2}" if channel.isdecimal() else _BARE]
    return re.compile(rf"(?:(?P<name>{'|'.join(names)}){_AFTER_NAME})?{_NUMBER}{_UNIT}", re.IGNORECASE)


def _chosen(fields: list[_Field], channel: str | None, unit: Shown, raw: Wire) -> Decoded | None:
    """The reading of the number that *channel* picks."""
    if place := _place(channel):
        return _placed(fields, place, unit, raw)
    if channel is not None:
        return _picked(fields, channel, unit, raw)
    if len(fields) > 1:
        return Garbled(f"{len(fields)} numbers on one line: set `channel` to say which counts", raw)
    return _reading(fields[0], unit, raw)


def line_end(data: bytes) -> int:
    r"""Length of the first line with its CR, LF or CRLF; 0 while an LF may still follow a CR.

    >>> [line_end(data) for data in (b"1.5", b"1.5\r", b"1.5\r\n", b"1.5\r1.6", b"1.5\n")]
    [0, 0, 5, 4, 4]
    """
    carriage, feed = data.find(b"\r"), data.find(b"\n")
    if carriage < 0 or 0 <= feed < carriage:
        return feed + 1
    if carriage + 1 == len(data):
        return 0
    return carriage + (2 if feed == carriage + 1 else 1)


def settled_line(data: bytes) -> int:
    """Length of a line that ends in a CR which nothing followed; 0 of an unfinished one."""
    return len(data) if data.endswith(b"\r") else 0


def _fields(text: str, field: re.Pattern[str]) -> list[_Field]:
    """All numbers of a line, or none if anything else stands on it."""
    found: list[_Field] = []
    at = 0
    while match := field.match(text, at):
        found.append(_Field(*match.groups("")))
        if match.end() == len(text):
            return found
        between = _BETWEEN.match(text, match.end())
        if between is None:
            break
        at = between.end()
    return []


def _placed(fields: list[_Field], place: int, unit: Shown, raw: Wire) -> Decoded:
    if len(fields) < place:
        return Garbled(f"{len(fields)} numbers on the line, number {place} was due", raw)
    return _reading(fields[place - 1], unit, raw)


def _picked(fields: list[_Field], channel: str, unit: Shown, raw: Wire) -> Decoded | None:
    if not all(each.name for each in fields):
        return Garbled(f"a number without a channel, channel {channel} was due", raw)
    mine = [each for each in fields if each.name.lower() == channel.lower()]
    if len(mine) > 1:
        return Garbled(f"channel {channel} comes {len(mine)} times on one line", raw)
    return _reading(mine[0], unit, raw) if mine else None


def _reading(field: _Field, due: Shown, raw: Wire) -> Decoded:
    shown = _WRITTEN[field.unit.lower()] if field.unit else due
    scale = SCALES[shown]
    if scale.unit != SCALES[due].unit:
        return Garbled(f"the line says {shown}, {due} was due", raw)
    digits = field.digits.replace(",", ".")
    if len(digits.replace(".", "")) > _MOST_DIGITS:
        return Garbled(f"a number of more than {_MOST_DIGITS} digits", raw)
    decimals = len(digits.partition(".")[2])
    if shown == scale.unit:
        return Reading(float(field.sign + digits) + 0.0, scale.unit, decimals, raw)  # -0.000 is 0
    value = (Fraction(field.sign + digits) + scale.offset) * scale.factor
    return Reading(float(value), scale.unit, decimals, raw, shown)
