"""ISO 286 limits and fits: where a close sliding fit stands among the standard ones.

For orientation only. No standard running fit is as close as an individually matched one
of a few micrometres, so a fit made here is never judged by these tables but by its
measured clearance and its uncertainty.

What is from where:

* Standard tolerances IT01 to IT18 to 500 mm: ISO 286-1:2010 Table 1, in three printed
  copies that agree. The formulas give near values only; the table rules.
* Shaft deviations a to u (without cd, ef, fg) and hole deviations J6 to J8: ISO 286-1
  Tables 2 to 5, as reprinted in a machine-drawing textbook (Tables 15.2 and 15.3) and in
  part in Machinery's Handbook, 31st edition (BS 4500:1969, Table 6a). Compared with two
  public transcriptions: 33 124 hole-basis fits of c to u agree; of 1 480 zones six do
  not, each a misprint there, as its own width is not the standard tolerance.
* Hole deviations: by the standard's rule from the shaft's: A to H by EI = -es; K to N to
  IT8 and P to U to IT7 by ES = -ei + delta with delta = IT(n) - IT(n-1) over 3 mm; ES =
  -ei beyond; with its two exceptions, N above IT8 (ES = 0 over 3 mm) and M6 over 250 to
  315 mm (ES = -9). The printed delta columns are those differences, 3 to 500 mm.

A nominal size belongs to the range "over the lower, up to and including the upper".
Lengths are millimetres. Nothing is guessed: a combination that the tables do not have is
an error that says so.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from math import cbrt, isfinite, pow, sqrt  # noqa: A004 - math.pow keeps the type float

from msgspec import Struct

from capture.metrology.fit import it_tables as tables
from capture.metrology.units import MM_PER_UM

GRADES: tuple[str, ...] = tuple(tables.STANDARD_TOLERANCES)
"""Standard tolerance grades, finest first: "01", "0", "1" … "18"."""

_ZONE = re.compile(r"([A-Za-z]{1,2}?)(01|0|1[0-8]|[1-9])")
_STEPS = (7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000, 1600, 2500)
_FORMULA_STEPS = dict(zip(GRADES[GRADES.index("5") :], _STEPS, strict=True))
_DEVIATION_FORMULAS = {"d": (-16.0, 0.44), "e": (-11.0, 0.41), "f": (-5.5, 0.41), "g": (-2.5, 0.34)}
_M6_EXCEPTION = -9
_NEAR_ZERO = ("k", "m", "n")


class Zone(Struct, frozen=True):
    """A tolerance zone: the limit deviations from the nominal size, mm."""

    name: str
    nominal: float
    lower: float
    """ei of a shaft, EI of a hole."""
    upper: float
    """es of a shaft, ES of a hole."""

    @property
    def smallest(self) -> float:
        """Lower limit of size, mm."""
        return self.nominal + self.lower

    @property
    def largest(self) -> float:
        """Upper limit of size, mm."""
        return self.nominal + self.upper


class StandardFit(Struct, frozen=True):
    """A hole and a shaft zone of one nominal size."""

    hole: Zone
    shaft: Zone

    @property
    def least(self) -> float:
        """Least clearance on diameter, mm; negative is an interference."""
        return self.hole.lower - self.shaft.upper

    @property
    def most(self) -> float:
        """Most clearance on diameter, mm."""
        return self.hole.upper - self.shaft.lower


def size_range(nominal: float) -> tuple[int, int]:
    """The range, mm, that a nominal size belongs to: over the first, up to and including the second.

    >>> size_range(50.0), size_range(50.8)
    ((30, 50), (50, 80))

    Raises:
        ValueError: the size is not over 0 and up to 500 mm.
    """
    at = _index(nominal, tables.RANGES)
    return (tables.RANGES[at - 1] if at else 0, tables.RANGES[at])


def standard_tolerance(nominal: float, grade: str | int) -> float:
    """Width of the standard tolerance of a grade, mm, from the table.

    >>> standard_tolerance(55.0, "IT7")
    0.03

    Raises:
        ValueError: the size is outside the table, or the grade is none of IT01 to IT18.
    """
    return _tolerance_um(nominal, _grade(grade)) * MM_PER_UM


def tolerance_factor(nominal: float) -> float:
    """Standard tolerance factor i of the size's range, mm: ``0.45 D^(1/3) + 0.001 D`` µm.

    D is the geometric mean of the range, mm (ISO 286-1; for 0 to 3 mm that is sqrt(3)).
    """
    d = geometric_mean(nominal)
    return (0.45 * cbrt(d) + 0.001 * d) * MM_PER_UM


def tolerance_by_formula(nominal: float, grade: str | int) -> float:
    """What the formula gives for IT5 to IT18, mm: 7, 10, 16, 25 … times the factor i.

    For comparison only: the standard rounds by rules of its own, and the table is up to
    13 % away for the smallest sizes.

    Raises:
        ValueError: the formula is not for that grade.
    """
    step = _FORMULA_STEPS.get(_grade(grade))
    if step is None:
        raise ValueError(f"no formula in i for IT{_grade(grade)}; it is for IT5 to IT18")
    return step * tolerance_factor(nominal)


def deviation_by_formula(nominal: float, letter: str) -> float:
    """Upper deviation of shafts d, e, f, g by formula (ISO 286-1, from memory), mm.

    ``d = -16 D^0.44, e = -11 D^0.41, f = -5.5 D^0.41, g = -2.5 D^0.34`` µm; the table rules.

    Raises:
        ValueError: no formula is kept for that letter.
    """
    formula = _DEVIATION_FORMULAS.get(letter)
    if formula is None:
        raise ValueError(f"no formula kept for the deviation of {letter!r}; there is one for d, e, f and g")
    factor, power = formula
    return factor * pow(geometric_mean(nominal), power) * MM_PER_UM


def geometric_mean(nominal: float) -> float:
    """Geometric mean of the ends of the size's range, mm; the first is taken from 1 to 3."""
    over, upto = size_range(nominal)
    return sqrt(max(over, 1) * upto)


