"""Lengths as the job's people say them: millimetres and micrometres, or inches and tenths."""

from __future__ import annotations

from capture.metrology.units import MM_PER_INCH
from capture.sheet import Units

TENTH = MM_PER_INCH / 10_000
"""A tenth is 0.0001 in."""


def size(value: float | None, units: Units, places: int = 4) -> str:
    """A whole size.

    >>> size(55.00214, "mm"), size(55.00214, "in"), size(None, "mm")
    ('55.0021 mm', '2.16544 in', '–')
    """
    if value is None:
        return "–"
    return f"{value / MM_PER_INCH:.{places + 1}f} in" if units == "in" else f"{value:.{places}f} mm"


def small(value: float | None, units: Units, *, signed: bool = False) -> str:
    """A difference: micrometres, or tenths.

    >>> small(0.0052, "mm"), small(0.00508, "in"), small(-0.001, "mm", signed=True)
    ('5.2 µm', '2.0 tenths', '-1.0 µm')
    """
    if value is None:
        return "–"
    number = value / TENTH if units == "in" else value * 1000
    text = f"{number:{'+' if signed else ''}.1f}"
    if float(text) == 0:
        text = "0.0"
    return f"{text} {'tenths' if units == 'in' else 'µm'}"


def sure(probability: float) -> str:
    """A probability in per cent; what rounds to certainty is not said to be certain.

    >>> sure(0.9731), sure(0.99998), sure(1e-9)
    ('97.3 %', 'more than 99.9 %', 'less than 0.1 %')
    """
    if probability > 0.9995:
        return "more than 99.9 %"
    if probability < 0.0005:
        return "less than 0.1 %"
    return f"{100 * probability:.1f} %"
