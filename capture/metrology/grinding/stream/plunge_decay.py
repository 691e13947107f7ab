"""Plunge grinding as a gauge on the part sees it: infeed at a steady rate, then the dwell, a decay.

The machine is a spring, and what is cut a revolution grows with the force: ``tau r'' + r' = x'`` (King and
Hahn; Malkin and Guo, "Grinding Technology"; Hashimoto, Inventions 5, 2020, 46; see `decay`). At a steady
rate v the work lags by ``v tau``; after the infeed has stopped at s, ``v tau exp(-(t - s) / tau)`` is still
to come. When it stopped and the time constant are tried over a grid, and over a finer one where that fits;
of each pair, the end, the rate, the depth that decays and a slow drift follow by linear least squares with
what is believed beforehand, and all are weighed by how well they fit. Lengths are mm on diameter, times
seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy.special import ndtr

Series = NDArray[np.float64]

CONSTANTS = tuple(float(one) for one in np.geomspace(0.7, 45.0, 24))
"""Time constants that are tried, s."""
STOPS = 16
"""Moments at which the infeed may have stopped that are tried."""
FINER = 16
"""Values of each on the finer grid."""
LIKELY = 1e-3
"""Share of the weight of the best pair from which a pair fits."""
UNLIKE = 0.2
"""Share by which what is to come differs from an exponential decay's (an estimate, no source)."""
BELIEVED = 0.3
"""Share by which the depth that decays may differ from the rate times the time constant (an estimate)."""
SLOWER, SLOWLY = 3.0, 0.1
"""Times the time constant in which a slower spring gives way, and standard deviation of its share of what
stands (an estimate, no source)."""
DRIFTS = 2e-6
"""mm a second; standard deviation of what machine and coolant do to the size besides (an estimate)."""
WARMS, COOLS = 0.02, 70.0
"""Growth for what was taken off, standard deviation, and seconds in which it is gone but for 1/e (an
estimate, no source)."""
LEAST_U = 0.00003
"""mm; standard deviation of a second's mean at the least (common practice, no source)."""
RELATED = 1.5
"""Times the noise of a second's mean that is counted: what goes round with the part is never wholly taken off
(set by trials)."""


DEPTH, SLOW, DRIFT = 2, 3, 4
"""Where these stand among what is solved for."""


class DwellFit(Struct, frozen=True):
    """What is known of a dwell at its newest second, each with its standard uncertainty."""

    stopped: tuple[float, float]
    """When the infeed stopped."""
    tau: tuple[float, float]
    """Time constant, s."""
    to_come: tuple[float, float]
    """What would still come off."""
    stood: tuple[float, float]
    """What was to come when the infeed stopped."""
    speed: float
    """mm a second that came off before the infeed stopped."""
    below: float
    """Probability that less than the limit is still to come, and"""
    twice: float
    """less than twice the limit."""
    drift: tuple[float, float]
    """By which the size grows besides, mm a second: a part that cools shrinks."""
    misfit: float
    """Standard deviation of the seconds about the best curve over that of their noise."""
    end: float = 0.0
    """Where the size goes, mm."""


def dwell_fit(
    at: Sequence[float], size: Sequence[float], stops: tuple[float, float], u: float, limit: float, cut: float
) -> DwellFit:
    """What is still to come after the newest of *size*.

    Args:
        at: Middles of the seconds, rising, some of them before the infeed stopped; six or more.
        size: Their means, mm.
        stops: Between when and when it may have stopped.
        u: Standard deviation of one mean, mm.
        limit: mm that may still be to come when it counts as done.
        cut: mm that the whole plunge has taken off: by so much the part may have warmed.

    >>> at = [float(n) for n in range(40)]
    >>> size = [-0.001 * t if t < 12 else -0.012 - 0.004 * (1 - np.exp(-(t - 12) / 4)) for t in at]
    >>> found = dwell_fit(at, size, (8.0, 16.0), 0.0001, 0.0005, 0.016)
    >>> bool(abs(found.tau[0] - 4.0) < 3.0 * found.tau[1] + 0.1)
    True
    """
    t = np.asarray(at, dtype=float)
    shift = float(size[-1])
    y = np.asarray(size, dtype=float) - shift
    first = t <= stops[0]
    speed = _speed(t[first], y[first]) if first.sum() > 3 else _speed(t, y)
    drifts = hypot(DRIFTS, WARMS * max(cut, 0.0) / COOLS)
    of = _Beliefs(RELATED * max(u, LEAST_U), speed, drifts)
    coarse = _weighed(t, y, (np.linspace(*stops, STOPS), np.array(CONSTANTS)), of)
    found = _weighed(t, y, (_near(coarse, coarse.stop), _near(coarse, coarse.tau)), of)
    return _fitted(found, float(t[-1]), shift, speed, limit)


def _fitted(found: _Pairs, now: float, shift: float, speed: float, limit: float) -> DwellFit:
    coming, u_coming = found.coming(now)
    certain = np.maximum(u_coming, 1e-9)
    return DwellFit(
        stopped=found.over(found.stop),
        tau=found.over(found.tau),
        to_come=found.over(coming, u_coming),
        stood=found.over(*found.coming(-1e9)),
        speed=speed,
        drift=found.over(found.values[:, DRIFT], np.sqrt(found.covariance[:, DRIFT, DRIFT])),
        below=float(found.weight @ ndtr((limit - coming) / certain)),
        twice=float(found.weight @ ndtr((2.0 * limit - coming) / certain)),
        misfit=RELATED * found.misfit,
        end=shift + found.over(found.values[:, 0])[0],
    )


