"""What a gauge shows of a part that turns: the factor of each lobe count for the contacts of a set-up.

A part ``r0 + Re sum c_n exp(i n theta)`` turns; the indicator stands at angle 0 and looks at ``theta``.
Where the part rests on two contacts at ``psi1`` and ``psi2`` from the indicator, its centre moves so that
both keep touching, and the indicator shows ``F_n c_n`` with

``F_n = 1 - (exp(i n psi1) sin psi2 - exp(i n psi2) sin psi1) / sin(psi2 - psi1)``

(derived; with the indicator on the bisector opposite a V it is the factor of ISO 4292:1985's summit method,
as in J. JSPE 43 (514), 1977, p. 1167; inside the V that of its rider method). Angles are degrees and
counted against the turning of the part: in the order in which its places come by the indicator.
"""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from math import pi, radians, sin
from typing import Literal, TypeAlias

from msgspec import Struct

from capture.metrology.form.lobes import SEES_LOBES

Contacts: TypeAlias = Literal["centres", "v", "saddle", "two-point", "three-point"]
"""Between centres or on a rotary axis; in a V with the indicator outside it, opposite; the indicator between
the legs of a V that rides on the part; two opposite contacts; three that open together at 120 degrees."""

LOBES = tuple(range(2, 16))
"""The lobe counts that are looked for; ISO 12181-2 asks for the lobes that the function needs, common
practice for ground parts is up to 15."""


class RoundnessSetup(Struct, frozen=True):
    """How the part and the gauge stand while the part turns."""

    contacts: Contacts
    angle: float = 90.0
    """Included angle of the V, degrees."""
    offset: float = 0.0
    """Of the indicator off the bisector of the V, degrees."""
    at: float = 0.0
    """Where the indicator stands round the part, degrees."""
    turned: float = 0.0
    """By how much the part was turned in its driver, degrees: for a reversal 180."""


def factor(lobes: int, setup: RoundnessSetup) -> complex:
    """What the gauge shows of lobes over their amplitude, with the phase that the contacts give it.

    On diameter for two and three points that measure diameters, radial for all others.

    Raises:
        ValueError: an angle with which the part would not rest on both contacts.
    """
    match setup.contacts:
        case "centres":
            return 1.0 + 0.0j
        case "two-point":
            return complex(0.0 if lobes % 2 else 2.0)
        case "three-point":
            return complex(0.0 if lobes % 3 else 2.0)
        case _:
            _, first, second = touching(setup)
            return resting(lobes, first, second)


def touching(setup: RoundnessSetup) -> tuple[float, ...]:
    """Where the part is touched, degrees from the indicator: a keyway at any of them spoils the reading."""
    match setup.contacts:
        case "centres":
            return (0.0,)
        case "two-point":
            return (0.0, 180.0)
        case "three-point":
            return (0.0, 120.0, 240.0)
        case "v":
            half = 90.0 + _angle(setup) / 2
        case _:
            half = 90.0 - _angle(setup) / 2
    return (0.0, half - setup.offset, -half - setup.offset)


def resting(lobes: int, first: float, second: float) -> complex:
    """The factor of a part that rests on contacts at two angles from the indicator, degrees.

    >>> round(resting(3, 120.0, -120.0).real, 6)
    3.0
    """
    psi1, psi2 = radians(first), radians(second)
    across = sin(psi2 - psi1)
    if abs(across) < 1e-6:
        raise ValueError("the two contacts stand opposite each other: the part does not rest between them")
    found = 1 - (cmath.exp(1j * lobes * psi1) * sin(psi2) - cmath.exp(1j * lobes * psi2) * sin(psi1)) / across
    return 0j if abs(found) < 1e-12 else found


def factor_size(lobes: int, contacts: Contacts, angle: float = 90.0, offset: float = 0.0) -> float:
    """Size of the factor of a set-up: amplitude shown over amplitude of the part (ISO 4292:1985).

    Args:
        lobes: Number of lobes, 2 or more.
        contacts: How the part rests and the gauge touches.
        angle: Included angle of the V, degrees.
        offset: Of the indicator off the bisector, degrees.

    >>> round(factor_size(5, "v", 90.0), 3)
    2.0
    """
    if lobes < 2:
        raise ValueError(f"a part has two lobes or more, got {lobes}")
    return abs(factor(lobes, RoundnessSetup(contacts, angle, offset)))


def unseen_by(setups: Sequence[RoundnessSetup], lobes: Sequence[int] = LOBES) -> tuple[int, ...]:
    """Lobe counts that none of the set-ups shows, at a factor under `SEES_LOBES`."""
    return tuple(n for n in lobes if all(abs(factor(n, one)) < SEES_LOBES for one in setups))


def row(lobes: int, setup: RoundnessSetup) -> tuple[complex, complex, complex]:
    """What is shown of the part's lobes and of the axis' movement along 0 and along 90 degrees.

    ``shown = row . (c_n, X_n, Y_n)``. Turning the part in its driver moves its lobes against the axis'
    movement; a gauge moved round the part sees both later. Derived; reversal and three probes are cases of
    it.
    """
    if setup.contacts == "centres":
        beta = setup.at * pi / 180
        seen = cmath.exp(1j * lobes * radians(setup.at + setup.turned))
        return seen, complex(cmath.cos(beta)), complex(cmath.sin(beta))
    return factor(lobes, setup) * cmath.exp(1j * lobes * radians(setup.at + setup.turned)), 0j, 0j


def _angle(setup: RoundnessSetup) -> float:
    if not 0 < setup.angle < 180:
        raise ValueError(f"the angle of a V must lie between 0 and 180 degrees, got {setup.angle:g}")
    return setup.angle
