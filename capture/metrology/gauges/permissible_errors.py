"""What gauges and masters may be off by, as standards have it where no certificate says better.

Sources: ring and disc tolerances ASME B89.1.5 and B89.1.6, also TM 9-243 (three tables
agree); gauge blocks DIN 861 and ISO 3650 (two tables, 25 to 75 mm); external micrometers
DIN 863-1 (a summary table). ISO 463:2006 and ISO 3611:2010 are frameworks without
numbers: the largest permissible error of an indicator is entered by the user.
"""

from __future__ import annotations

from bisect import bisect_left
from math import sqrt

from capture.metrology.units import MM_PER_INCH, MM_PER_UM, from_mm

_RING_RANGES = (0.825, 1.510, 2.510, 4.510, 6.510)
_RING_LEAST = 0.010
_RING_CLASSES: dict[str, tuple[float, ...]] = {
    "XXX": (1e-05, 1.5e-05, 2e-05, 2.5e-05, 3.3e-05),
    "XX": (2e-05, 3e-05, 4e-05, 5e-05, 6.5e-05),
    "X": (4e-05, 6e-05, 8e-05, 1e-04, 1.3e-04),
    "Y": (7e-05, 9e-05, 1.2e-04, 1.5e-04, 1.9e-04),
    "Z": (1e-04, 1.2e-04, 1.6e-04, 2e-04, 2.5e-04),
    "ZZ": (2e-04, 2.4e-04, 3.2e-04, 4e-04, 5e-04),
}
"""Whole tolerance, inch, by class and range."""

_BLOCK_RANGES = (25.0, 50.0, 75.0)
_BLOCK_GRADES: dict[str, tuple[float, float]] = {"0": (0.20, 0.25), "1": (0.40, 0.50), "2": (0.80, 1.00)}
"""Limit deviation, µm, by grade, for 25-50 and 50-75 mm."""

_MICROMETER_RANGES = (25.0, 50.0, 75.0, 100.0)
_MICROMETER_LIMITS = (4.0, 4.0, 5.0, 5.0)
_MICROMETER_FRAMES = (2.0, 2.0, 3.0, 3.0)


def gagemaker_tolerance(size: float, grade: str) -> float:
    """Whole tolerance of a plain ring or disc, mm; a setting master has half of it each way.

    Args:
        size: mm.
        grade: XXX, XX, X, Y, Z or ZZ.

    Raises:
        ValueError: the table has no such class or size.
    """
    row = _RING_CLASSES.get(grade.upper())
    if row is None:
        raise ValueError(f"gagemaker class {grade!r} is not one; {', '.join(_RING_CLASSES)} are")
    inch = round(from_mm(size, "in"), 9)
    if not _RING_LEAST <= inch <= _RING_RANGES[-1]:
        raise ValueError(f"{size:g} mm is outside the table, {_RING_LEAST} to {_RING_RANGES[-1]} in")
    return row[bisect_left(_RING_RANGES, inch)] * MM_PER_INCH


def gauge_block_limit(size: float, grade: str) -> float:
    """Limit deviation of a gauge block of grade 0, 1 or 2, mm either way, over 25 to 75 mm.

    Raises:
        ValueError: the table has no such grade or size.
    """
    row = _BLOCK_GRADES.get(grade)
    if row is None:
        raise ValueError(f"gauge block grade {grade!r} is not kept; {', '.join(_BLOCK_GRADES)} are")
    if not _BLOCK_RANGES[0] < size <= _BLOCK_RANGES[-1]:
        raise ValueError(f"gauge block limits are kept for over 25 to 75 mm; {size:g} mm came")
    return row[bisect_left(_BLOCK_RANGES, size) - 1] * MM_PER_UM


def micrometer_limit(size: float) -> float:
    """Largest error of an external micrometer that measures *size*, mm either way (DIN 863-1, to 100 mm).

    Raises:
        ValueError: the table does not go that far.
    """
    return _of_micrometer(_MICROMETER_LIMITS, size)


def micrometer_deflection(size: float, force: float = 10.0) -> float:
    """Spring of an external micrometer's frame, mm, under a force in newtons (DIN 863-1, per 10 N).

    Raises:
        ValueError: the table does not go that far.
    """
    return _of_micrometer(_MICROMETER_FRAMES, size) * force / 10.0


def error_wanted(tolerance: float, ratio: float = 10.0) -> float:
    """Largest error that a gauge may have for a tolerance, same unit.

    The rule of ten (common practice): for 0.0001 in it asks for 0.25 µm, which no gauge at
    a machine keeps; four to one with a guard band is what can be had.
    """
    return tolerance / ratio


def rectangular(limit: float) -> float:
    """Standard uncertainty of what is only known to lie within ± *limit*: ``limit / sqrt(3)`` (GUM 4.3.7)."""
    return limit / sqrt(3.0)


def _of_micrometer(row: tuple[float, ...], size: float) -> float:
    if not 0.0 < size <= _MICROMETER_RANGES[-1]:
        raise ValueError(f"micrometer limits are kept for over 0 to 100 mm; {size:g} mm came")
    return row[bisect_left(_MICROMETER_RANGES, size)] * MM_PER_UM
