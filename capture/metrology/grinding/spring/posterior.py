"""A belief as a mixture of normal densities, and what can be asked of it: means, spreads and offsets."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
from scipy.special import ndtr

from capture.metrology.grinding.spring.filter import PLACES, Array, Belief
from capture.metrology.grinding.spring.normal_mixture import WIDE, middle, reach

LIGHT = 1e-6
"""Weight under which a point is left out of the figures."""


class Posterior:
    """Points of a belief, with weights that sum to 1, and what can be asked of them."""

    def __init__(self, belief: Belief) -> None:
        self._belief = belief
        self.points, self.weight = belief.points, belief.weight
        self.share, self.scatter = belief.share, belief.points.ratio
        self.share_of_rest = belief.share_of_rest
        self.heat, self.touching = belief.heat, belief.touching
        self.mean, self.cov = belief.mean, belief.cov

    def heavy(self) -> Posterior:
        """Without the points that carry next to nothing."""
        rows = self.weight > LIGHT
        one = self._belief
        return Posterior(
            one._replace(
                weight=one.weight[rows] / one.weight[rows].sum(),
                log=one.log[rows],
                points=one.points.kept(rows),
                share=one.share[rows],
                share_of_rest=one.share_of_rest[rows],
                heat=one.heat[rows],
                touching=one.touching[rows],
                mean=one.mean[rows],
                cov=one.cov[rows],
            )
        )

    def offsets(self) -> list[float]:
        """Expected size of each place less the mean of the places, mm."""
        places = self.weight @ self.mean[:, PLACES:]
        return [float(place) for place in places - places.mean()]

    def along(self, directions: Array) -> tuple[Array, Array]:
        """Means and standard deviations of linear figures at each point.

        Args:
            directions: Factors of the states: one layer a point, one row a figure.

        Returns:
            Both one column a point, one row a figure.
        """
        mean = np.einsum("ifj,ij->fi", directions, self.mean)
        variance = np.einsum("ifj,ifj->fi", directions @ self.cov, directions)
        return mean, np.sqrt(np.maximum(variance, 1e-24))

    def spread(self, mean: Array, deviation: Array, smooth: Array) -> tuple[Array, Array]:
        """Middle of mixtures of normal densities, and what holds 95 % round it over 1.96; one row a figure.

        The standard deviation itself would be ruled by explanations of one chance in fifty.

        Args:
            mean: At each point.
            deviation: At each point, of its share alone.
            smooth: At each point, of all its cell.
        """
        centre = middle(self.weight, mean, smooth)
        far = reach(self.weight, mean - centre[:, None], smooth)
        # an even grid sums squares exactly, so what the smoothing adds is known
        apart = (mean - (mean @ self.weight)[:, None]) ** 2
        added = np.sqrt(((deviation**2 + apart) @ self.weight) / ((smooth**2 + apart) @ self.weight))
        return centre, added * far / WIDE

    def between(self, mean: Array) -> Array:
        """What a figure varies by over the width of a point's cell: the filter knows only its middle."""
        order = np.lexsort((self.points.share, self.points.ratio, self.points.case, self.points.hypothesis))
        share, ratio = self.points.share[order], self.points.ratio[order]
        near = (np.diff(ratio) == 0.0) & (np.diff(share) > 0.0)
        steps = np.where(near, np.abs(np.diff(mean[:, order])), 0.0)
        beside = np.zeros((2, *mean.shape))
        beside[0, :, order[:-1]] = beside[1, :, order[1:]] = steps.T
        return np.asarray(np.maximum(beside.max(axis=0) / sqrt(12.0), 1e-12))


def rectified(mean: Array, deviation: Array) -> tuple[Array, Array, Array]:
    """Mean and standard deviation of max(X, 0) for normal X, and the chance that X is more than 0.

    The covariance of max(X, 0) with any figure is that of X times the chance (Stein, Ann. Statist. 9 (1981)
    1135).

    >>> [round(float(figure), 4) for figure in rectified(np.array(0.0), np.array(1.0))]
    [0.3989, 0.5838, 0.5]
    """
    apart = mean / deviation
    above = np.asarray(ndtr(apart))
    bell = np.exp(-0.5 * apart**2) / sqrt(2.0 * pi)
    centre = mean * above + deviation * bell
    variance = (mean**2 + deviation**2) * above + mean * deviation * bell - centre**2
    return centre, np.sqrt(np.maximum(variance, 0.0)), above