def zone(nominal: float, name: str) -> Zone:
    """The tolerance zone of a hole (capital letter) or a shaft (small letter).

    >>> zone(55.0, "g6")
    Zone(name='g6', nominal=55.0, lower=-0.029, upper=-0.01)
    >>> zone(55.0, "H1.5")
    Traceback (most recent call last):
    ValueError: zone 'H1.5' is not one: a letter and a grade are due, such as H7 or g6

    Raises:
        ValueError: the name cannot be read, or the tables do not have it for that size.
    """
    letter, grade = _named(name)
    width = _tolerance_um(nominal, grade)
    if letter in {"js", "JS"}:
        lower, upper = -width / 2.0, width / 2.0
    elif letter.islower():
        lower, upper = _shaft_um(nominal, letter, grade, width)
    else:
        lower, upper = _hole_um(nominal, letter, grade, width)
    return Zone(name=name, nominal=nominal, lower=_mm(lower), upper=_mm(upper))


def fit(nominal: float, hole: str, shaft: str) -> StandardFit:
    """The fit of two zones, such as H7 and g6.

    >>> found = fit(55.0, "H7", "g6")
    >>> round(found.least, 3), round(found.most, 3)
    (0.01, 0.059)

    Raises:
        ValueError: *hole* is not a hole's zone, *shaft* not a shaft's, or one is not in the tables.
    """
    if not hole[:1].isupper() or not shaft[:1].islower():
        raise ValueError(f"fit {hole}/{shaft}: the hole comes first in capitals, then the shaft, as in H7/g6")
    return StandardFit(hole=zone(nominal, hole), shaft=zone(nominal, shaft))


def _mm(um: float) -> float:
    """Micrometres of the tables in mm, as the decimal that is meant and not a hair beside it."""
    return round(um * MM_PER_UM, 7) + 0.0


def _index(nominal: float, ranges: tuple[int, ...]) -> int:
    if not isfinite(nominal) or not 0.0 < nominal <= ranges[-1]:
        raise ValueError(f"nominal size {nominal:g} mm: the tables are for sizes over 0 to {ranges[-1]} mm")
    return bisect_left(ranges, nominal)


def _grade(grade: str | int) -> str:
    text = str(grade).upper().removeprefix("IT")
    if text not in tables.STANDARD_TOLERANCES:
        raise ValueError(f"tolerance grade {grade!r} is not one: IT01, IT0, IT1 to IT18 are")
    return text


