"""The curve of one rock of a bore gauge: a square of something that crosses nothing once, fitted to readings.

See `capture.metrology.bore.turning_point` for the model and its sources.
"""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

Series = NDArray[np.float64]

PRIOR = np.array([0.0, 0.94, 0.0, 0.0, 0.0, -0.03])
"""Of lean, wave, shift, growth of the wave, change of its rate, third harmonic; shares of its height.

Between a hand that slows down before it turns (1 and 0) and one that turns as quick as it goes, a triangle
(0.81 and -0.09, its Fourier series): neither is read too low by it."""
MAY = np.array([0.3, 0.4, 0.4, 0.3, 0.5, 0.06])
"""Standard deviations of the same (common practice, no source: hands rock uneven by a fifth)."""

STEPS = 7
TEMPER = 0.5
"""Power of the weights of several curves: the priors are not so sure of hands (common practice, no
source)."""


class RockCurve(Struct, frozen=True):
    """One curve; lengths mm."""

    value: float
    """Its bottom."""
    u: float
    at: float
    height: float
    lower: float
    """How far its lower side rises."""
    lowest: float
    chi2: float
    freedom: float
    squares: float
    worst: float
    """Largest residual in its own standard deviations."""
    worst_at: int
    likely: float
    """Half the logarithm of the posterior's volume under this curve, but for a constant."""


def _waves(x: Series) -> tuple[Series, Series]:
    """The functions that q is made of at *x* half rocks from the middle, and their slopes."""
    a = np.pi * x
    s, c, s3, c3 = np.sin(a), np.cos(a), np.sin(3 * a), np.cos(3 * a)
    one = np.ones_like(x)
    base = np.stack([one, s, c, x * s, x * c, s3], axis=1)
    ds, dc = np.pi * c, -np.pi * s
    return base, np.stack([0 * one, ds, dc, s + x * ds, c + x * dc, 3 * np.pi * c3], axis=1)


def fitted(times: Series, values: Series, middle: float, noise: float, late: float) -> RockCurve | None:
    """The curve found from a beginning; None where the search finds none.

    Args:
        times: Seconds.
        values: mm, as many.
        middle: Where the search begins to look for the bottom, seconds.
        noise: Standard deviation of one reading, mm.
        late: Standard deviation of `times`, seconds.
    """
    base = float(values.min())
    height = float(values.max()) - base
    half = float(times[-1] - times[0])
    if height <= 0.0 or half <= 0.0:
        return None
    scaled = _Scaled((times - middle) / half, (values - base) / height, (noise / height) ** 2, late / half)
    found = _iterated(scaled)
    crossing = None if found is None else _crossing(scaled.x, found.waves @ found.w)
    if found is None or crossing is None or abs(found.moved) * height > 0.3 * noise + 0.02 * height:
        return None
    q = found.waves @ found.w
    residual = scaled.r - found.level - q * q
    leverage = np.einsum("ij,jk,ik->i", found.weighted, found.spread, found.jacobian)
    # Noise in q makes its square larger on the average, and the level as much too low.
    swollen = np.einsum("ij,jk,ik->i", found.waves, found.spread[1:, 1:], found.waves)
    level = found.level + float(found.spread[0] @ (found.weighted.T @ swollen))
    # A reading that the curve goes through by itself says nothing against itself.
    own = residual / np.sqrt(found.variance * np.maximum(1.0 - leverage, 0.05))
    worst_at = int(np.abs(own).argmax())
    chi2 = float((residual**2 / found.variance).sum())
    return RockCurve(
        value=float(base + height * level),
        u=height * sqrt(max(float(found.spread[0, 0]), 0.0)),
        at=float(middle + half * crossing),
        height=height,
        lower=float(min(values[0], values[-1])) - base,
        lowest=base,
        chi2=chi2,
        freedom=float(len(own) - leverage.sum()),
        squares=float((residual**2 * scaled.flat / found.variance).sum()) * height**2,
        worst=float(abs(own[worst_at])),
        worst_at=worst_at,
        likely=0.5
        * (
            float(np.linalg.slogdet(found.spread)[1] / TEMPER)
            - chi2
            - float((((found.w - PRIOR) / MAY)[[1, 3, 4, 5]] ** 2).sum())
        ),
    )


class _Scaled(NamedTuple):
    """Readings in shares of the rock's half length and height."""

    x: Series
    r: Series
    flat: float
    """Variance of one reading."""
    late: float
    """Standard deviation of `x`."""


class _Iterated(NamedTuple):
    """Where the search ended, with its last linearization."""

    level: float
    w: Series
    moved: float
    """Change of the level in the last step."""
    waves: Series
    jacobian: Series
    weighted: Series
    """The Jacobian over `variance`."""
    variance: Series
    spread: Series
    """Covariance of level and w."""


def _iterated(scaled: _Scaled) -> _Iterated | None:
    """Gauss-Newton steps from the prior; None where the equations are singular."""
    waves, slopes = _waves(scaled.x)
    precision = np.diag(np.concatenate(([0.0], MAY**-2.0)))
    level, w = 0.0, PRIOR.copy()
    variance = np.full(len(scaled.x), scaled.flat + 0.02**2)
    jacobian = np.empty((len(scaled.x), 7))
    jacobian[:, 0] = 1.0
    try:
        for step in range(STEPS):
            q = waves @ w
            if step >= 2:
                variance = scaled.flat + (2.0 * q * (slopes @ w) * scaled.late) ** 2
            jacobian[:, 1:] = 2.0 * q[:, None] * waves
            weighted = jacobian / variance[:, None]
            normal = weighted.T @ jacobian + precision
            pull = weighted.T @ (scaled.r - level - q * q)
            pull[1:] -= (w - PRIOR) / MAY**2
            change = np.linalg.solve(normal, pull)
            level, w = level + change[0], w + change[1:]
        spread = np.linalg.inv(normal)
    except np.linalg.LinAlgError:
        return None
    return _Iterated(level, w, float(change[0]), waves, jacobian, weighted, variance, spread)


def _crossing(x: Series, q: Series) -> float | None:
    """Where q goes through nothing, if it does so once."""
    change = np.flatnonzero(np.signbit(q[1:]) != np.signbit(q[:-1]))
    if len(change) != 1:
        return None
    i = int(change[0])
    return float(x[i] - q[i] * (x[i + 1] - x[i]) / (q[i + 1] - q[i]))
