"""Columns of the least squares of a part that turns: drift, lobes, and the turning itself."""

from __future__ import annotations

from math import pi

import numpy as np
from msgspec import Struct

from capture.metrology.uncertainty.propagation import Array

TURNS_OF_DRIFT = 6.0
"""Turns between the knots of the drift: far too many for it to imitate an eccentricity."""


class TurnReadings(Struct, frozen=True):
    """What is known of readings over turns; arrays of one length."""

    times: Array
    """Seconds, in order."""
    values: Array
    """mm."""
    marks: Array
    """Times at which the once-a-turn mark came by, seconds; may be empty."""
    u_mark: float = 0.05
    """Standard uncertainty of such a time, seconds."""


class TurnColumns(Struct, frozen=True):
    """The columns of a fit that do not change while it is sought."""

    base: Array
    """Angle of each reading at the mean speed, radians."""
    splines: Array
    """What the angle differs by from that, a spline a column."""
    drifts: Array
    marks: Array
    """The same splines at the marks."""
    passed: Array
    """Angle of each mark at the mean speed, radians."""
    sure: float
    """One over the standard uncertainty of the angle of a mark, 1/rad."""

    def held(self, warp: Array) -> tuple[Array, Array]:
        """Rows that hold the angle: each mark a whole turn on; without marks the first reading stays."""
        if not len(self.passed):
            row = 1e4 * self.splines[:1]
            return row, row @ warp
        now = self.passed + self.marks @ warp
        # The nearest whole turn from the first mark: a mark that was missed leaves the count right.
        whole = np.round((now - now[0]) / (2 * pi)) + np.round(now[0] / (2 * pi))
        return self.marks * self.sure, (2 * pi * whole - self.passed) * self.sure


def turn_columns(given: TurnReadings, rate: float) -> TurnColumns:
    """The columns for readings of a part that turns about *rate* times a second."""
    t = given.times
    pieces = max(int(float(t[-1] - t[0]) * rate), 1)
    inside = given.marks[(given.marks >= t[0] - 1 / rate) & (given.marks <= t[-1] + 1 / rate)]
    return TurnColumns(
        base=2 * pi * rate * (t - t[0]),
        splines=spline_columns(t, t[0], t[-1], pieces),
        drifts=spline_columns(t, t[0], t[-1], max(int(pieces / TURNS_OF_DRIFT), 1)),
        marks=spline_columns(inside, t[0], t[-1], pieces),
        passed=2 * pi * rate * (inside - t[0]),
        sure=1 / max(2 * pi * rate * given.u_mark, 1e-4),
    )


def spline_columns(at: Array, low: float, high: float, pieces: int) -> Array:
    """Cubic B-splines of *pieces* equal pieces from *low* to *high*, a column each, at the times *at*."""
    if not len(at):
        return np.zeros((0, pieces + 3))
    step = max(high - low, 1e-9) / pieces
    knots = low + step * np.arange(-3, pieces + 4)
    inside = np.clip(at, low, high - 1e-9 * step)
    from scipy.interpolate import BSpline  # noqa: PLC0415 - slow to load, and few sessions need it

    found: Array = BSpline.design_matrix(inside, knots, 3).toarray()
    return found


def spline_slope(at: Array, low: float, high: float, warp: Array) -> Array:
    """The derivative by time of splines of `spline_columns` with the coefficients *warp*."""
    pieces = len(warp) - 3
    step = max(high - low, 1e-9) / pieces
    knots = low + step * np.arange(-3, pieces + 4)
    from scipy.interpolate import BSpline  # noqa: PLC0415 - slow to load, and few sessions need it

    found: Array = BSpline(knots, warp, 3).derivative()(np.clip(at, low, high - 1e-9 * step))
    return found


def waves(theta: Array, order: int) -> Array:
    """Cosine and sine of 1 to *order* times the angle, in turn, a column each."""
    one = np.exp(1j * theta)
    turned = np.cumprod(np.broadcast_to(one[:, None], (len(theta), order)), axis=1)
    found = np.empty((len(theta), 2 * order))
    found[:, 0::2], found[:, 1::2] = turned.real, turned.imag
    return found


def slopes(lobes: Array) -> Array:
    """Coefficients of the derivative by the angle, of coefficients in the order of `waves`."""
    n = np.arange(1, len(lobes) // 2 + 1)
    found = np.empty_like(lobes)
    found[0::2], found[1::2] = n * lobes[1::2], -n * lobes[0::2]
    return found