class _Beliefs(NamedTuple):
    """What is known beforehand."""

    u: float
    """Standard deviation of a second's mean, mm."""
    speed: float
    """mm a second before the stop."""
    drifts: float
    """Standard deviation of the drift, mm a second."""


class _Pairs(NamedTuple):
    """All pairs of a grid, and what follows from each."""

    stop: Series
    tau: Series
    weight: Series
    values: Series
    """End, rate, depth, slower depth and drift of each, and"""
    covariance: Series
    """of them."""
    misfit: float

    def coming(self, now: float) -> tuple[Series, Series]:
        """What is to come after *now*, and its standard uncertainty, of each pair."""
        since = np.maximum(now - self.stop, 0.0) / self.tau
        quick, slow = np.exp(-since), np.exp(-since / SLOWER)
        a, b = self.values[:, DEPTH], self.values[:, SLOW]
        square = (
            quick**2 * self.covariance[:, DEPTH, DEPTH]
            + 2.0 * quick * slow * self.covariance[:, DEPTH, SLOW]
            + slow**2 * self.covariance[:, SLOW, SLOW]
        )
        coming = quick * a + slow * b
        return coming, np.sqrt(np.maximum(square, 0.0) + (UNLIKE * coming) ** 2)

    def over(self, middle: Series, own: Series | float = 0.0) -> tuple[float, float]:
        """Mean and standard uncertainty over all pairs."""
        mean = float(self.weight @ middle)
        return mean, float(self.weight @ ((middle - mean) ** 2 + np.square(own))) ** 0.5


def _weighed(t: Series, y: Series, grid: tuple[Series, Series], of: _Beliefs) -> _Pairs:
    stop, tau = (one.ravel() for one in np.meshgrid(*grid, indexing="ij"))
    values, covariance, fits, rss = _solved(_model(t, stop, tau), y, tau, of)
    best = int(np.argmax(fits))
    misfit = float(np.sqrt(rss[best] / max(1, len(t) - 4))) / of.u
    wide = max(1.0, misfit)
    weight = np.exp((fits - fits[best]) / wide**2)
    return _Pairs(stop, tau, weight / weight.sum(), values, wide**2 * covariance, misfit)


def _near(found: _Pairs, values: Series) -> Series:
    """As many as before, over those that fit and one more to either side."""
    every = np.unique(values)
    fits = np.unique(values[found.weight > LIKELY * found.weight.max()])
    low = max(int(np.searchsorted(every, fits[0])) - 1, 0)
    high = min(int(np.searchsorted(every, fits[-1])) + 1, len(every) - 1)
    return np.linspace(every[low], every[high], FINER)


def _speed(t: Series, y: Series) -> float:
    """By how much the size falls, mm a second."""
    off = t - t.mean()
    return max(-float(off @ y) / float(off @ off), 1e-9)


def _model(t: Series, stop: Series, tau: Series) -> Series:
    """Of each pair and second, what end, rate, depth and drift each add; the drift is none at the newest."""
    since = t[None, :] - stop[:, None]
    decay = np.exp(-np.maximum(since, 0.0) / tau[:, None])
    return np.stack(
        [
            np.ones_like(since),
            np.maximum(-since, 0.0),
            decay,
            decay ** (1.0 / SLOWER),
            np.maximum(t[None, :], stop[:, None]) - t[-1],
        ],
        axis=2,
    )


def _solved(model: Series, y: Series, tau: Series, of: _Beliefs) -> tuple[Series, ...]:
    """End, rate, depths and drift of each pair, their covariance, how well it fits, and its sum of squares.

    Believed beforehand: the depth is the rate times the time constant, nearly; drift and slower depth are
    small.
    """
    u, speed, drifts = of
    pairs = len(tau)
    believed = np.zeros((pairs, 3, 5))
    u_depth = BELIEVED * speed * tau
    believed[:, 0, 1], believed[:, 0, 2] = -tau / u_depth, 1.0 / u_depth
    believed[:, 1, SLOW] = 1.0 / (SLOWLY * speed * tau)
    believed[:, 2, DRIFT] = 1.0 / drifts
    rows = np.concatenate([model / u, believed], axis=1)
    due = np.concatenate([y / u, np.zeros(3)])
    normal = rows.transpose(0, 2, 1) @ rows + 1e-6 * np.eye(5)
    inverse = np.linalg.inv(normal)
    values = np.einsum("gij,gkj,k->gi", inverse, rows, due)
    off = due[None, :] - np.einsum("gkj,gj->gk", rows, values)
    rss = np.sum((off[:, :-3] * u) ** 2, axis=1)
    # the width of each belief and of what fits it: evidence of a linear model
    fits = -0.5 * np.sum(off**2, axis=1) - 0.5 * np.linalg.slogdet(normal)[1] - 2.0 * np.log(u_depth)
    fits = np.where(values[:, DEPTH] > 0.0, fits, -np.inf)
    return values, inverse, fits, rss
