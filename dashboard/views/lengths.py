"""Lengths, temperatures and ages in words, as each trade says them."""

from __future__ import annotations

from math import ceil, isfinite

from capture.metrology.units import from_mm
from capture.sheet.job import Units
from capture.text.lengths import NOTHING
from capture.text.lengths import indicator as as_shown
from capture.text.rounded import WHOLE_SMALL, decimals, quantum, rounded
from dashboard.text.screen import word

_STEPS = ((120, "s", 1), (7200, "min", 60), (172800, "h", 3600))


def size(value: float | None, units: Units, step: float | None = None) -> str:
    """A diameter in mm: to 0.1 µm, or to a tenth of a tenth; no finer than the gauge's *step*, mm.

    >>> size(54.99512, "mm"), size(25.4, "in"), size(54.99512, "mm", 0.001)
    ('54.9951 mm', '1.00000 in', '54.995 mm')
    """
    return _joined(size_parts(value, units, step))


def size_parts(value: float | None, units: Units, step: float | None = None) -> tuple[str, str]:
    """A diameter as its number and its unit; no unit where it is not known."""
    if value is None or not isfinite(value):
        return word("unknown"), ""
    shown = from_mm(rounded(value, step, units), units)
    return _signed(f"{shown:.{decimals(step, units)}f}"), word(f"unit.{units}")


def small(value: float | None, units: Units, step: float | None = None) -> str:
    """A small length in mm: micrometres, or tenths; what reads as nothing in tenths alone is in millionths.

    >>> small(0.0052, "mm"), small(0.00254, "in"), small(0.0001, "in"), small(0.0052, "mm", 0.001)
    ('5.2 µm', '1.0 tenths', '4 millionths', '5 µm')
    """
    number, unit = small_parts(value, units, step)
    if units == "in" and step is None and number == "0.0" and abs(value or 0.0) >= NOTHING:
        return f"{_signed(f'{100 * (fine(value, units) or 0.0):.0f}')} {word('unit.millionths')}"
    return _joined((number, unit))


def indicator(moved: float, units: Units) -> str:
    """A movement with its sign, as the indicator at the table shows it: micrometres, or inches."""
    return _signed(as_shown(moved, units))


def small_parts(value: float | None, units: Units, step: float | None = None) -> tuple[str, str]:
    """A small length as its number and its unit; no unit where it is not known."""
    number = fine(value, units)
    if number is None:
        return word("unknown"), ""
    places = 1 if step is None else min(max(decimals(step, units) - WHOLE_SMALL[units], 0), 1)
    return _plain(number, places), fine_unit(units)


def within(u: float | None, units: Units, step: float | None = None) -> str:
    """How far a figure may be off, rounded up to what is shown, so that it never reads as nothing."""
    if u is None:
        return word("unknown")
    one = quantum(step, units)
    return small(max(ceil(u / one - 1e-6), 1) * one, units, step)


def fine(value: float | None, units: Units) -> float | None:
    """A small length in mm as a number of `fine_unit`."""
    if value is None or not isfinite(value):
        return None
    return from_mm(value, "tenth" if units == "in" else "um")


def fine_unit(units: Units) -> str:
    """What small lengths are said in."""
    return word("unit.tenths" if units == "in" else "unit.um")


def place(z: float, units: Units) -> str:
    """A place along the part, as short as it goes: to a thousandth of an inch.

    >>> place(140.0, "mm"), place(140.0, "in")
    ('140 mm', '5.512 in')
    """
    along = round(from_mm(z, units), 3)
    return _signed(f"{along:g} {word(f'unit.{units}')}")


def degrees(value: float | None) -> str:
    """A temperature in °C, to a tenth."""
    return word("unknown") if value is None else _signed(f"{value:.1f} °C")


def age(seconds: float | None) -> str:
    """How long ago, in the largest unit that still tells.

    >>> age(14.2), age(600), age(None)
    ('14 s', '10 min', '–')
    """
    if seconds is None:
        return word("unknown")
    for limit, unit, step in _STEPS:
        if seconds < limit:
            return word(f"age.{unit}", n=int(max(seconds, 0) // step))
    return word("age.d", n=int(seconds // 86400))


def _joined(parts: tuple[str, str]) -> str:
    return " ".join(filter(None, parts))


def _plain(number: float, places: int = 1) -> str:
    """With *places* decimals, and no minus before a zero."""
    text = f"{number:.{places}f}"
    return text[1:] if text.startswith("-") and float(text) == 0.0 else _signed(text)


def _signed(number: str) -> str:
    """With the minus that stands as high as a plus."""
    return number.replace("-", "−")
