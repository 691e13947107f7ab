"""Form across a part: ovality from diameters at angles, lobes, and what a gauge is blind to.

Two-point diameters see even lobes only; a V-block sees some and not others. Source of
the three-point factor: J. Japan Soc. Precision Engineering 43 (514), 1977, 1167
(summit method); method of ISO 4292:1985. The rest is algebra on ``r = r0 + a cos n theta``.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, degrees, hypot, radians, sin, sqrt

import numpy as np
from msgspec import Struct

SEES_LOBES = 0.05
"""Factor under which a gauge is called blind to a lobe count; common practice, no source."""


class Ovality(Struct, frozen=True):
    """Diameters of one station at several angles, taken as an ellipse."""

    mean: float
    """Mean diameter of the ellipse, or of the readings where fewer than three angles were given."""
    u_mean: float
    ovality: float | None
    """Largest less smallest diameter; ``None`` with fewer than three angles."""
    u_ovality: float | None
    """Standard uncertainty; where ovality is not clear of it, ovality reads too large."""
    axis: float | None
    """Angle of the largest diameter, degrees from 0 up to 180; ``None`` where there is no ovality to see."""
    at_least: float
    """Spread of the readings themselves: ovality is no smaller, errors of reading aside."""
    s: float | None
    """Residual standard deviation about the ellipse; ``None`` with three angles or fewer."""
    said: str


def ovality(angles: Sequence[float], diameters: Sequence[float], u: Sequence[float]) -> Ovality:
    """Mean and ovality from diameters at angles: ``D = mean + p cos 2 phi + q sin 2 phi`` by least squares.

    Args:
        angles: Direction of each diameter, degrees; 180 apart is the same diameter.
        diameters: Readings, mm.
        u: Standard uncertainty of each, mm, independent of the others.

    With 0, 60 and 120 degrees this is
    ``(4/3) sqrt(d1^2 + d2^2 + d3^2 - d1 d2 - d2 d3 - d3 d1)``.

    Raises:
        ValueError: no readings, or counts that differ.
    """
    if not diameters or not len(angles) == len(diameters) == len(u):
        raise ValueError(
            f"{len(angles)} angles, {len(diameters)} diameters, {len(u)} uncertainties: they must pair"
        )
    first = diameters[0]
    away = np.asarray(diameters, dtype=float) - first
    phi = 2 * np.radians(np.asarray(angles, dtype=float))
    model = np.column_stack([np.ones_like(phi), np.cos(phi), np.sin(phi)])
    at_least = float(np.ptp(away))
    if np.linalg.matrix_rank(model, tol=1e-3) < 3:
        return _unseen(angles, first + float(away.mean()), u, at_least)
    inverse = np.linalg.pinv(model)
    m, p, q = (float(each) for each in inverse @ away)
    covariance = inverse @ np.diag(np.square(np.asarray(u, dtype=float))) @ inverse.T
    half = hypot(p, q)
    c, s = (p / half, q / half) if half else (1.0, 0.0)
    variance = c * c * covariance[1, 1] + 2 * c * s * covariance[1, 2] + s * s * covariance[2, 2]
    u_ovality = 2 * sqrt(max(float(variance), 0.0))
    seen = 2 * half > 2 * u_ovality
    rest = away - model @ np.array([m, p, q])
    dof = len(diameters) - 3
    return Ovality(
        mean=first + m,
        u_mean=sqrt(float(covariance[0, 0])),
        ovality=2 * half,
        u_ovality=u_ovality,
        axis=degrees(atan2(q, p) / 2) % 180 if seen else None,
        at_least=at_least,
        s=sqrt(float(rest @ rest) / dof) if dof else None,
        said="oval" if seen else "no ovality clear of its uncertainty",
    )


def v_block_factor(lobes: int, angle: float) -> float:
    """Three-point factor, indicator on the bisector opposite the V.

    ``F = 1 + cos(n (90 + alpha/2)) / sin(alpha/2)``: indicated range over radial peak-to-valley.
    A negative factor is lobes seen upside down; 0 is blindness.

    Args:
        lobes: Number of lobes n, 2 or more.
        angle: Included angle alpha of the V, degrees, between 0 and 180.

    >>> round(v_block_factor(3, 60), 3)
    3.0
    """
    _lobes(lobes)
    if not 0 < angle < 180:
        raise ValueError(f"the angle of a V must lie between 0 and 180 degrees, got {angle}")
    factor = 1 + cos(radians(lobes * (90 + angle / 2))) / sin(radians(angle / 2))
    return 0.0 if abs(factor) < 1e-12 else factor


def two_point_factor(lobes: int) -> float:
    """Indicated range of a two-point gauge over radial peak-to-valley: 2 for even lobes, 0 for odd ones."""
    _lobes(lobes)
    return 0.0 if lobes % 2 else 2.0


def matched_angle(lobes: int) -> float:
    """The V, in degrees, that shows an odd lobe count most plainly: ``180 - 360/n``."""
    if lobes < 3 or lobes % 2 == 0:
        raise ValueError(f"a V is matched to an odd number of lobes, 3 or more; got {lobes}")
    return 180 - 360 / lobes


def blind_to(angle: float | None, lobes: Sequence[int] = tuple(range(2, 16))) -> tuple[int, ...]:
    """Lobe counts that a V of an angle, or a two-point gauge (``None``), does not see."""
    return tuple(
        n
        for n in lobes
        if abs(two_point_factor(n) if angle is None else v_block_factor(n, angle)) < SEES_LOBES
    )


def out_of_round(indicated: float, lobes: int, angle: float | None) -> float | None:
    """Radial peak-to-valley from the range that a gauge showed in one turn; ``None`` where it is blind.

    Args:
        indicated: Largest less smallest indication.
        lobes: How many lobes the part has.
        angle: Included angle of the V; ``None`` for a two-point gauge.
    """
    factor = two_point_factor(lobes) if angle is None else v_block_factor(lobes, angle)
    return abs(indicated / factor) if abs(factor) >= SEES_LOBES else None


def lobed_diameter(r0: float, amplitude: float, lobes: int, angle: float) -> float:
    """Two-point diameter at an angle (degrees) of a part ``r0 + amplitude cos(lobes theta)``."""
    _lobes(lobes)
    return 2 * r0 + (0.0 if lobes % 2 else 2 * amplitude * cos(radians(lobes * angle)))


def envelope_growth(amplitude: float) -> float:
    """How much larger on diameter the mating ring must be than twice the mean radius: twice the amplitude."""
    return 2 * abs(amplitude)


def effective_clearance(
    two_point: float, *, odd_shaft: float = 0.0, odd_bore: float = 0.0, bow: float = 0.0
) -> float:
    """Clearance that is left when what two-point gauges do not see is taken off.

    Source: derived; odd lobes add twice their amplitude to the envelope of either part.

    Args:
        two_point: Clearance from two-point diameters, mm.
        odd_shaft: Amplitude of the shaft's odd lobes (half the radial peak-to-valley), mm.
        odd_bore: The same of the bore.
        bow: Straightness deviation of the axis over the engaged length, mm.
    """
    if min(odd_shaft, odd_bore, bow) < 0:
        raise ValueError("amplitudes and bow are sizes: they must be zero or more")
    return two_point - envelope_growth(odd_shaft) - envelope_growth(odd_bore) - bow


def _lobes(lobes: int) -> None:
    if lobes < 2:
        raise ValueError(f"a part has two lobes or more, got {lobes}")


def _unseen(angles: Sequence[float], mean: float, u: Sequence[float], at_least: float) -> Ovality:
    distinct = len({round(angle % 180, 3) for angle in angles})
    said = {
        1: "one angle: ovality is not known, and the mean is that of one diameter",
        2: "two angles: ovality may be larger than they show; a third angle would tell",
    }.get(distinct, "the angles are too close together to tell ovality")
    u_mean = sqrt(sum(each * each for each in u)) / len(u)
    return Ovality(mean, u_mean, None, None, None, at_least, None, said)
