"""Lengths, temperatures and dials: from what a shop says to millimetres, degrees Celsius and diameter.

Every factor here is exact. The inch is 25.4 mm by definition (international inch;
the UCUM tables have ``[in_i]`` = 2.54 cm and ``[mil_i]`` = 0.001 ``[in_i]``). A shop's
"tenth" is a tenth of a thousandth of an inch: 0.0001 in = 2.54 µm.
"""

from __future__ import annotations

from typing import Literal, TypeAlias, get_args

MM_PER_INCH = 25.4
MM_PER_THOU = 0.0254
MM_PER_TENTH = 0.00254
MM_PER_UM = 0.001

LengthUnit: TypeAlias = Literal["mm", "um", "in", "thou", "tenth"]
Dial: TypeAlias = Literal["radius", "diameter"]
"""What an infeed dial is graduated on; it differs between machines and must be given."""

_MM: dict[str, float] = {
    "mm": 1.0,
    "um": MM_PER_UM,
    "in": MM_PER_INCH,
    "thou": MM_PER_THOU,
    "tenth": MM_PER_TENTH,
}


def to_mm(value: float, unit: LengthUnit) -> float:
    """Millimetres in a length given in *unit*.

    >>> round(to_mm(0.0002, "in"), 8)
    0.00508
    >>> to_mm(1.0, "cm")
    Traceback (most recent call last):
    ValueError: length unit 'cm' is not known; say one of mm, um, in, thou, tenth
    """
    return value * _factor(unit)


def from_mm(value: float, unit: LengthUnit) -> float:
    """A length in millimetres, said in *unit*."""
    return value / _factor(unit)


def celsius(fahrenheit: float) -> float:
    """Degrees Celsius of a temperature in degrees Fahrenheit; 68 °F is 20 °C exactly."""
    return (fahrenheit - 32.0) * 5.0 / 9.0


def fahrenheit(celsius: float) -> float:
    """Degrees Fahrenheit of a temperature in degrees Celsius."""
    return celsius * 9.0 / 5.0 + 32.0


def kelvin(celsius: float) -> float:
    """Kelvins of a temperature in degrees Celsius."""
    return celsius + 273.15


def per_kelvin(per_fahrenheit: float) -> float:
    """An expansion coefficient per kelvin, from one per degree Fahrenheit."""
    return per_fahrenheit * 9.0 / 5.0


def infeed_on_diameter(shown: float, dial: Dial) -> float:
    """Infeed on diameter, from what the dial showed; any length unit, the same back.

    Raises:
        ValueError: *dial* is neither ``radius`` nor ``diameter``.
    """
    if dial not in get_args(Dial):
        raise ValueError(f"dial is {dial!r}; it reads on 'radius' or on 'diameter'")
    return 2.0 * shown if dial == "radius" else shown


def shown_on_dial(infeed: float, dial: Dial) -> float:
    """What the dial must show for an infeed on diameter; undoes :func:`infeed_on_diameter`."""
    return infeed / infeed_on_diameter(1.0, dial)


def _factor(unit: str) -> float:
    factor = _MM.get(unit)
    if factor is None:
        raise ValueError(f"length unit {unit!r} is not known; say one of {', '.join(_MM)}")
    return factor
