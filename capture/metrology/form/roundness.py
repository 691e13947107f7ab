"""Roundness: reference circles through radii swept on a rotary table or in a V.

Least squares, minimum zone, minimum circumscribed and maximum inscribed circles with
RONt, RONp, RONv and RONq (ISO 12181-1:2011, ISO 4291:1985). Radii are taken as
deviations, so the circle is a limaçon; `exact_circle` works on the true geometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, sqrt
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from capture.metrology.uncertainty.propagation import Array

Reference: TypeAlias = Literal["least squares", "minimum zone", "minimum circumscribed", "maximum inscribed"]


class Roundness(Struct, frozen=True):
    """A reference circle and the departures from it, in the unit of the readings."""

    reference: Reference
    x: float
    """Centre, along 0 degrees."""
    y: float
    """Centre, along 90 degrees."""
    radius: float
    """Radius, as a deviation like the readings."""
    RONt: float
    """Peak to valley."""
    RONp: float
    """Highest peak above the circle."""
    RONv: float
    """Deepest valley below it."""
    RONq: float
    """Root mean square."""
    residuals: tuple[float, ...]


class Harmonic(Struct, frozen=True):
    """One lobe count of a swept profile."""

    lobes: int
    amplitude: float
    phase: float
    """Angle of a lobe's top, degrees, from 0 up to 360 over the lobes."""


def roundness(
    angles: Sequence[float], deviations: Sequence[float], reference: Reference = "least squares"
) -> Roundness:
    """Fit a reference circle to radii.

    Args:
        angles: Degrees, four different ones or more; they need not be equally spaced.
        deviations: Radius less a constant, at each angle.
        reference: Which circle.

    The limaçon is off by the square of the eccentricity over twice the radius: under
    0.001 µm for 5 µm on 25 mm.
    """
    model, r = _model(angles, deviations)
    if reference == "least squares":
        x, y, radius = (float(each) for each in np.linalg.lstsq(model, r, rcond=None)[0])
    else:
        x, y, radius = _extreme(model, r, reference)
    return _against(reference, r - model @ np.array([x, y, radius]), x, y, radius)


def exact_circle(x: Sequence[float], y: Sequence[float], *, most_steps: int = 50) -> Roundness:
    """Least-squares circle through points by their true distances (Gauss and Newton's method).

    Args:
        x: Coordinates, mm; three or more, not on one line.
        y: Coordinates, mm.
        most_steps: Where to give up.

    Returns:
        Centre, radius and departures; the radius is the full one.

    Raises:
        ValueError: counts that differ, points on one line, or a search without an end.
    """
    px, py = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if len(px) != len(py) or len(px) < 3:
        raise ValueError(f"a circle needs three points or more, got {len(px)} x and {len(py)} y")
    centre = np.array([px.mean(), py.mean()])
    lines = np.column_stack([px - centre[0], py - centre[1], np.ones_like(px)])
    if np.linalg.matrix_rank(lines) < 3:
        raise ValueError("the points lie on one line: no circle goes through them")
    bend = np.linalg.lstsq(lines, (lines[:, :2] ** 2).sum(axis=1), rcond=None)[0]
    centre += bend[:2] / 2
    for _ in range(most_steps):
        dx, dy = px - centre[0], py - centre[1]
        r = np.hypot(dx, dy)
        step = np.linalg.lstsq(np.column_stack([dx / r, dy / r, np.ones_like(r)]), r, rcond=None)[0]
        centre += step[:2]
        if np.hypot(*step[:2]) <= 1e-14 * r.max():
            r = np.hypot(px - centre[0], py - centre[1])
            radius = float(r.mean())
            return _against("least squares", r - radius, float(centre[0]), float(centre[1]), radius)
    raise ValueError(f"the circle was not found in {most_steps} steps: the points span too short an arc")


def harmonics(angles: Sequence[float], deviations: Sequence[float], highest: int) -> tuple[Harmonic, ...]:
    """Amplitude of each lobe count from 2 to *highest*, centre and radius taken out, by least squares.

    Args:
        angles: Degrees; ``2 highest + 1`` different ones or more, all round.
        deviations: Radius less a constant, at each angle.
        highest: Largest lobe count, 2 or more.
    """
    if highest < 2 or len(angles) < 2 * highest + 1 or len(angles) != len(deviations):
        raise ValueError(f"{highest} lobes need {2 * highest + 1} readings or more, got {len(deviations)}")
    phi = np.radians(np.asarray(angles, dtype=float))
    columns = [np.ones_like(phi)]
    for n in range(1, highest + 1):
        columns += [np.cos(n * phi), np.sin(n * phi)]
    found, _, rank, _ = np.linalg.lstsq(np.column_stack(columns), np.asarray(deviations, dtype=float))
    if rank < len(columns):
        raise ValueError(f"these angles cannot tell {highest} lobes apart: spread more of them all round")
    pairs = ((n, float(found[2 * n - 1]), float(found[2 * n])) for n in range(2, highest + 1))
    return tuple(
        Harmonic(n, hypot(a, b), float(np.degrees(np.arctan2(b, a)) / n) % (360 / n)) for n, a, b in pairs
    )


def _model(angles: Sequence[float], deviations: Sequence[float]) -> tuple[Array, Array]:
    if len(angles) != len(deviations):
        raise ValueError(f"{len(angles)} angles and {len(deviations)} readings: each reading needs its angle")
    if len({round(angle % 360, 6) for angle in angles}) < 4:
        raise ValueError("roundness needs readings at four different angles or more")
    phi = np.radians(np.asarray(angles, dtype=float))
    model = np.column_stack([np.cos(phi), np.sin(phi), np.ones_like(phi)])
    return model, np.asarray(deviations, dtype=float)


def _extreme(model: Array, r: Array, reference: Reference) -> tuple[float, float, float]:
    """The circle of a minimum or maximum, as a linear program in centre and radii."""
    from scipy.optimize import linprog  # noqa: PLC0415  # a second to import, and only these circles need it

    size = float(np.ptp(r)) or 1.0
    readings = (r - r.mean()) / size
    xy, one = model[:, :2], model[:, 2:]
    under, over, nothing = np.hstack([-xy, -one]), np.hstack([xy, one]), np.zeros_like(one)
    match reference:
        case "minimum zone":
            cost = [0.0, 0.0, -1.0, 1.0]
            bound = np.vstack([np.hstack([xy, one, nothing]), np.hstack([-xy, nothing, -one])])
            limit = np.concatenate([readings, -readings])
        case "minimum circumscribed":
            cost, bound, limit = [0.0, 0.0, 1.0], under, -readings
        case _:
            cost, bound, limit = [0.0, 0.0, -1.0], over, readings
    found = linprog(cost, A_ub=bound, b_ub=limit, bounds=[(None, None)] * len(cost), method="highs")
    if found.x is None:
        raise ValueError("this circle has no end: readings must lie all round, with no gap of half a turn")
    x, y, *radii = (float(each) * size for each in found.x)
    return x, y, float(r.mean()) + sum(radii) / len(radii)


def _against(reference: Reference, rest: Array, x: float, y: float, radius: float) -> Roundness:
    high, low = float(rest.max()), float(rest.min())
    return Roundness(
        reference,
        x,
        y,
        radius,
        RONt=high - low,
        RONp=max(high, 0.0),
        RONv=max(-low, 0.0),
        RONq=sqrt(float(rest @ rest) / len(rest)),
        residuals=tuple(rest.tolist()),
    )
