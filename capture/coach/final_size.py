"""Where each point of the belief would end: cheap to ask of many infeeds.

Lengths are mm; infeeds, removals and what is to come are on diameter.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from scipy.special import ndtr

from capture.metrology.grinding.spring.filter import GAIN, LEVEL, PLACES, TO_COME, Array
from capture.metrology.grinding.spring.posterior import Posterior

LIGHT = 1e-6
"""Weight under which a point of the belief is left out."""
MOST_RESTS = 40
"""Passes without infeed that are counted at most."""
LITTLE = 0.0002
"""Room under the upper limit, mm, that is not worth a pass more."""
AGAIN = 1.5
"""Passes without infeed that a last infeed needs after it, where the part ends over the band at first."""
DRAWN = 1.0
"""Passes that an end under the band costs: the wheel is drawn back in a pass that would be made anyway,
but sometimes too far (set by trials)."""
FAR = 0.05
"""Of a pass, that an end one band's width from its middle costs: the middle wins where all else is equal."""
CLEAR = 0.9
"""Belief from which on a pass without infeed is taken to be in vain (set by trials)."""


class Band(Struct, frozen=True):
    """Where the cold size is to end, as deviations in the terms of the sizes."""

    low: float
    high: float
    aim: float
    lowest: float = 0.0
    """Smallest place less the mean of the places: it reaches the lower limit first."""
    highest: float = 0.0

    @property
    def least(self) -> float:
        """Lower limit for the mean of the places."""
        return self.low - self.lowest

    @property
    def most(self) -> float:
        """Upper limit for the mean of the places; never under the lower one."""
        return max(self.high - self.highest, self.least)

    @property
    def middle(self) -> float:
        """Where an end has most room to either side."""
        return 0.5 * (self.least + self.most)


class Feeding(Struct, frozen=True):
    """What a pass may be, and what the dial can set.

    The finish infeed is the Handbook's least for hardened alloy steel (`grinding_data.TRAVERSE`), the rough
    one its trade text's most for hard chrome (`grinding_data.HARD_CHROME`).
    """

    division: float = 0.001
    """Of the dial, on diameter."""
    rough: float = 0.010
    finish: float = 0.005
    last_stock: float = 0.025
    """Stock from which on passes are finishing passes; before it the wheel is dressed."""
    undersize: float = 0.01
    """Chance of ending under the band that is allowed."""
    removal: float = 0.0005
    """By one more pass without infeed: less is nothing."""


