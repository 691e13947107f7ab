"""A grind, judged after every pass: what came off, what is still to come, and whether it is done.

Where the infeeds are known, the model of the sprung machine in `spring` is fitted to all passes so far. Where
the newest is not known, it is fitted for every pass after which the feeding may have stopped
(`unknown_infeeds`). Where the sizes contradict it, the test of `spark_out` takes its place and says so.

Lengths are mm; infeeds, removals and what is to come are on diameter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

from msgspec import structs

from capture.metrology.grinding.outlook import GrindLimits, Outlook, SizeReading, Stroke, Verdict
from capture.metrology.grinding.spark_out import Trend, trend
from capture.metrology.grinding.spring.passes import Prior, RepeatedReadings, groups_of, task_of
from capture.metrology.grinding.spring.prediction import (
    Bounds,
    Prediction,
    Weighed,
    summed,
    weigh,
    weigh_unknown_infeeds,
)
from capture.metrology.grinding.spring.repeat_readings import SEATING
from capture.metrology.message import Message, Reasons, message

__all__ = [
    "Foresight",
    "GrindLimits",
    "Outlook",
    "SizeReading",
    "Stroke",
    "Verdict",
    "call_bound",
    "foresee",
    "judge",
]

SOFTEST = 0.25
"""Share under which a spark-out by the next pass alone is not believed: a glazed wheel takes next to
nothing off while much is still to come."""
REST_LIKELY = 0.5
"""Probability from which on that is believed not to be so."""
FEWEST = 3
"""Sizes after different passes that any figure but the size needs."""
OVERSHOOT = 9.0
"""Factor by which the odds leap over the bound at the call, set by trials to make 95 % of calls right."""
INFEED_UNKNOWN = 3.0
"""The same where no infeed is known: a pass shows less then, and the odds leap less."""
DOUBTED = 3.0
"""Factor on the uncertainty of a share that the newest sizes contradict."""
RISING = 0.8
"""Probability of growing from which on no end is called, though growth is not yet sure."""
KNOWN = 0.01
"""Of the gauge's scatter: no figure is known better, however clear of the part the wheel stands."""
MEMORY = 40
"""Passes that are looked back on: what the spring held before them has long come off."""


class Foresight(NamedTuple):
    """The outlook after the newest pass, with the whole belief that it sums up."""

    outlook: Outlook
    weighed: Weighed | None
    """None where no infeed is known, or nothing was made or measured yet."""
    reference: float
    """What the belief's sizes differ from, in the sizes' own terms."""
    u_growth: float
    """Standard uncertainty of the newest correction to 20 °C."""


def judge(
    strokes: Sequence[Stroke], sizes: Sequence[SizeReading], limits: GrindLimits, prior: Prior | None = None
) -> Outlook:
    """Judge the newest of *strokes* by all of them and all *sizes*.

    Sizes after the same pass at the same place are readings of one seating, in any order.

    >>> strokes = [Stroke(0.010)] * 4 + [Stroke(0.0)] * 6
    >>> sizes, size, spring = [SizeReading(after=0, value=0.0, u=1e-5)], 0.0, 0.0
    >>> for number, stroke in enumerate(strokes, 1):
    ...     spring += stroke.infeed
    ...     size, spring = size - spring / 2, spring / 2
    ...     sizes.append(SizeReading(after=number, value=size, u=1e-5))
    >>> limits = GrindLimits(removal=0.0005, confidence=0.95, warm=0.0005)
    >>> judge(strokes[:4], sizes[:5], limits).verdict
    'cutting'
    >>> [judge(strokes[:n], sizes[:n + 1], limits).verdict for n in (7, 8)]
    ['sparking-out', 'sparked-out']

    Raises:
        ValueError: A size is of a pass that was not made, or a figure is not what it must be.
    """
    return foresee(strokes, sizes, limits, prior).outlook


def foresee(
    strokes: Sequence[Stroke], sizes: Sequence[SizeReading], limits: GrindLimits, prior: Prior | None = None
) -> Foresight:
    """As `judge`, with the belief behind the judgement, which is there from the first pass on.

    Raises:
        ValueError: A size is of a pass that was not made, or a figure is not what it must be.
    """
    _check(strokes, sizes)
    number = len(strokes)
    first = max(0, number - MEMORY)
    prior = prior or Prior()
    prior = structs.replace(prior, cut=prior.cut + sum(abs(one.infeed or 0.0) for one in strokes[:first]))
    strokes = strokes[first:]
    sizes = [structs.replace(size, after=size.after - first) for size in sizes if size.after >= first]
    found = _foreseen(strokes, sizes, limits, prior, first)
    return found._replace(outlook=structs.replace(found.outlook, number=number))


