"""Turning point: the diameter at the bottom of one rock of a bore gauge, by a fit to the curve around it.

A gauge tilted by theta reads ``D / cos theta``, to second order ``D + D theta^2 / 2``: the square of
something that passes through nothing once in a half rock. So ``D + q(t)^2`` is fitted, q being a
quarter wave to either side whose middle, height, rhythm and shape may differ a little from rock to
rock. What they may is given as a normal prior, so that few readings in a rock give a large uncertainty
and not a wrong diameter. Gauss-Newton steps on the posterior, whose curvature gives the uncertainty
(Gelman et al., Bayesian Data Analysis, 3rd ed., 4.1); the bias of a fit that is not straight in its
unknowns is taken off (Box, "Bias in nonlinear estimation", J. R. Stat. Soc. B 33 (1971) 171).
"""

from __future__ import annotations

from enum import StrEnum
from math import sqrt

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
LEAST = 5
"""Readings from turn to turn, both counted, below which a rock tells nothing: 6 unknowns and their priors."""
ENOUGH = 16
"""Readings from which the two turns are left out: noise had a say in which readings they are."""
FLAT = 0.12
"""Share of a rock's height in which it spends a fifth of its time; one held still spends all of it."""
STRAY = 4.5
"""Standard deviations beyond which one reading is a stray."""
WORST = 4.0
"""Mean square of residuals over that of the noise, above which a curve is no rock."""
SLACK = 0.0006
"""mm; residuals up to this are a rock of odd shape: its uncertainty is larger, its diameter stands."""


class TurningPoint(Struct, frozen=True):
    """The bottom of one rock."""

    at: float
    """Seconds, on the clock of the readings."""
    value: float
    """What the gauge reads upright, mm."""
    u: float
    """Standard uncertainty from noise, rounding and shape of this rock, mm."""
    readings: int
    strays: int
    """Readings left out because they lie off the curve: a knock."""
    squares: float
    """Sum of squares of the residuals, mm²."""
    freedom: float
    """Their degrees of freedom."""


class RockFault(StrEnum):
    """Why a dip in the readings is no turning point."""

    SPARSE = "too few readings"
    NO_TURN = "no turn"
    NO_FIT = "no fit"
    NO_BOTTOM = "bottom not read"
    BROKEN_CURVE = "broken curve"
    OTHER_CURVE = "not the curve of a rock"
    HELD_STILL = "held still between two knocks"
    STEPPED = "readings before and after differ"


KNOCKS = frozenset({RockFault.BROKEN_CURVE, RockFault.OTHER_CURVE, RockFault.HELD_STILL, RockFault.STEPPED})
"""The faults that a knock of the gauge leaves."""


class NoRock(Struct, frozen=True):
    """A dip in the readings that is no turning point."""

    why: RockFault

    @property
    def sparse(self) -> bool:
        """There were too few readings for a rock this quick."""
        return self.why == RockFault.SPARSE


def evenly(times: Series) -> tuple[Series, float]:
    """When readings were made, from when they arrived, if the gauge keeps an even beat.

    Args:
        times: Arrival, seconds, rising.

    Returns:
        Times on an even beat, lost readings counted, and the standard deviation of the arrivals about it.
    """
    gaps = np.diff(times)
    beat = float(np.median(gaps)) if len(gaps) else 0.0
    if beat <= 0.0:
        return times, 0.0
    # A reading that is late is made up for by the next ones; one that is lost is not.
    over = gaps / beat - 1.0
    for ahead in (1, 2):
        caught = (times[1 + ahead :] - times[: -1 - ahead]) / beat - 1.0 - ahead
        over[: len(caught)] = np.minimum(over[: len(caught)], caught)
    lost = np.where(gaps > 1.6 * beat, np.maximum(np.round(over), 0.0), 0.0)
    count = np.concatenate(([0.0], np.cumsum(1.0 + lost)))
    middle = count - count.mean()
    slope = float(middle @ times / (middle @ middle))
    even = times.mean() + slope * middle
    return even, float(np.std(times - even))


def turning_point(times: Series, values: Series, *, noise: float, late: float = 0.0) -> TurningPoint | NoRock:
    """The turning point in the readings from one turn of the hand to the next.

    Args:
        times: Seconds.
        values: mm; falling from the first to a least and rising to the last, but for noise.
        noise: Standard deviation of one reading, its rounding included, mm.
        late: Standard deviation of `times`, seconds.
    """
    if len(values) < LEAST:
        return NoRock(RockFault.SPARSE)
    low = int(values.argmin())
    if low in {0, len(values) - 1}:
        return NoRock(RockFault.NO_TURN)
    if len(values) >= ENOUGH and 1 < low < len(values) - 2:
        times, values, low = times[1:-1], values[1:-1], low - 1
    times, values, low = _lower(times, values, low)
    kept = np.ones(len(values), dtype=bool)
    strays = 0
    while True:
        fit = _fitted(times[kept], values[kept], times[low], noise, late)
        if fit is None:
            return NoRock(RockFault.NO_FIT)
        if fit.chi2 <= WORST * max(fit.freedom, 1.0) or (strays + 1) * 6 > len(values):
            break
        if fit.worst <= STRAY:
            break
        kept[np.flatnonzero(kept)[fit.worst_at]] = False
        strays += 1
        if kept.sum() < LEAST:
            return NoRock(RockFault.BROKEN_CURVE)
    return _judged(fit, values[kept], strays, noise)


