"""A grind, judged after every pass: what came off, what is still to come, and whether it is done.

Where the infeeds are told, the model of the sprung machine in `spring` is fitted to all passes so far. Where
the newest is not told, or the sizes contradict what was told, the test of `spark_out` takes its place
and says so.

Lengths are mm; infeeds, removals and what is to come are on diameter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from msgspec import structs

from capture.metrology.outlook import Limits, Outlook, Size, Stroke, Verdict
from capture.metrology.prediction import Bounds, Prediction, predict
from capture.metrology.spark_out import trend
from capture.metrology.spring import SEATING, Case, Group, Move, Prior, Task

__all__ = ["Limits", "Outlook", "Size", "Stroke", "Verdict", "call_bound", "judge"]

SOFTEST = 0.25
"""Share under which a spark-out by the next pass alone is not believed: a glazed wheel takes next to
nothing off while much is still to come."""
FEWEST = 3
"""Sizes after different passes that any figure but the size needs."""
OVERSHOOT = 9.0
"""Factor by which the odds leap over the bound at the call; set by trials, so that 95 % of calls are right."""
MOST_AIR = 6
"""Kinds of first contact weighed at a time."""


def judge(
    strokes: Sequence[Stroke], sizes: Sequence[Size], limits: Limits, prior: Prior | None = None
) -> Outlook:
    """Judge the newest of *strokes* by all of them and all *sizes*.

    Sizes after the same pass at the same place are readings of one seating, in any order.

    >>> strokes = [Stroke(0.010)] * 4 + [Stroke(0.0)] * 6
    >>> sizes, size, spring = [Size(after=0, value=0.0, u=1e-5)], 0.0, 0.0
    >>> for number, stroke in enumerate(strokes, 1):
    ...     spring += stroke.infeed
    ...     size, spring = size - spring / 2, spring / 2
    ...     sizes.append(Size(after=number, value=size, u=1e-5))
    >>> limits = Limits(removal=0.0005, confidence=0.95, warm=0.0005)
    >>> judge(strokes[:4], sizes[:5], limits).verdict
    'cutting'
    >>> [judge(strokes[:n], sizes[:n + 1], limits).verdict for n in (7, 8)]
    ['sparking-out', 'sparked-out']

    Raises:
        ValueError: A size is of a pass that was not made, or a figure is not what it must be.
    """
    _check(strokes, sizes)
    groups = _groups(sizes)
    after = sorted({group.after for group in groups})
    if len(after) < FEWEST or not strokes:
        return _too_few(strokes, groups, len(after))
    if strokes[-1].infeed is not None and any(stroke.infeed is not None for stroke in strokes):
        prior = prior or Prior()
        found = predict(_task(strokes, sizes, groups, prior), prior, _bounds(strokes, limits))
        if not found.lost:
            return _by_model(strokes, sizes, limits, found)
        reason = "the sizes do not follow the infeeds told; "
    else:
        reason = "the infeed is not known; "
    return _by_sizes(strokes, sizes, groups, limits, reason)


def _check(strokes: Sequence[Stroke], sizes: Sequence[Size]) -> None:
    for size in sizes:
        if not 0 <= size.after <= len(strokes):
            raise ValueError(f"a size after pass {size.after}, where {len(strokes)} were made")
        if size.u <= 0.0:
            raise ValueError(f"u of a size must be more than 0, got {size.u}")


def _groups(sizes: Sequence[Size]) -> tuple[Group, ...]:
    """Readings of one place after one pass, taken together; sorted, so that their order is nothing."""
    seatings: dict[tuple[int, int], list[Size]] = {}
    for size in sizes:
        seatings.setdefault((size.after, size.place), []).append(size)
    groups = []
    for (after, place), members in sorted(seatings.items()):
        values = sorted(size.value for size in members)
        # from the least on: a mean of deviations, not of diameters
        mean = values[0] + sum(value - values[0] for value in values) / len(values)
        squares = sum((value - mean) ** 2 for value in values)
        growth = sum(sorted(size.growth or 0.0 for size in members)) / len(members)
        u = sqrt(sum(sorted(size.u**2 for size in members)) / len(members))
        step = max(size.resolution for size in members)
        groups.append(Group(after, place, mean, len(members), squares, u, step, growth))
    return tuple(groups)


def _task(strokes: Sequence[Stroke], sizes: Sequence[Size], groups: tuple[Group, ...], prior: Prior) -> Task:
    known = all(size.growth is not None for size in sizes)
    reference = groups[0].mean
    shifted = tuple(group._replace(mean=group.mean - reference) for group in groups)
    # the second largest: one mistyped infeed shall not set the scale
    infeeds = sorted(abs(stroke.infeed) for stroke in strokes if stroke.infeed)[-2:][:1]
    scatter = max(group.u for group in groups)
    lengths = [group.mean for group in shifted if group.place == shifted[0].place]
    scale = max([*infeeds, 4.0 * scatter] if infeeds else [max(lengths) - min(lengths), 4.0 * scatter])
    growths = {group.after: group.growth for group in shifted}
    moves = []
    last = growths.get(0, 0.0)
    for number, stroke in enumerate(strokes, 1):
        growth = growths.get(number, last)
        moves.append(Move(stroke.infeed, growth - last if known else 0.0))
        last = growth
    known_places = sorted({group.place for group in groups})
    shifted = tuple(group._replace(place=known_places.index(group.place)) for group in shifted)
    cases = _cases(strokes, shifted, prior, heat=not known)
    return Task(tuple(moves), shifted, scale, scatter, known, len(known_places), cases)


def _cases(
    strokes: Sequence[Stroke], groups: Sequence[Group], prior: Prior, *, heat: bool
) -> tuple[Case, ...]:
    """The kinds of trouble that the readings leave open."""
    air = [number for number in range(1, len(strokes) + 1) if _nothing_yet(groups, number)][-MOST_AIR:]
    cases = [Case(prior.glazing / 2, glazing=0.03), Case(prior.glazing / 2, glazing=0.10)]
    cases += [Case(prior.heat / 2, heat=growth) for growth in (prior.wet, prior.dry) if heat]
    cases += [Case(prior.air / len(air), air=number) for number in air]
    return (Case(1.0 - sum(case.weight for case in cases)), *cases)


def _nothing_yet(groups: Sequence[Group], number: int) -> bool:
    """Whether the wheel may have been in the air for the first *number* passes."""
    firsts: dict[int, Group] = {}
    for group in groups:
        if group.after <= number:
            first = firsts.setdefault(group.place, group)
            if abs(group.mean - first.mean) > 6.0 * group.u + group.resolution:
                return False
    return True


def _bounds(strokes: Sequence[Stroke], limits: Limits) -> Bounds:
    infeed = abs(strokes[-1].infeed or 0.0)
    return Bounds(
        next_removal=limits.removal, rest=limits.removal / SOFTEST, idle=min(limits.removal, infeed / 4.0)
    )


def _too_few(strokes: Sequence[Stroke], groups: Sequence[Group], passes: int) -> Outlook:
    newest = [group for group in groups if group.after == len(strokes)]
    size = sum(group.mean for group in newest) / len(newest) if newest else None
    u = sqrt(sum(group.u**2 for group in newest)) / len(newest) if newest else None
    resting = bool(strokes) and strokes[-1].infeed == 0.0
    return Outlook(
        number=len(strokes),
        size=size,
        u_size=u,
        verdict="sparking-out" if resting else "cutting",
        why=f"sizes after {passes} passes so far, {FEWEST} are needed",
    )


def _by_model(strokes: Sequence[Stroke], sizes: Sequence[Size], limits: Limits, found: Prediction) -> Outlook:
    newest = max(sizes, key=lambda size: size.after)
    reference = _groups(sizes)[0].mean
    settled = not strokes[-1].infeed and _sure(found, limits.confidence)
    predicted = found.final + reference
    verdict = _verdict(
        strokes[-1].infeed,
        growing=found.p_growing >= limits.confidence,
        idle=found.p_idle >= limits.confidence,
        settled=settled,
        warm=newest.growth is not None and newest.growth > limits.warm,
        # a part that seems warm is not called at size: what it will be when cold is anybody's guess
        landed=found.p_heat < 0.5
        and limits.band is not None
        and limits.band[0] <= predicted <= limits.band[1],
    )
    return Outlook(
        number=len(strokes),
        size=found.size + reference,
        u_size=sqrt(found.u_size**2 + newest.u_growth**2),
        removed=found.removed,
        u_removed=found.u_removed,
        to_come=found.to_come,
        u_to_come=found.u_to_come,
        next_removal=found.next_removal,
        u_next=found.u_next,
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
        verdict=verdict,
        why=_why(found, newest.growth is not None),
    )


def _sure(found: Prediction, confidence: float) -> bool:
    """Whether the next pass is surely below the limit, and five times as surely below twice the limit."""
    enough = call_bound(confidence)
    return min(found.p_next, found.p_rest) >= enough and found.p_twice >= 1.0 - (1.0 - confidence) / 5.0


def call_bound(confidence: float) -> float:
    """Probability, after one pass, at which to call so that the calls are right with *confidence*.

    A pass without infeed multiplies the odds that the next takes less than the limit, so that they leap
    far over any bound. With the bound at the confidence itself the calls would be right far more often
    than promised, and a pass late; so the bound is lowered by the leap (the overshoot of a sequential
    test: Siegmund, Sequential Analysis, 1985, from memory). What share of the calls is then right,
    `capture.simulator.trials` shows.

    >>> round(call_bound(0.95), 3)
    0.679
    """
    odds = confidence / (1.0 - confidence) / OVERSHOOT
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


def _why(found: Prediction, known: bool) -> str:
    reasons = [found.doubt] if found.doubt else []
    if found.p_heat >= 0.5:
        reasons.append("the part seems to be getting warm")
    elif not known:
        reasons.append("no temperature known")
    if found.p_touching < 0.5:
        reasons.append("the wheel seems not to touch yet")
    return "; ".join(reasons)


def _by_sizes(
    strokes: Sequence[Stroke], sizes: Sequence[Size], groups: Sequence[Group], limits: Limits, reason: str
) -> Outlook:
    """Judge without the infeeds, or against them."""
    newest = max(sizes, key=lambda size: size.after)
    known = newest.growth is not None
    variances = [group.u**2 / min(group.readings, SEATING) + group.resolution**2 / 12.0 for group in groups]
    test = trend(
        [group.after for group in groups],
        [group.place for group in groups],
        [group.mean - groups[0].mean for group in groups],
        variances,
        limit=limits.removal,
    )
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
        why=f"{reason}judged by the sizes after the last {test.passes} passes alone",
    )