def _named(name: str) -> tuple[str, str]:
    match = _ZONE.fullmatch(name)
    if match is None:
        raise ValueError(f"zone {name!r} is not one: a letter and a grade are due, such as H7 or g6")
    return match[1], match[2]


def _tolerance_um(nominal: float, grade: str) -> float:
    at = _index(nominal, tables.RANGES)
    if nominal <= 1.0 and grade in {"14", "15", "16", "17", "18"}:
        raise ValueError(f"IT{grade} is not for sizes up to 1 mm (ISO 286-1); {nominal:g} mm came")
    return tables.STANDARD_TOLERANCES[grade][at]


def _shaft_um(nominal: float, letter: str, grade: str, width: float) -> tuple[float, float]:
    upper = _upper_um(nominal, letter)
    if upper is not None:
        return upper - width, upper
    if letter == "j":
        lower = _of_grade(tables.J_SHAFT_LOWER, nominal, letter, grade)
    else:
        lower = _lower_um(nominal, letter, grade)
    return lower, lower + width


def _upper_um(nominal: float, letter: str) -> float | None:
    """Upper deviation of shafts a to h, or None for the letters after them."""
    if letter in {"a", "b"} and nominal <= 1.0:
        raise ValueError(f"{letter} is not for sizes up to 1 mm (ISO 286-1); {nominal:g} mm came")
    if letter in tables.SHAFT_UPPER:
        return tables.SHAFT_UPPER[letter][_index(nominal, tables.RANGES)]
    if letter in tables.SHAFT_UPPER_FINE:
        return tables.SHAFT_UPPER_FINE[letter][_index(nominal, tables.FINE_RANGES)]
    return None


def _lower_um(nominal: float, letter: str, grade: str) -> float:
    """Lower deviation of shafts k to u."""
    if letter == "k" and grade not in {"4", "5", "6", "7"}:
        return 0.0
    if letter in tables.SHAFT_LOWER:
        return tables.SHAFT_LOWER[letter][_index(nominal, tables.RANGES)]
    if letter in tables.SHAFT_LOWER_FINE:
        lower = tables.SHAFT_LOWER_FINE[letter][_index(nominal, tables.FINE_RANGES)]
        if lower is not None:
            return lower
    raise ValueError(f"the tables have no deviation {letter!r} for {nominal:g} mm")


def _of_grade(rows: dict[str, tuple[int, ...]], nominal: float, letter: str, grade: str) -> float:
    row = rows.get(grade)
    if row is None:
        raise ValueError(f"{letter}{grade}: the tables have {letter} for IT{min(rows)} to IT{max(rows)} only")
    return row[_index(nominal, tables.RANGES)]


def _hole_um(nominal: float, letter: str, grade: str, width: float) -> tuple[float, float]:
    small = letter.lower()
    mirrored = _upper_um(nominal, small)
    if mirrored is not None:
        return -mirrored, -mirrored + width
    if letter == "J":
        upper = _of_grade(tables.J_HOLE_UPPER, nominal, letter, grade)
    else:
        upper = _hole_upper_um(nominal, small, grade)
    return upper - width, upper


def _hole_upper_um(nominal: float, letter: str, grade: str) -> float:
    """Upper deviation of holes K to U by the delta rule and its exceptions."""
    order, small_sizes = GRADES.index(grade), nominal <= tables.RANGES[0]
    last = "8" if letter in _NEAR_ZERO else "7"
    if order > GRADES.index(last):
        return _coarse_hole_upper_um(nominal, letter, grade)
    if letter == "m" and grade == "6" and size_range(nominal) == (250, 315):
        return _M6_EXCEPTION
    ei = _lower_um(nominal, letter, "6")
    if small_sizes:
        return -ei
    if order < GRADES.index("3"):
        raise ValueError(f"{letter.upper()}{grade}: the standard gives no delta for grades finer than IT3")
    return -ei + _tolerance_um(nominal, grade) - _tolerance_um(nominal, GRADES[order - 1])


def _coarse_hole_upper_um(nominal: float, letter: str, grade: str) -> float:
    if letter == "k" and nominal > tables.RANGES[0]:
        raise ValueError(f"K{grade}: over 3 mm the standard has K up to IT8 only")
    if letter == "n" and nominal > tables.RANGES[0]:
        return 0.0
    return -_lower_um(nominal, letter, grade)
