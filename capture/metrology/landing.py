"""Landing: how far to feed next, so that the cold size ends inside the band in the fewest passes.

After each pass the belief of `prediction` is asked of every infeed that the dial can set: with what
probability would the part end under the band, inside, over it, if that were fed and then nothing more?
An infeed whose next pass may take the part undersize more often than allowed is never advised; what comes
off later can be kept by drawing the wheel back, so that a little more may be risked of it. Of the
others the one is advised that needs the fewest passes, those counted in which what ends over the band
would have to be put right.

Lengths are mm; infeeds, removals and what is to come are on diameter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from msgspec import Struct
from scipy.special import ndtr

from capture.metrology.grinding import Foresight
from capture.metrology.prediction import Pool
from capture.metrology.spring import GAIN, LEVEL, PLACES, TO_COME, Array

Step: TypeAlias = Literal["feed", "rest", "draw back", "measure again", "wait", "stop", "cannot tell"]

LIGHT = 1e-6
"""Weight under which a point of the belief is left out."""
AGAIN = 3.0
"""Passes that an end over the band costs: one more infeed, and its spark-out."""
MOST_RESTS = 40
LITTLE = 0.0002
"""Room under the upper limit, mm, that is not worth a pass more."""
SURE_OVER = 0.08
"""Chance of being over the band from which on a sparked-out part is fed once more."""
DOUBT_OVER = 0.03
"""Chance of being outside the band from which on one more reading is asked for first."""
LAST = 3.0
RECOURSE = 10.0
"""Times the allowed risk that an infeed may carry which is not the last: what is to come can be kept
by drawing the wheel back as long as it has not come off."""
LOOMING = 0.25
"""Chance of ending undersize from which on the wheel is drawn back."""
WARY = 2.5
"""Times as unsure an end is where the sizes call for an explanation: a pass not told, a slip of the pen, a
reading elsewhere (set by trials)."""
SOFT = 0.3
"""Share of a soft machine: where the sizes call for an explanation, the spring may hold what its would."""
CLEAR = 0.9
SURELY_OVER = 0.9
MORE = 5
ENOUGH = 3
"""Readings after one pass beyond which one more tells little."""


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


class Landing(Struct, frozen=True):
    """The next step and where it leads; None is not known."""

    step: Step
    infeed: float = 0.0
    """Of the next pass; less than 0: draw the wheel back by so much."""
    feeds: int = 0
    """Passes with infeed to come after the next."""
    rests: int = 0
    """Passes without infeed to come after those with."""
    to_come: float | None = None
    """By passes without infeed, if nothing is fed any more."""
    final: float | None = None
    """Cold size in the end, if the advice is followed and the wheel sparks out."""
    u_final: float | None = None
    p_next: float | None = None
    """Chance that the next pass takes the part under the band, for good: held under the limit."""
    p_under: float | None = None
    """Chance of ending there, if nothing is drawn back meanwhile."""
    p_inside: float | None = None
    p_over: float | None = None
    stock: float | None = None
    """Over the aim, what is still to come taken off."""
    readings: int = 1
    """Worth taking after the next pass, at all places together."""
    finishing: bool = False
    why: str = ""

    @property
    def passes(self) -> int:
        """All passes still to make."""
        return self.feeds + self.rests + (self.step in {"feed", "draw back"})


def first_infeed(size: float, fed: float, band: Band, feeding: Feeding, contact: float = 0.015) -> float:
    """Infeed that is safe whatever the spring holds: all that was fed may still come off.

    Args:
        size: The first cold size, before the passes.
        fed: All infeeds since.
        band: Where to end.
        feeding: What a pass may be.
        contact: Depth that the wheel may have stood in the part at first.

    >>> first_infeed(0.080, 0.0, Band(-0.001, 0.001, 0.0), Feeding())
    0.01
    >>> first_infeed(0.025, 0.0, Band(-0.001, 0.001, 0.0), Feeding())
    0.005
    >>> first_infeed(0.010, 0.0, Band(-0.001, 0.001, 0.0), Feeding())
    0.0
    """
    left = size - fed - band.aim
    cap, _ = _cap(left - 0.5 * contact, feeding)
    return _whole(min(cap, max(left - contact, 0.0)), feeding)


def softly_held(infeeds: Sequence[float | None]) -> float:
    """What a soft machine would still hold of these infeeds, the newest last, mm.

    >>> round(softly_held([0.010, 0.0]), 5)
    0.0049
    """
    return sum((infeed or 0.0) * (1.0 - SOFT) ** age for age, infeed in enumerate(reversed(infeeds), 1))


def land(
    seen: Foresight, band: Band, feeding: Feeding, *, infeeds: Sequence[float | None], readings: int = 1
) -> Landing:
    """The next step after passes of *infeeds*, the newest last; *readings* were taken after it."""
    fed = infeeds[-1] if infeeds else None
    if seen.weighed is None:
        return Landing("cannot tell", why=seen.outlook.why)
    ends = _Ends(seen.weighed.pool, seen.reference, seen.u_growth, WARY if seen.weighed.doubt else 1.0)
    now = ends.chances(0.0, band)
    stock = ends.mean(0.0) - band.aim
    cap, finishing = _cap(stock, feeding)
    steps = int(_whole(cap, feeding) / feeding.division + 0.5)
    looming = now[0] > (LOOMING if ends.deviation(0.0) < band.most - band.least else 0.5)
    if looming or ends.next_under(0.0, band) > feeding.undersize:
        return _too_deep(ends, band, feeding, readings)
    settled = seen.outlook.settled or (fed is not None and fed <= 0.0 and ends.idle(feeding.removal))
    # nothing more comes off by itself, so nothing more will be learnt by waiting
    idle = settled and now[2] >= SURE_OVER
    best, infeed = np.inf, 0.0
    room = ends.size - softly_held(infeeds) - band.least if seen.weighed.doubt else np.inf
    for number in range(steps, 0 if idle else -1, -1):
        tried = number * feeding.division
        if number and tried > room:
            continue
        cost, under = _cost(ends, tried, band, feeding)
        allowed = (LAST if cost.last else RECOURSE) * feeding.undersize
        safe = under <= allowed and ends.next_under(tried, band) <= feeding.undersize
        if (safe or number == 0) and cost.passes < best - 1e-9:
            best, infeed = cost.passes, tried
    if finishing and infeed < feeding.finish and ends.heat_alone(infeed + feeding.division, band, feeding):
        return _still(ends, "wait", band, stock, "it may be warm, and no probe tells", finishing=finishing)
    still_over = ends.over_as_it_is(band)
    if settled and still_over < SURE_OVER:
        unsure = now[0] + still_over > DOUBT_OVER and readings < ENOUGH
        return _still(
            ends,
            "measure again" if unsure else "stop",
            band,
            stock,
            "sparked out, and not yet sure to be inside" if unsure else "",
            finishing=finishing,
        )
    if idle and readings < MORE and now[2] < SURELY_OVER:
        why = "sparked out, and not yet sure enough to be fed once more"
        return _still(ends, "measure again", band, stock, why, finishing=finishing)
    if finishing and readings < MORE and _held_back(infeed, band, feeding, ends):
        why = "one more reading may allow a deeper infeed"
        return _still(ends, "measure again", band, stock, why, finishing=finishing)
    return _advised(ends, infeed, band, feeding, finishing=finishing)


def _advised(ends: _Ends, infeed: float, band: Band, feeding: Feeding, *, finishing: bool) -> Landing:
    under, inside, over = ends.chances(infeed, band)
    feeds, rests = _plan(ends, infeed, band, feeding, more=over > DOUBT_OVER)
    stock = ends.mean(0.0) - band.aim
    return Landing(
        "feed" if infeed > 0.0 else "rest",
        infeed=infeed,
        feeds=feeds,
        rests=max(rests, 1) if infeed == 0.0 else rests,
        to_come=ends.to_come(0.0),
        final=ends.mean(infeed),
        u_final=ends.deviation(infeed),
        p_next=ends.next_under(infeed, band),
        p_under=under,
        p_inside=inside,
        p_over=over,
        stock=stock,
        readings=ENOUGH if finishing or stock < 2.0 * feeding.last_stock else 1,
        finishing=finishing,
        why=_held_back(infeed, band, feeding, ends),
    )


def _held_back(infeed: float, band: Band, feeding: Feeding, ends: _Ends) -> str:
    deeper = infeed + feeding.division
    if ends.mean(deeper) < band.middle or deeper > feeding.finish:
        return ""
    if ends.chances(deeper, band)[0] <= LAST * feeding.undersize:
        return ""
    return "fed no deeper: it could end undersize"


def _too_deep(ends: _Ends, band: Band, feeding: Feeding, readings: int) -> Landing:
    """The part may end undersize as the wheel stands; what has not come off yet can still be kept."""
    coming = ends.to_come(0.0)
    under, inside, over = ends.chances(0.0, band)
    back, most = 0.0, floor(coming / feeding.division + 0.5)
    for number in range(1, most + 1):
        back = -number * feeding.division
        under, inside, over = ends.chances(back, band)
        if under <= LAST * feeding.undersize:
            break
    unsure = readings < ENOUGH
    if ends.heat_alone(0.0, band, feeding):
        stock = ends.mean(0.0) - band.aim
        return _still(ends, "wait", band, stock, "it may be warm, and no probe tells", finishing=True)
    step: Step = "measure again" if unsure else "draw back" if back < 0.0 else "stop"
    back = back if step == "draw back" else 0.0
    return Landing(
        step,
        infeed=back,
        rests=_plan(ends, back, band, feeding, more=False)[1],
        to_come=coming,
        final=ends.mean(back),
        u_final=ends.deviation(back),
        p_next=ends.next_under(back, band),
        p_under=under,
        p_inside=inside,
        p_over=over,
        stock=ends.mean(0.0) - band.aim,
        readings=ENOUGH,
        finishing=True,
        why="as the wheel stands it could end undersize",
    )


def _still(ends: _Ends, step: Step, band: Band, stock: float, why: str, *, finishing: bool) -> Landing:
    """No pass for now."""
    under, inside, over = ends.chances(0.0, band)
    return Landing(
        step,
        to_come=ends.to_come(0.0),
        final=ends.mean(0.0),
        u_final=ends.deviation(0.0),
        p_next=ends.next_under(0.0, band),
        p_under=under,
        p_inside=inside,
        p_over=over,
        stock=stock,
        readings=ENOUGH,
        finishing=finishing,
        why=why,
    )


def _cap(stock: float, feeding: Feeding) -> tuple[float, bool]:
    """The deepest infeed, and whether it is a finishing pass: a rough one leaves the last stock alone."""
    over = stock - feeding.last_stock
    if over <= 0.0:
        return feeding.finish, True
    return max(min(feeding.rough, over), feeding.finish), False


def _whole(infeed: float, feeding: Feeding) -> float:
    """In whole divisions of the dial, down; a division deeper than a pass may be is the least there is."""
    number = floor(infeed / feeding.division + 1e-6)
    return round(number * feeding.division, 9)


class _Cost(NamedTuple):
    passes: float
    last: bool
    """It rests on this infeed being the last."""


def _cost(ends: _Ends, infeed: float, band: Band, feeding: Feeding) -> tuple[_Cost, float]:
    """Passes until the end, as expected, and the chance of then being undersize."""
    under, _, over = ends.chances(infeed, band)
    stopping = (infeed > 0.0) + ends.rests(infeed, band, feeding.removal) + over * AGAIN
    width = max(band.most - band.least, feeding.division)
    stopping += 0.05 * abs(ends.mean(infeed) - band.middle) / width
    if over <= DOUBT_OVER:
        return _Cost(stopping, last=True), under
    feeds, rests = _plan(ends, infeed, band, feeding, more=True)
    going_on = 1.0 + feeds + rests
    if over > 0.5 or going_on < stopping:
        return _Cost(going_on, last=False), under
    return _Cost(stopping, last=True), under


def _plan(ends: _Ends, infeed: float, band: Band, feeding: Feeding, *, more: bool) -> tuple[int, int]:
    """Passes with infeed after one of *infeed*, and without after those, by the mean of the belief."""
    share, standing = ends.share, ends.to_come(0.0)
    if infeed > 0.0 or more:
        standing = (standing + ends.gain * infeed) * (1.0 - share)
    feeds = 0
    left = ends.mean(infeed) - band.middle
    while more and feeds < MOST_RESTS and (left > 0.5 * feeding.division or not feeds):
        cap, _ = _cap(left, feeding)
        fed = max(min(cap, left), feeding.division)
        standing = (standing + ends.gain * fed) * (1.0 - share)
        left -= ends.gain * fed
        feeds += 1
    rests = 0
    while rests < MOST_RESTS and share * standing >= feeding.removal:
        standing *= 1.0 - share
        rests += 1
    return feeds, rests


class _Ends:
    """Where each point of the belief would end; cheap to ask of many infeeds."""

    def __init__(self, pool: Pool, reference: float, u_growth: float, widen: float) -> None:
        self._widen = widen
        rows = pool.weight > LIGHT
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
        self._touching: Array = pool.touching[rows].astype(np.float64)
        self.share = float(np.clip(self.weight @ self._shares, 0.02, 0.98))
        self.gain = float(self.weight @ self._gain)
        self.size = float(self.weight @ self._size)

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

    def to_come(self, infeed: float) -> float:
        """Expected to come off after *infeed*."""
        coming = self._come + infeed * self._gain
        return float(self.weight @ (self._touching * np.maximum(coming, 0.0)))

    def rests(self, infeed: float, band: Band, removal: float) -> float:
        """Expected number of passes without infeed until one takes less than *removal*, inside the band."""
        share = np.clip(self._shares, 0.02, 0.98)
        end, _ = self._end(infeed)
        standing = np.maximum(self._come + infeed * self._gain, 0.0)
        standing = standing * (1.0 - share) if infeed > 0.0 else standing
        room = band.most - end
        bound = np.where(room > 0.0, np.minimum(removal / share, np.maximum(room, LITTLE)), removal / share)
        over = np.maximum(standing / bound, 1.0)
        return float(self.weight @ np.minimum(np.ceil(-np.log(over) / np.log1p(-share) - 1e-9), MOST_RESTS))
