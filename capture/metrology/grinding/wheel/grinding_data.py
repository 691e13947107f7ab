"""Grinding data: work speed, infeed and traverse by material, and the arithmetic of wheel and work.

The rows are Machinery's Handbook, 31st edition, p. 1318, Table 3, basic process data for
cylindrical grinding, in its own units (surface feet per minute, inches of infeed per
pass); traverse fractions come from columns that were hard to read. No published row for
hard chrome was found: its own is common practice.
"""

from __future__ import annotations

from math import pi

from msgspec import Struct

from capture.metrology.units import MM_PER_INCH

MM_PER_FOOT = 12.0 * MM_PER_INCH
_HANDBOOK = "Machinery's Handbook, 31st edition, p. 1318, Table 3"


class Traverse(Struct, frozen=True):
    """Traverse grinding of a material."""

    material: str
    work_speed: float
    """Surface feet per minute."""
    rough: float
    """Infeed per pass, inch, as the handbook has it."""
    finish: tuple[float, float]
    """Least and most finishing infeed per pass, inch."""
    rough_fraction: float
    """Traverse per work revolution as a share of the wheel's width."""
    finish_fraction: float
    source: str = _HANDBOOK


class Plunge(Struct, frozen=True):
    """Plunge grinding of a material: infeed per work revolution, inch."""

    material: str
    rough: float
    finish: float
    source: str = _HANDBOOK


class Chrome(Struct, frozen=True):
    """Grinding hard chrome: a trade text, no standard."""

    deepest_pass: float = 0.01
    """mm."""
    wheel_grades: tuple[str, str] = ("J", "M")
    """Soft to medium."""
    grit: tuple[int, int] = (80, 120)
    coolant: str = "abundant"
    source: str = "common practice, no source"


TRAVERSE: tuple[Traverse, ...] = (
    Traverse("plain carbon steel, hardened", 70.0, 0.002, (0.0003, 0.0005), 1 / 4, 1 / 8),
    Traverse("alloy steel, hardened", 70.0, 0.002, (0.0002, 0.0005), 1 / 4, 1 / 8),
    Traverse("tool steel, hardened", 50.0, 0.002, (0.0001, 0.0005), 1 / 4, 1 / 8),
    Traverse("alloy steel, annealed", 100.0, 0.002, (0.0005, 0.0005), 1 / 2, 1 / 6),
)
PLUNGE: tuple[Plunge, ...] = (
    Plunge("steel, soft", 0.0005, 0.0002),
    Plunge("plain carbon steel, hardened", 0.0002, 0.00005),
    Plunge("alloy and tool steel, hardened", 0.0001, 0.000025),
)
HARD_CHROME = Chrome()


def traverse(material: str) -> Traverse:
    """The traverse row of a material.

    Raises:
        ValueError: the table has no such row.
    """
    for row in TRAVERSE:
        if row.material == material.strip().lower():
            return row
    raise ValueError(f"no traverse data for {material!r}; rows are {'; '.join(r.material for r in TRAVERSE)}")


def plunge(material: str) -> Plunge:
    """The plunge row of a material.

    Raises:
        ValueError: the table has no such row.
    """
    for row in PLUNGE:
        if row.material == material.strip().lower():
            return row
    raise ValueError(f"no plunge data for {material!r}; rows are {'; '.join(r.material for r in PLUNGE)}")


def surface_speed(diameter: float, rpm: float) -> float:
    """Surface speed, mm per minute, of a wheel or a work piece of *diameter* mm."""
    return pi * diameter * rpm


def rpm(diameter: float, speed: float) -> float:
    """Revolutions per minute at which *diameter* mm has a surface speed in mm per minute.

    For a wheel this is the most that its marked speed allows; the marking rules.
    """
    return speed / (pi * diameter)


def sfpm(mm_per_minute: float) -> float:
    """Surface feet per minute of a speed in mm per minute."""
    return mm_per_minute / MM_PER_FOOT


def from_sfpm(feet_per_minute: float) -> float:
    """Millimetres per minute of surface feet per minute."""
    return feet_per_minute * MM_PER_FOOT


def table_speed(wheel_width: float, fraction: float, work_rpm: float) -> float:
    """Table speed, mm per minute, at which a share of the wheel's width passes a work revolution."""
    return wheel_width * fraction * work_rpm
