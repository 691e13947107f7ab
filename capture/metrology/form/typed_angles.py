"""Lobes of a part that is turned by hand from angle to angle, by least squares."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np
from msgspec import Struct

from capture.metrology.uncertainty.propagation import Array

MOST = 15
FEWEST = 6
"""Different angles, for an eccentricity and two lobes."""


class AngleFit(Struct, frozen=True):
    """Harmonics of readings at known angles."""

    order: int
    """The highest harmonic that so many angles tell; higher ones are not seen, and are in those that are."""
    coefficients: Array
    """a_1, b_1, a_2, b_2 … mm."""
    covariance: Array
    spread: float
    """Of one reading about the fit, mm."""


def at_angles(angles: Sequence[float], values: Sequence[float], *, u: float) -> AngleFit:
    """Harmonics by least squares, with a drift straight in the order of the readings.

    Args:
        angles: Degrees; `FEWEST` different ones or more, all round.
        values: mm.
        u: Standard uncertainty of one reading by the gauge alone, mm.

    Raises:
        ValueError: too few angles, or so bunched that they tell no lobes.
    """
    different = len({round(angle % 360, 2) for angle in angles})
    if different < FEWEST or len(angles) != len(values):
        raise ValueError(f"readings at {different} different angles came, due {FEWEST} or more, all round")
    phi = np.radians(np.asarray(angles, dtype=float))
    y = np.asarray(values, dtype=float)
    order = min(MOST, (different - 1) // 2 - (different > 2 * FEWEST))
    drift = [np.linspace(-1, 1, len(y))] if len(y) > 2 * order + 2 else []
    columns = [np.ones_like(phi), *drift]
    first = len(columns)
    for n in range(1, order + 1):
        columns += [np.cos(n * phi), np.sin(n * phi)]
    model = np.column_stack(columns)
    if np.linalg.cond(model) > 1e3:
        raise ValueError("the angles lie too close together to tell lobes: spread them all round the part")
    found = np.linalg.lstsq(model, y, rcond=None)[0]
    rest = y - model @ found
    spare = len(y) - model.shape[1]
    scatter = sqrt(float(rest @ rest) / spare) if spare > 0 else 0.0
    spread = max(scatter, u)
    covariance = np.linalg.inv(model.T @ model) * spread**2
    return AngleFit(order, found[first:], covariance[first:, first:], spread)