def _foreseen(
    strokes: Sequence[Stroke], sizes: Sequence[SizeReading], limits: GrindLimits, prior: Prior, first: int
) -> Foresight:
    """The outlook from the passes after pass *first*."""
    groups = groups_of(sizes)
    after = len({group.after for group in groups})
    reference = groups[0].mean if groups else 0.0
    u_growth = max(sizes, key=lambda size: size.after).u_growth if sizes else 0.0
    weighed, reason = None, message("outlook.no-infeed")
    infeed_known = bool(strokes) and strokes[-1].infeed is not None
    if infeed_known and groups and any(stroke.infeed is not None for stroke in strokes):
        weighed = weigh(task_of(strokes, sizes, groups, prior)._replace(first=first), prior)
        reason = message("doubt.lost")
    elif strokes and groups and after >= FEWEST:
        weighed = weigh_unknown_infeeds(task_of(strokes, sizes, groups, prior)._replace(first=first), prior)
    if after < FEWEST or not strokes:
        outlook = _too_few(strokes, groups, after)
    elif weighed is not None and not weighed.lost:
        outlook = _by_model(strokes, sizes, limits, summed(weighed, _bounds(strokes, sizes, limits)))
    else:
        outlook = _by_sizes(strokes, sizes, groups, limits, reason)
        outlook = (
            outlook if weighed is None else _share_kept(outlook, weighed, _bounds(strokes, sizes, limits))
        )
    return Foresight(outlook, weighed, reference, u_growth)


def _share_kept(outlook: Outlook, weighed: Weighed, bounds: Bounds) -> Outlook:
    """The share that the passes up to now have shown, though the newest do not fit it."""
    found = summed(weighed, bounds)
    return structs.replace(outlook, share=found.share, u_share=DOUBTED * found.u_share)


def _check(strokes: Sequence[Stroke], sizes: Sequence[SizeReading]) -> None:
    for size in sizes:
        if not 0 <= size.after <= len(strokes):
            raise ValueError(f"a size after pass {size.after}, where {len(strokes)} were made")
        if size.u <= 0.0:
            raise ValueError(f"u of a size must be more than 0, got {size.u}")


def _bounds(strokes: Sequence[Stroke], sizes: Sequence[SizeReading], limits: GrindLimits) -> Bounds:
    infeed = abs(strokes[-1].infeed or 0.0)
    return Bounds(
        next_removal=limits.removal,
        rest=limits.removal / SOFTEST,
        idle=min(limits.removal, infeed / 4.0),
        seen=min(size.u for size in sizes),
    )


def _too_few(strokes: Sequence[Stroke], groups: Sequence[RepeatedReadings], passes: int) -> Outlook:
    newest = [group for group in groups if group.after == len(strokes)]
    size = sum(group.mean for group in newest) / len(newest) if newest else None
    u = sqrt(sum(group.u**2 for group in newest)) / len(newest) if newest else None
    resting = bool(strokes) and strokes[-1].infeed == 0.0
    return Outlook(
        number=len(strokes),
        size=size,
        u_size=u,
        verdict="sparking-out" if resting else "cutting",
        why=(message("outlook.few", passes=passes, fewest=FEWEST),),
    )


def _by_model(
    strokes: Sequence[Stroke], sizes: Sequence[SizeReading], limits: GrindLimits, found: Prediction
) -> Outlook:
    newest = max(sizes, key=lambda size: size.after)
    reference = groups_of(sizes)[0].mean
    infeed = strokes[-1].infeed
    enough = call_bound(limits.confidence, INFEED_UNKNOWN if infeed is None else OVERSHOOT)
    settled = not infeed and found.p_growing < RISING and _sure(found, limits.confidence, enough)
    predicted = found.final + reference
    least_u = KNOWN * newest.u
    why = _why(found, newest.growth is not None)
    if infeed is None:
        why = (*why, message("outlook.untold"))
    return Outlook(
        number=len(strokes),
        size=found.size + reference,
        u_size=sqrt(found.u_size**2 + newest.u_growth**2),
        removed=found.removed,
        u_removed=max(found.u_removed, least_u),
        to_come=found.to_come,
        u_to_come=max(found.u_to_come, least_u),
        next_removal=found.next_removal,
        u_next=max(found.u_next, least_u),
        p_below=found.p_next,
        predicted=predicted,
        u_predicted=sqrt(found.u_final**2 + newest.u_growth**2),
        share=found.share,
        u_share=found.u_share,
        sigma=found.scatter * newest.u,
        p_growing=found.p_growing,
        p_heat=found.p_heat,
        settled=settled,
        cold=newest.growth is not None,
        method="model",
        verdict=_verdict_by_model(infeed, newest, limits, found, settled=settled, predicted=predicted),
        why=why,
    )


