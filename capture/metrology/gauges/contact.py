"""Contact: how far a round measuring face sinks into the part (Hertz).

``delta = (9 F^2 / (16 R E*^2))^(1/3)`` with ``1/E* = (1 - n1^2)/E1 + (1 - n2^2)/E2``
(Johnson, Contact Mechanics; Roark). It cancels in a comparison with a master of the same
material, and only then.
"""

from __future__ import annotations

from math import cbrt

from msgspec import Struct


class Elastic(Struct, frozen=True):
    """Young's modulus, GPa, and Poisson's ratio."""

    modulus: float
    poisson: float = 0.3


STEEL = Elastic(modulus=210.0)


def flattening(radius: float, force: float, tip: Elastic, part: Elastic) -> float:
    """How far a sphere and a flat come together, mm.

    Args:
        radius: Of the sphere, mm.
        force: N.
        tip: Material of the sphere.
        part: Material of the flat.

    Raises:
        ValueError: radius or force is not over 0.
    """
    if not (radius > 0.0 and force > 0.0):
        raise ValueError(f"radius {radius:g} mm and force {force:g} N must both be over 0")
    gives = sum((1.0 - each.poisson**2) / (each.modulus * 1000.0) for each in (tip, part))
    return cbrt(9.0 * force**2 * gives**2 / (16.0 * radius))


def comparison_error(radius: float, force: float, tip: Elastic, part: Elastic, master: Elastic) -> float:
    """What is left of the flattening of both faces when part and master differ, mm on diameter."""
    return 2.0 * (flattening(radius, force, tip, master) - flattening(radius, force, tip, part))
