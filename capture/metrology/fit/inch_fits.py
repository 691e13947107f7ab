"""ANSI B4.1 inch fits: running (RC), locational clearance (LC) and transition (LT) classes.

For orientation only, as :mod:`capture.metrology.fit.limits` is: RC1, the closest running
class, leaves at least 0.0004 in on a 2 in shaft, and a fit of 0.0002 in is made to the
bore that is there.

RC1 to RC9: ANSI/ASME B4.1-1967 Tables 8a and 8b as printed in Machinery's Handbook, 31st
edition; where a column of the copy read was garbled, the printed clearances settled it.
LC1 to LC5: Table 9a, from memory, put together from the same standard tolerances by
grade. LC6 to LC11: Table 9b, from memory, the ranges to 1.97 in checked against a public
copy of the table (LC9 to LC11 to 1.19 in); where the copy was garbled, hole, shaft and
clearance settle each other. LT1: Table 10, two ranges read. Standard widths follow the
grade (H5 is as wide as h5); the shafts of LC10, LC11 and RC9 have no letter and stand as
printed.
"""

from __future__ import annotations

from bisect import bisect_left
from math import isfinite

from msgspec import Struct

from capture.metrology.units import MM_PER_THOU, from_mm

_RANGES = (0.12, 0.24, 0.40, 0.71, 1.19, 1.97, 3.15, 4.73, 7.09, 9.85)

_WIDTHS: dict[int, tuple[float, ...]] = {
    4: (0.15, 0.15, 0.15, 0.2, 0.25, 0.3, 0.3, 0.4, 0.5, 0.6),
    5: (0.2, 0.2, 0.25, 0.3, 0.4, 0.4, 0.5, 0.6, 0.7, 0.8),
    6: (0.25, 0.3, 0.4, 0.4, 0.5, 0.6, 0.7, 0.9, 1.0, 1.2),
    7: (0.4, 0.5, 0.6, 0.7, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8),
    8: (0.6, 0.7, 0.9, 1.0, 1.2, 1.6, 1.8, 2.2, 2.5, 2.8),
    9: (1.0, 1.2, 1.4, 1.6, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5),
    10: (1.6, 1.8, 2.2, 2.8, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0),
    11: (2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 9.0, 10.0, 12.0),
    12: (4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0),
    13: (6.0, 7.0, 9.0, 10.0, 12.0, 16.0, 18.0, 22.0, 25.0, 28.0),
}
"""Standard tolerance by grade and range, thousandths of an inch."""

_ALLOWANCES: dict[str, tuple[float, ...]] = {
    "c": (2.5, 2.8, 3.0, 3.5, 4.5, 5.0, 6.0, 7.0, 8.0, 10.0),
    "d": (1.0, 1.2, 1.6, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0),
    "e": (0.6, 0.8, 1.0, 1.2, 1.6, 2.0, 2.5, 3.0, 3.5, 4.0),
    "f": (0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 2.0),
    "g": (0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.4, 0.5, 0.6, 0.6),
    "h": (0.0,) * 10,
    "LC10": (4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 10.0, 11.0, 12.0, 16.0),
    "LC11": (5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 22.0),
}
"""Least clearance under a basic hole, by letter (or class, where it has none) and range, thousandths."""

_RC9_SHAFT = (
    *((4.0, 5.6), (4.5, 6.0), (5.0, 7.2), (6.0, 8.8), (7.0, 10.5)),
    *((8.0, 12.0), (9.0, 13.5), (10.0, 15.0), (12.0, 18.0), (15.0, 22.0)),
)
_LT1_SHAFT = {5: 0.3, 6: 0.3}

_PAIRS: dict[str, tuple[int, str, int]] = {
    "RC1": (5, "g", 4),
    "RC2": (6, "g", 5),
    "RC3": (7, "f", 6),
    "RC4": (8, "f", 7),
    "RC5": (8, "e", 7),
    "RC6": (9, "e", 8),
    "RC7": (9, "d", 8),
    "RC8": (10, "c", 9),
    "LC1": (6, "h", 5),
    "LC2": (7, "h", 6),
    "LC3": (8, "h", 7),
    "LC4": (10, "h", 9),
    "LC5": (7, "g", 6),
    "LC6": (9, "f", 8),
    "LC7": (10, "e", 9),
    "LC8": (10, "d", 9),
    "LC9": (11, "c", 10),
    "LC10": (12, "LC10", 12),
    "LC11": (13, "LC11", 13),
}
"""Grade of the hole, and letter and grade of the shaft (ABC symbols), by class."""

CLASSES: tuple[str, ...] = (*_PAIRS, "RC9", "LT1")
"""The classes that are kept here."""


class InchFit(Struct, frozen=True):
    """Limits of a class at one nominal size; deviations in millimetres, lower first."""

    name: str
    hole: tuple[float, float]
    shaft: tuple[float, float]

    @property
    def least(self) -> float:
        """Least clearance on diameter, mm; negative is an interference."""
        return self.hole[0] - self.shaft[1]

    @property
    def most(self) -> float:
        """Most clearance on diameter, mm."""
        return self.hole[1] - self.shaft[0]

    def contains(self, clearance: float) -> bool:
        """Whether a clearance, mm, lies within the class."""
        return self.least <= clearance <= self.most


def inch_fit(nominal: float, name: str) -> InchFit:
    """Limits of the class *name* for a nominal size in millimetres.

    >>> closest = inch_fit(50.8, "RC1")
    >>> round(closest.least, 5), round(closest.most, 5)
    (0.01016, 0.03048)

    Raises:
        ValueError: the class or the size is not in the tables.
    """
    key = name.upper().replace(" ", "")
    if key not in CLASSES:
        raise ValueError(f"fit class {name!r} is not in the tables; they have {', '.join(CLASSES)}")
    at = _range(nominal)
    if key == "LT1":
        hole, (near, far) = _WIDTHS[7][at], _transition(at, nominal)
    elif key == "RC9":
        hole, (near, far) = _WIDTHS[11][at], _RC9_SHAFT[at]
    else:
        hole_grade, letter, shaft_grade = _PAIRS[key]
        hole, near = _WIDTHS[hole_grade][at], _ALLOWANCES[letter][at]
        far = near + _WIDTHS[shaft_grade][at]
    return InchFit(name=key, hole=(0.0, _mm(hole)), shaft=(_mm(-far), _mm(-near)))


def inch_range(nominal: float) -> tuple[float, float]:
    """The range of nominal size, inches, that a size in mm belongs to: over, up to and including.

    Raises:
        ValueError: the size is outside the tables.
    """
    at = _range(nominal)
    return (_RANGES[at - 1] if at else 0.0, _RANGES[at])


def closest_running(nominal: float) -> InchFit:
    """RC1, the closest running or sliding class, to show how much closer a matched fit is."""
    return inch_fit(nominal, "RC1")


def _range(nominal: float) -> int:
    size = round(from_mm(nominal, "in"), 9)
    if not isfinite(size) or not 0.0 < size <= _RANGES[-1]:
        raise ValueError(f"nominal size {size:g} in: the classes are kept for over 0 to {_RANGES[-1]} in")
    return bisect_left(_RANGES, size)


def _transition(at: int, nominal: float) -> tuple[float, float]:
    half = _LT1_SHAFT.get(at)
    if half is None:
        raise ValueError(f"LT1 is kept for over 1.19 to 3.15 in; {from_mm(nominal, 'in'):g} in came")
    return -half, half


def _mm(thou: float) -> float:
    return round(thou * MM_PER_THOU, 8) + 0.0