def _verdict_by_model(
    infeed: float | None,
    newest: SizeReading,
    limits: GrindLimits,
    found: Prediction,
    *,
    settled: bool,
    predicted: float,
) -> Verdict:
    # a part that seems warm is not called at size: its cold size is not known
    landed = found.p_heat < 0.5 and limits.band is not None and limits.band[0] <= predicted <= limits.band[1]
    return _verdict(
        infeed,
        growing=found.p_growing >= limits.confidence,
        idle=found.p_idle >= limits.confidence,
        settled=settled,
        warm=newest.growth is not None and newest.growth > limits.warm,
        landed=landed,
    )


def _sure(found: Prediction, confidence: float, enough: float) -> bool:
    """Whether the next pass is surely below the limit, and far more surely below twice the limit."""
    twice = found.p_twice >= 1.0 - (1.0 - confidence) / 2.5
    return found.p_next >= enough and found.p_rest >= REST_LIKELY and twice


def call_bound(confidence: float, overshoot: float = OVERSHOOT) -> float:
    """Probability, after one pass, at which to call so that the calls are right with *confidence*.

    A pass without infeed multiplies the odds that the next takes less than the limit, so that they leap
    far over any bound. With the bound at the confidence itself the calls would be right far more often
    than promised, and a pass late; so the bound is lowered by the leap (the overshoot of a sequential
    test: Siegmund, Sequential Analysis, 1985, from memory). What share of the calls is then right,
    `capture.benchmarks.trials.grinding.grind` shows.

    >>> round(call_bound(0.95), 3)
    0.679
    """
    odds = confidence / (1.0 - confidence) / overshoot
    return odds / (1.0 + odds)


def _verdict(
    infeed: float | None, *, growing: bool, idle: bool, settled: bool, warm: bool, landed: bool
) -> Verdict:
    """The first that holds; see the module."""
    if growing:
        return "growing"
    if infeed:
        return "stalled" if idle else "cutting"
    if not settled:
        return "cutting" if infeed is None else "sparking-out"
    if warm:
        return "warm"
    return "at-size" if landed else "sparked-out"


def _why(found: Prediction, known: bool) -> Reasons:
    reasons = [found.doubt] if found.doubt else []
    if found.p_heat >= 0.5:
        reasons.append(message("outlook.warming"))
    elif not known:
        reasons.append(message("outlook.no-temperature"))
    if found.p_touching < 0.5:
        reasons.append(message("outlook.not-touching"))
    elif found.p_clear >= 0.5:
        reasons.append(message("outlook.shrunk-away"))
    return tuple(reasons)


def _size_trend(groups: Sequence[RepeatedReadings], limit: float) -> Trend | None:
    """How the sizes of *groups* move from pass to pass, tested against a removal of *limit* mm."""
    variances = [group.u**2 / min(group.readings, SEATING) + group.resolution**2 / 12.0 for group in groups]
    return trend(
        [group.after for group in groups],
        [group.place for group in groups],
        [group.mean - groups[0].mean for group in groups],
        variances,
        limit=limit,
    )


def _by_sizes(
    strokes: Sequence[Stroke],
    sizes: Sequence[SizeReading],
    groups: Sequence[RepeatedReadings],
    limits: GrindLimits,
    reason: Message,
) -> Outlook:
    """Judge without the infeeds, or against them."""
    newest = max(sizes, key=lambda size: size.after)
    known = newest.growth is not None
    test = _size_trend(groups, limits.removal)
    start = _too_few(strokes, groups, len({group.after for group in groups}))
    if test is None:
        return start
    infeed = strokes[-1].infeed
    settled = not infeed and test.p_below >= limits.confidence
    warm = known and (newest.growth or 0.0) > limits.warm
    verdict = _verdict(
        infeed,
        growing=test.p_growing >= limits.confidence,
        idle=False,
        settled=settled,
        warm=warm,
        landed=False,
    )
    return structs.replace(
        start,
        removed=test.removal,
        u_removed=test.u_removal,
        next_removal=test.removal,
        u_next=test.u_removal,
        p_below=test.p_below,
        p_growing=test.p_growing,
        settled=settled,
        cold=known,
        method="sequential",
        verdict=verdict,
        why=(reason, message("outlook.by-sizes", passes=test.passes)),
    )
