"""Landing: how far to feed next, so that the cold size ends inside the band in the fewest passes.

After each pass the belief of `prediction` is asked of every infeed that the dial can set, and of drawing the
wheel back (`ends`): how many passes are to be expected until the part is inside the band and sparked out?
The cheapest is advised of those whose next pass is safe: what it takes off for good may leave the part under
the band with no more than a part of the risk that is allowed, since the last few passes share it. What comes
off later may be risked more often, because it can still be kept by drawing the wheel back.

Lengths are mm; infeeds, removals and what is to come are on diameter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, sqrt

import numpy as np

from capture.coach.final_size import Band, Feeding, FinalSizeForecast
from capture.coach.infeed_choice import (
    DOUBT_OVER,
    ENOUGH,
    RECOURSE,
    TOO_DEEP,
    InfeedChoice,
    Step,
    advised,
    deepest,
    held_back,
    passes_to_come,
    still,
    why_back,
)
from capture.metrology.grinding.judgement import Foresight
from capture.metrology.grinding.spring.filter import GAIN
from capture.metrology.grinding.spring.posterior import Posterior
from capture.metrology.message import Reasons, message

SURE_OVER = 0.12
"""Chance of being over the band from which on a sparked-out part is fed once more."""
PART = 0.7
"""Of the allowed risk, that one pass may carry: the last few share it (set by trials)."""
WARY = 2.5
"""Times as unsure an end is where the sizes call for an explanation: a pass not recorded, a mistyped
infeed, a reading elsewhere (set by trials)."""
CLEARED = 2
"""Passes after a misread size, from which on it is no reason to be wary: later sizes have shown it."""
SOFT = 0.3
"""Share of a soft machine: where the sizes call for an explanation, the spring may hold what its would."""
SURELY_OVER = 0.9
DRAWN_OVER = 0.5
"""Chance of ending over the band from which on nothing is drawn back: it would have to be fed again."""
WARM = (message("infeed.may-be-warm"),)
WORTH = 0.4
"""Passes that a wait has to save: it shows at once what passes show little by little (set by trials)."""


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
    cap, _ = deepest(left - 0.5 * contact, feeding)
    return _whole(min(cap, max(left - contact, 0.0)), feeding)


def gain_of(pool: Posterior) -> tuple[float, float]:
    """What a diameter gets of an infeed, as the belief has it, and its standard uncertainty."""
    mean = float(pool.weight @ pool.mean[:, GAIN])
    variance = float(pool.weight @ (pool.cov[:, GAIN, GAIN] + (pool.mean[:, GAIN] - mean) ** 2))
    return mean, sqrt(variance)


def softly_held(infeeds: Sequence[float | None]) -> float:
    """What a soft machine would still hold of these infeeds, the newest last, mm.

    >>> round(softly_held([0.010, 0.0]), 5)
    0.0049
    """
    return sum((infeed or 0.0) * (1.0 - SOFT) ** age for age, infeed in enumerate(reversed(infeeds), 1))


def choose_infeed(
    seen: Foresight,
    band: Band,
    feeding: Feeding,
    *,
    infeeds: Sequence[float | None],
    readings: int = 1,
    waited: bool = False,
) -> InfeedChoice:
    """The next step after passes of *infeeds*, the newest last; *readings* were taken after it.

    Where it was *waited* already after the newest pass, one more wait would show nothing new.
    """
    fed = infeeds[-1] if infeeds else None
    if seen.weighed is None or (infeeds and fed is None):
        return InfeedChoice("cannot tell", why=seen.outlook.why)
    misread = seen.weighed.misread
    wary = seen.weighed.doubt and (misread is None or len(infeeds) - misread < CLEARED)
    ends = FinalSizeForecast(seen.weighed.pool, seen.reference, seen.u_growth, WARY if wary else 1.0)
    stock = ends.mean(0.0) - band.aim
    cap, finishing = deepest(stock, feeding)
    settled = seen.outlook.settled or (fed is not None and fed <= 0.0 and ends.idle(feeding.removal))
    under, _, over = ends.chances(0.0, band)
    as_it_is = ends.over_as_it_is(band)
    if settled and as_it_is < SURE_OVER:
        if under + as_it_is <= DOUBT_OVER or readings >= ENOUGH:
            return still(ends, "stop", band, stock, (), finishing=finishing)
        unsure = (message("infeed.not-sure-inside"),)
        return still(ends, "measure again", band, stock, unsure, finishing=finishing)
    if ends.next_under(-ends.to_come(0.0), band) > feeding.undersize:
        return _too_deep(ends, band, feeding, readings, waited=waited)
    # nothing more comes off by itself, so nothing more will be learnt by waiting
    idle = settled and over >= SURE_OVER
    room = ends.size - softly_held(infeeds) - band.least if wary else np.inf
    infeed = _cheapest(ends, band, feeding, most=min(cap, room), rest=not idle)
    more = finishing and not waited and ends.hot and infeed < feeding.finish
    # one more pass that takes nothing would show nothing either
    vain = infeed == 0.0 and over > DRAWN_OVER and ends.expected(0.0) < feeding.removal / 4.0
    alone = infeed >= 0.0 and ends.heat_alone(infeed + feeding.division, band, feeding)
    if more and (vain or alone or _dear(ends, infeed, band, feeding, most=min(cap, room), rest=not idle)):
        return still(ends, "wait", band, stock, WARM, finishing=finishing)
    if readings < ENOUGH:
        why = _one_more(ends, infeed, band, feeding, idle=idle and over < SURELY_OVER, finishing=finishing)
        if why:
            return still(ends, "measure again", band, stock, why, finishing=finishing)
    return advised(ends, infeed, band, feeding, finishing=finishing)


def _one_more(
    ends: FinalSizeForecast, infeed: float, band: Band, feeding: Feeding, *, idle: bool, finishing: bool
) -> Reasons:
    """Why one more reading is worth it; empty where it is not."""
    if idle:
        return (message("infeed.not-sure-to-feed"),)
    if infeed < 0.0:
        return why_back(band, feeding, ends)
    if finishing and held_back(infeed, band, feeding, ends):
        return (message("infeed.reading-may-allow"),)
    return ()


def _dear(
    ends: FinalSizeForecast, infeed: float, band: Band, feeding: Feeding, *, most: float, rest: bool
) -> bool:
    """Whether the suspicion of heat costs more passes than a wait is worth."""
    cold = ends.cold()
    if cold is None:
        return False
    deeper = _cheapest(cold, band, feeding, most=most, rest=rest)
    return cold.cost(infeed, band, feeding) - cold.cost(deeper, band, feeding) > WORTH


def _cheapest(ends: FinalSizeForecast, band: Band, feeding: Feeding, *, most: float, rest: bool) -> float:
    """The infeed of the fewest passes whose next pass is safe; less than 0 draws the wheel back."""
    _, _, over = ends.chances(0.0, band)
    back = 0 if over > DRAWN_OVER else floor(ends.to_come(0.0) / feeding.division + 0.5)
    best, infeed = np.inf, 0.0
    for number in range(floor(most / feeding.division + 1e-6), -back - 1, -1):
        tried = number * feeding.division
        if not number and not rest:
            continue
        safe = ends.next_under(tried, band) <= PART * feeding.undersize
        if number > 0 and ends.chances(tried, band)[0] > RECOURSE * feeding.undersize:
            safe = False
        if safe and (cost := ends.cost(tried, band, feeding)) < best - 1e-9:
            best, infeed = cost, tried
    # nothing tried is safe between the divisions: back by all that stands
    return infeed if best < np.inf or not back else -(back + 1) * feeding.division


def _too_deep(
    ends: FinalSizeForecast, band: Band, feeding: Feeding, readings: int, *, waited: bool
) -> InfeedChoice:
    """The part may be undersize already, or will be by the next pass; what has not come off can be kept."""
    coming = ends.to_come(0.0)
    back = -floor(coming / feeding.division + 0.5) * feeding.division
    under, inside, over = ends.chances(back, band)
    if not waited and ends.heat_alone(0.0, band, feeding):
        stock = ends.mean(0.0) - band.aim
        return still(ends, "wait", band, stock, WARM, finishing=True)
    step: Step = "draw back" if back < 0.0 else "cannot tell" if over > max(under, inside) else "stop"
    step = "measure again" if readings < ENOUGH else step
    back = back if step == "draw back" else 0.0
    return InfeedChoice(
        step,
        infeed=back,
        rests=passes_to_come(ends, back, band, feeding, more=False)[1],
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
        why=TOO_DEEP,
    )


def _whole(infeed: float, feeding: Feeding) -> float:
    """In whole divisions of the dial, down; a division deeper than a pass may be is the least there is."""
    number = floor(infeed / feeding.division + 1e-6)
    return round(number * feeding.division, 9)