def _lower(times: Series, values: Series, low: int) -> tuple[Series, Series, int]:
    """Cut off what one side rises above twice the other: there the gauge does more than rock."""
    left, right = values[: low + 1].max() - values[low], values[low:].max() - values[low]
    top = values[low] + 2.0 * min(left, right)
    if max(left, right) <= 2.0 * min(left, right):
        return times, values, low
    above = values > top
    first = int(np.flatnonzero(above[:low]).max(initial=-1)) + 1
    last = int(np.flatnonzero(above[low:]).min(initial=len(values) - low)) + low
    if last - first < max(LEAST, 8):
        return times, values, low
    return times[first:last], values[first:last], low - first


class _Fit(Struct, frozen=True):
    value: float
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


def _waves(x: Series) -> tuple[Series, Series]:
    """The functions that q is made of at *x* half rocks from the middle, and their slopes."""
    a = np.pi * x
    s, c, s3, c3 = np.sin(a), np.cos(a), np.sin(3 * a), np.cos(3 * a)
    one = np.ones_like(x)
    base = np.stack([one, s, c, x * s, x * c, s3], axis=1)
    ds, dc = np.pi * c, -np.pi * s
    return base, np.stack([0 * one, ds, dc, s + x * ds, c + x * dc, 3 * np.pi * c3], axis=1)


def _fitted(times: Series, values: Series, middle: float, noise: float, late: float) -> _Fit | None:
    base = float(values.min())
    height = float(values.max()) - base
    half = float(times[-1] - times[0])
    if height <= 0.0 or half <= 0.0:
        return None
    x, r = (times - middle) / half, (values - base) / height
    waves, slopes = _waves(x)
    precision = np.diag(np.concatenate(([0.0], MAY**-2.0)))
    level, w = 0.0, PRIOR.copy()
    flat = (noise / height) ** 2
    variance = np.full(len(x), flat + 0.02**2)
    jacobian = np.empty((len(x), 7))
    jacobian[:, 0] = 1.0
    try:
        for step in range(STEPS):
            q = waves @ w
            if step >= 2:
                variance = flat + (2.0 * q * (slopes @ w) * late / half) ** 2
            jacobian[:, 1:] = 2.0 * q[:, None] * waves
            weighted = jacobian / variance[:, None]
            normal = weighted.T @ jacobian + precision
            pull = weighted.T @ (r - level - q * q)
            pull[1:] -= (w - PRIOR) / MAY**2
            change = np.linalg.solve(normal, pull)
            level, w = level + change[0], w + change[1:]
        spread = np.linalg.inv(normal)
    except np.linalg.LinAlgError:
        return None
    q = waves @ w
    residual = r - level - q * q
    leverage = np.einsum("ij,jk,ik->i", weighted, spread, jacobian)
    # Noise in q makes its square larger on the average, and the level as much too low.
    swollen = np.einsum("ij,jk,ik->i", waves, spread[1:, 1:], waves)
    level += float(spread[0] @ (weighted.T @ swollen))
    # A reading that the curve goes through by itself says nothing against itself.
    own = residual / np.sqrt(variance * np.maximum(1.0 - leverage, 0.05))
    worst_at = int(np.abs(own).argmax())
    crossing = _crossing(x, q)
    if crossing is None or abs(change[0]) * height > 0.3 * noise + 0.02 * height:
        return None
    return _Fit(
        value=float(base + height * level),
        u=height * sqrt(max(float(spread[0, 0]), 0.0)),
        at=float(middle + half * crossing),
        height=height,
        lower=float(min(values[0], values[-1])) - base,
        lowest=base,
        chi2=float((residual**2 / variance).sum()),
        freedom=float(len(x) - leverage.sum()),
        squares=float((residual**2 * flat / variance).sum()) * height**2,
        worst=float(abs(own[worst_at])),
        worst_at=worst_at,
    )


def _crossing(x: Series, q: Series) -> float | None:
    """Where q goes through nothing, if it does so once."""
    change = np.flatnonzero(np.signbit(q[1:]) != np.signbit(q[:-1]))
    if len(change) != 1:
        return None
    i = int(change[0])
    return float(x[i] - q[i] * (x[i + 1] - x[i]) / (q[i + 1] - q[i]))


def _judged(fit: _Fit, values: Series, strays: int, noise: float) -> TurningPoint | NoRock:
    freedom = max(fit.freedom, 0.3)
    ratio = fit.chi2 / freedom
    allowed = max(WORST, (SLACK / noise) ** 2) * (1.0 + 3.0 / freedom)
    if ratio > allowed:
        return NoRock(RockFault.OTHER_CURVE)
    if not fit.lowest - 0.35 * fit.height - 4.0 * noise <= fit.value <= fit.lowest + 4.0 * noise:
        return NoRock(RockFault.NO_BOTTOM)
    bottom = fit.value + FLAT * fit.lower
    if (values <= bottom).sum() > len(values) / 2:
        return NoRock(RockFault.HELD_STILL)
    # One or two degrees of freedom say little about the shape; many say much.
    worse = max(0.85, (2.0 + fit.chi2) / (2.0 + fit.freedom))
    return TurningPoint(
        at=fit.at,
        value=fit.value,
        u=fit.u * sqrt(worse),
        readings=len(values),
        strays=strays,
        squares=fit.squares,
        freedom=fit.freedom,
    )
