"""Points at which the machine's spring is followed, and what is believed of them beforehand."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from capture.metrology.grinding.spring.passes import Prior

Array = NDArray[np.float64]
Numbers = NDArray[np.intp]

SCATTERS: Array = np.array([0.35, 0.6, 1.0, 1.6, 2.6])
OTHER = 0.05
"""Odds that a share is remembered of another wheel, or of this one before it changed: an estimate."""
LEAST, MOST = 0.06, 0.985
"""Share that a pass may take."""


class Points(NamedTuple):
    """One entry a point, of each point's own constants."""

    hypothesis: Numbers
    """Which of the tasks."""
    case: Numbers
    share: Array
    """S of the first pass."""
    ratio: Array
    """Gauge scatter, standard deviation of one reading without its rounding, as a ratio to that stated."""
    width: Array
    """Of shares that the point stands for."""

    def kept(self, rows: NDArray[np.bool_]) -> Points:
        """Some of the points."""
        return Points(
            self.hypothesis[rows], self.case[rows], self.share[rows], self.ratio[rows], self.width[rows]
        )


def share_axis(count: int, low: float = LEAST, high: float = MOST) -> Array:
    """So many shares, evenly spaced."""
    return np.linspace(low, high, count)


def grid(shares: Array, cases: int, hypotheses: int = 1) -> Points:
    """Every one of *shares* with every scatter in every case of every hypothesis."""
    hypothesis, case, order, scatter = (
        axis.ravel()
        for axis in np.meshgrid(
            np.arange(hypotheses),
            np.arange(cases),
            np.arange(len(shares)),
            np.arange(len(SCATTERS)),
            indexing="ij",
        )
    )
    width = np.full(len(order), shares[1] - shares[0])
    return Points(hypothesis, case, shares[order], SCATTERS[scatter], width)


def log_share(shares: Array, prior: Prior) -> Array:
    """Logarithm of the density of the share beforehand: as remembered, unless it is another wheel."""
    axis = share_axis(400)

    def usual(share: Array) -> Array:
        return np.asarray((4.0 * share * (1.0 - share)) ** prior.share_spread)

    def remembered(share: Array) -> Array:
        if prior.share_known is None:
            return np.zeros_like(share)
        return np.asarray(np.exp(-0.5 * ((share - prior.share_known) / prior.share_known_u) ** 2))

    def density(share: Array) -> Array:
        other, same = (
            usual(share) / usual(axis).mean(),
            remembered(share) / max(remembered(axis).mean(), 1e-9),
        )
        return np.asarray(OTHER * other + same)

    total = float(density(axis).mean() * (axis[-1] - axis[0]))
    return np.asarray(np.log(density(shares) / total))


def log_ratio(ratios: Array, prior: Prior) -> Array:
    """Logarithm of the weight of each scatter beforehand."""

    def weight(ratio: Array) -> Array:
        return np.asarray(np.exp(-0.5 * (np.log(ratio) / prior.gauge_u) ** 2))

    return np.asarray(np.log(weight(ratios) / weight(SCATTERS).sum()))