class FinalSizeForecast:
    """The ends of a belief.

    Args of the methods: *infeed* mm on diameter, less than 0 to draw the wheel back; *band* in the terms of
    the sizes.
    """

    def __init__(
        self, pool: Posterior, reference: float, u_growth: float, widen: float, *, cold: bool = False
    ) -> None:
        self._given = pool, reference, u_growth, widen
        self._widen = widen
        rows = pool.weight > LIGHT
        if cold:
            rows &= ~pool.heat
        self.weight: Array = pool.weight[rows] / pool.weight[rows].sum()
        mean, cov = pool.mean[rows], pool.cov[rows]
        places = mean.shape[1] - PLACES
        size = np.zeros(mean.shape[1])
        size[LEVEL], size[PLACES:] = 1.0, 1.0 / places
        along = cov @ size
        self._size: Array = mean @ size + reference
        self._v_size: Array = along @ size + u_growth**2
        self._come: Array = mean[:, TO_COME]
        self._v_come: Array = cov[:, TO_COME, TO_COME]
        self._gain: Array = mean[:, GAIN]
        self._v_gain: Array = cov[:, GAIN, GAIN]
        self._size_come: Array = along[:, TO_COME]
        self._size_gain: Array = along[:, GAIN]
        self._come_gain: Array = cov[:, TO_COME, GAIN]
        self._shares: Array = pool.share[rows]
        self._hot: Array = pool.heat[rows].astype(np.float64)
        self.hot = bool(self._hot.any())
        """Whether heat that no probe sees is looked for at all."""
        self._touching: Array = pool.touching[rows].astype(np.float64)
        self.share = float(np.clip(self.weight @ self._shares, 0.02, 0.98))
        self.gain = float(self.weight @ self._gain)
        self.size = float(self.weight @ self._size)

    def cold(self) -> FinalSizeForecast | None:
        """The same, were there surely no heat; None where there is nothing else."""
        pool = self._given[0]
        rows = (pool.weight > LIGHT) & ~pool.heat
        return (
            FinalSizeForecast(*self._given, cold=True)
            if self.hot and float(pool.weight[rows].sum()) > 0.5
            else None
        )

    def _end(self, infeed: float) -> tuple[Array, Array]:
        coming = self._come + infeed * self._gain
        # fed or not, a wheel that stands clear takes nothing off
        on = (self._touching if infeed <= 0.0 else 1.0) * (coming > 0.0)
        mean = self._size - on * coming
        variance = self._v_size + on * (
            self._v_come
            + infeed**2 * (self._v_gain + 1e-4)
            + 2.0 * infeed * self._come_gain
            - 2.0 * (self._size_come + infeed * self._size_gain)
        )
        return mean, self._widen * np.sqrt(np.maximum(variance, 1e-14))

    def chances(self, infeed: float, band: Band) -> tuple[float, float, float]:
        """Probability to end under the band, inside and over it."""
        mean, deviation = self._end(infeed)
        under = float(self.weight @ ndtr((band.least - mean) / deviation))
        over = float(self.weight @ ndtr((mean - band.most) / deviation))
        return under, max(0.0, 1.0 - under - over), over

    def mean(self, infeed: float) -> float:
        """Expected end."""
        return float(self.weight @ self._end(infeed)[0])

    def deviation(self, infeed: float) -> float:
        """Standard deviation of the end over all points."""
        mean, deviation = self._end(infeed)
        centre = float(self.weight @ mean)
        return float(np.sqrt(self.weight @ (deviation**2 + (mean - centre) ** 2)))

    def next_under(self, infeed: float, band: Band) -> float:
        """Probability that the next pass leaves the part under the band: that can't be undone."""
        coming = self._come + infeed * self._gain
        taken = self._shares * (self._touching if infeed <= 0.0 else 1.0) * (coming > 0.0)
        variance = self._v_size + taken**2 * (self._v_come + infeed**2 * self._v_gain)
        variance = variance - 2.0 * taken * (self._size_come + infeed * self._size_gain)
        mean = self._size - taken * coming
        deviation = self._widen * np.sqrt(np.maximum(variance, 1e-14))
        return float(self.weight @ ndtr((band.least - mean) / deviation))

    def over_as_it_is(self, band: Band) -> float:
        """Probability that the part is over the band now."""
        return float(self.weight @ ndtr((self._size - band.most) / np.sqrt(np.maximum(self._v_size, 1e-14))))

    def heat_alone(self, infeed: float, band: Band, feeding: Feeding) -> bool:
        """Whether only the suspicion of heat forbids an infeed."""
        mean, deviation = self._end(infeed)
        risk = self.weight * ndtr((band.least - mean) / deviation)
        hot = float(risk @ self._hot)
        total = float(risk.sum())
        return total > feeding.undersize and total - hot <= 0.5 * feeding.undersize

    def idle(self, removal: float) -> bool:
        """Whether surely next to nothing comes off any more, the wheel clear of the part or not."""
        taken = self._shares * self._touching
        deviation = np.sqrt(taken**2 * self._v_come + 1e-14)
        return float(self.weight @ ndtr((removal - taken * self._come) / deviation)) > CLEAR

    def expected(self, infeed: float) -> float:
        """Expected to come off by the next pass."""
        coming = self._come + infeed * self._gain
        return float(self.weight @ (self._shares * self._touching * np.maximum(coming, 0.0)))

    def to_come(self, infeed: float) -> float:
        """Expected to come off after *infeed*."""
        coming = self._come + infeed * self._gain
        return float(self.weight @ (self._touching * np.maximum(coming, 0.0)))

    def cost(self, infeed: float, band: Band, feeding: Feeding) -> float:
        """Passes until the part is inside the band and sparked out, this one among them, as expected.

        A point that ends inside needs this pass and its spark-out. One that ends over needs one more infeed
        for each `feeding` deep that it is over, and the spark-out of the last of them; one that ends under
        is drawn back while it sparks out.
        """
        mean, deviation = self._end(infeed)
        over = ndtr((mean - band.most) / deviation)
        under = ndtr((band.least - mean) / deviation)
        rests = self._rests(infeed, mean, band, feeding.removal)
        inside = 1.0 + rests if infeed > 0.0 else np.maximum(rests, 1.0)
        passes = float(self.weight @ ((1.0 - over) * inside + over * (1.0 + AGAIN)))
        # while it is to be fed again, what would end under is seen before it comes off
        passes += float(self.weight @ under) * (1.0 - float(self.weight @ over)) * DRAWN
        width = max(band.most - band.least, feeding.division)
        passes += FAR * min(1.0, abs(float(self.weight @ mean) - band.middle) / width)
        edge, more = band.most, 1.0
        while more > LIGHT and edge < band.most + MOST_RESTS * feeding.rough:
            more = float(self.weight @ ndtr((mean - edge) / deviation))
            passes += more
            edge += feeding.finish if edge < band.most + feeding.last_stock else feeding.rough
        return passes

    def _rests(self, infeed: float, end: Array, band: Band, removal: float) -> Array:
        """Passes without infeed until one takes less than *removal*, and the part is inside the band."""
        share = np.clip(self._shares, 0.02, 0.98)
        standing = np.maximum(self._come + infeed * self._gain, 0.0)
        standing = standing * (1.0 - share) if infeed > 0.0 else standing
        room = band.most - end
        bound = np.where(room > 0.0, np.minimum(removal / share, np.maximum(room, LITTLE)), removal / share)
        over = np.maximum(standing / bound, 1.0)
        rests: Array = np.minimum(np.ceil(-np.log(over) / np.log1p(-share) - 1e-9), MOST_RESTS)
        return rests
