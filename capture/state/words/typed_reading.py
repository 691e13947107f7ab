"""A reading that was typed: by a gauge that acts as a keyboard, or read off a display by eye."""

from __future__ import annotations

import re
from fractions import Fraction

from capture.events import Reading
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Gauge

_NUMBER = re.compile(r"(?P<sign>[+-]?)(?P<number>\d{1,9}(?:[.,]\d{1,9})?|[.,]\d{1,9})")


def typed(gauge: Gauge, text: str) -> Reading:
    """What *text* means as a reading of *gauge*, in the unit that the sheet gives its bare numbers.

    An inch is exactly 25.4 mm, a degree Fahrenheit exactly 5/9 K.

    >>> typed(Gauge("mike", "diameter", {}, unit="in"), "2.1654").value
    55.00116

    Raises:
        ValueError: It is no decimal number; says what came and what was due.
    """
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"came {text.strip()[:40]!r}, due a decimal number such as 55.012")
    number = found["number"].replace(",", ".")
    value = Fraction(found["sign"] + number)
    digits = len(number.partition(".")[2])
    match gauge.unit:
        case "in":
            return Reading(float(value * Fraction(str(MM_PER_INCH))), "mm", digits, text, "in")
        case "degF":
            return Reading(float((value - 32) * Fraction(5, 9)), "degC", digits, text, "degF")
        case "kW":
            return Reading(float(value * 1000), "W", digits, text, "kW")
        case unit:
            return Reading(float(value), unit, digits, text)
