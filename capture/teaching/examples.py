"""Examples for a lesson: what came, and what a person typed from the display."""

from __future__ import annotations

import re
from decimal import Decimal

from msgspec import Struct

from capture.dialects.decimal import SCALES
from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.framing import Chunk

WIDEST = 24
"""Characters of a number on a display, at the most (our own choice: no display is that wide)."""

UNITS: dict[str, ShownUnit] = {
    **{unit.lower(): unit for unit in SCALES},
    "inch": "in",
    "inches": "in",
    '"': "in",
    "\xb5m": "um",
    "\xb0c": "degC",
    "\xb0f": "degF",
    "\xb0": "deg",
}
"""Units as people type them, in small letters."""


class Example(Struct, frozen=True):
    """One reading: the bytes that came, and what a person saw on the display."""

    chunks: tuple[Chunk, ...]
    shown: Decimal
    """The number on the display, with all its decimals."""
    unit: ShownUnit
    only: bool = False
    """The gauge has no other unit, as its person says."""


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


def unit_named(text: str) -> ShownUnit:
    """The unit that a person calls *text*; ValueError tells which there are."""
    unit = UNITS.get(text.strip().lower())
    if unit is None:
        raise ValueError(f"{text.strip()!r} is no unit: {', '.join(SCALES)} were due")
    return unit
