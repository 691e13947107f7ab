"""Bore gauge: what tilt and being off the centre do to a two-point reading.

Tilted along the bore it reads too much, ``(D - 2 r)(1 / cos theta - 1)`` with tips of
radius r: the diameter is the least of rocking. Off the centre it reads a chord,
``sqrt(D^2 - 4 e^2)``, too little: the diameter is the most of swinging across. Both errors
are one-sided and quadratic, so a first-order budget takes them as nothing.
"""

from __future__ import annotations

from math import acos, cos, degrees, radians, sin, sqrt


def tilt_error(diameter: float, tilt: float, tip_radius: float = 0.0) -> float:
    """Error of a reading tilted by *tilt* degrees along the bore, mm; never negative."""
    angle = radians(tilt)
    # 1 / cos - 1, rewritten so that a small angle keeps its digits
    return (diameter - 2.0 * tip_radius) * 2.0 * sin(angle / 2.0) ** 2 / cos(angle)


def offset_error(diameter: float, offset: float) -> float:
    """Error of a reading *offset* mm off the centre, mm; never positive.

    Raises:
        ValueError: the offset is outside the bore.
    """
    if abs(offset) > diameter / 2.0:
        raise ValueError(f"{offset:g} mm off the centre is outside a bore of {diameter:g} mm")
    # the difference of two nearly equal lengths, rewritten so that no digits are lost
    return -4.0 * offset**2 / (diameter + sqrt(diameter**2 - 4.0 * offset**2))


def offset_uncertainty(diameter: float, aside: float) -> float:
    """Root mean square, mm, of `offset_error` anywhere within *aside* mm of the middle.

    ``2 e^2 / D`` with e uniform: ``2 aside^2 / (sqrt(5) D)``. The error has one sign; it is not taken off,
    because a gauge that is swung to its largest has none.

    Raises:
        ValueError: *aside* is outside the bore.
    """
    return -offset_error(diameter, aside) / sqrt(5.0)


def tilt_allowed(diameter: float, error: float, tip_radius: float = 0.0) -> float:
    """Tilt, degrees, that makes an error in mm."""
    length = diameter - 2.0 * tip_radius
    return degrees(acos(length / (length + error)))


def offset_allowed(diameter: float, error: float) -> float:
    """Distance off the centre, mm, that makes a reading too small by *error*, mm.

    Raises:
        ValueError: the error is larger than the bore.
    """
    if not 0.0 <= error <= diameter:
        raise ValueError(f"an error of {error:g} mm does not come from a bore of {diameter:g} mm")
    return sqrt(error * (2.0 * diameter - error)) / 2.0
