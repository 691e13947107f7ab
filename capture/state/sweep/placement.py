"""Follows the rocks of a bore gauge at one place, and says when they make a reading of it."""

from __future__ import annotations

from math import hypot
from typing import Any, Literal

import numpy as np
from msgspec.structs import replace

from capture.metrology.bore.agreement import agreed
from capture.metrology.bore.turning_point import FEW, NoRock, RockFault, TurningPoint, evenly, turning_point
from capture.state.sweep.phases import Seen, after
from capture.state.sweep.rock_evidence import is_deliberate, regular, stepped
from capture.state.sweep.sweep_state import (
    FADE,
    MOST_POINTS,
    SHEET_COUNTS,
    Accepted,
    Placement,
    Point,
    Setup,
    StreamSample,
    SweepState,
    with_tone,
)

PATIENCE = 4.0
"""Seconds for which a place that is not yet accepted may be held still."""
QUICKEST, SLOWEST = 0.24, 4.0
"""Seconds that half a rock takes: a hand trembles quicker, and does nothing so slowly by rocking."""
WIDER = 3.2
"""Least sum of what a rock rises on both sides, in least heights of one."""
LONGER = 1.3
"""Half a rock takes this many times as long as those before it at the most (common practice, no source)."""
SLACK = 0.3
"""Seconds that a hand may lose without having left the place, beside"""
RHYTHM = 1.5
"""so many half rocks between two turning points, or"""
MISSED = 2.2
"""so many with a broken one in between (common practice, no source)."""
AGREEING = 0.6
"""Least share of a place's turning points that must agree (common practice, no source)."""
SPARSE = 0.3
"""Share of rocks with too few readings from which the hand is too quick for the gauge."""
TRIED = 6
"""Turning points after which a place is to be known, or the hand is too quick for the gauge."""
SHAPED = 0.00015
"""mm; what the shape of a hand makes of every one of its rocks of few readings, standard deviation
(by trials)."""
FEWEST_SHAPED = 0.00027
"""The same of rocks of `FEW` readings and fewer (by trials)."""
MOVED_ON = 0.006
"""mm by which turning points differ from a place that is not yet accepted where the gauge is moved on (by
trials)."""
SETTLED = 3
"""Turning points from which the size of a place is known well enough to see that the gauge is far from it."""
CONTEXT = 32
"""Readings beside a rock from which the rate of the gauge is known."""
UNUSUAL = 1.25
"""Half rocks between two turning points from which the place may have been left in between."""
CLEARLY = 5.0
"""Standard uncertainties, and"""
LEAST_STEP = 0.002
"""mm by which turning points must differ from an accepted place to be another's without any break."""
SURELY = 3.5
"""The same, and"""
SMALL_STEP = 0.0007
"""the same, where something like a break was seen."""
WATCHED = 8
"""Turning points after something like a break that are weighed so."""


def on_rock(state: SweepState, right: int, rules: Setup) -> SweepState:
    """One dip from turn to turn: is it a rock of this place, and is the place known now?"""
    turns = state.left, right
    left, right = _unrested(state, right)
    lowest = state.sample(state.low)
    sides = [state.sample(i).value - lowest.value for i in (left, right)]
    if min(sides) < rules.rise or sum(sides) < WIDER * rules.rise:
        if (left, right) != turns:
            state = replace(state, placement=replace(state.placement, off=state.placement.off + 1))
        return state
    samples = state.recent[left - state.base : right + 1 - state.base]
    half = samples[-1].at - samples[0].at
    if not QUICKEST <= half <= SLOWEST:
        return state
    found = _fitted(state, left, samples, rules)
    if isinstance(found, NoRock):
        return _broken(state, found, lowest, half)
    state = _learnt(state, found)
    near = min(samples, key=lambda sample: abs(sample.at - found.at))
    point = Point(found.at, found.value, found.u, near.seq, sum(sides) / 2, half, left, right, found.shaped)
    state = _placed(state, point, rules)
    state = replace(
        state,
        phase=after(state.phase, Seen.ROCK),
        why=None,
        level=point.value,
        height=max(0.9 * state.height, *sides),
    )
    if state.paused or state.placement.mastered or state.placement.accepted is not None:
        return state
    return _weighed(state, rules)


def _unrested(state: SweepState, right: int) -> tuple[int, int]:
    """The dip from `left` to *right* without what the gauge was held still in it, on its flanks."""
    left, low = state.left, state.sample(state.low).at
    for start, end in state.rests:
        if end <= low:
            while left < state.low and state.sample(left).at < end:
                left += 1
        elif start >= low:
            while right > state.low and state.sample(right).at > start:
                right -= 1
    return left, right


def _noise(state: SweepState, rules: Setup) -> float:
    """By the sheet and by how readings lay about the curves so far, pooled."""
    squares = SHEET_COUNTS * rules.noise**2 + state.squares
    return float((squares / (SHEET_COUNTS + state.freedom)) ** 0.5)


def _learnt(state: SweepState, found: TurningPoint) -> SweepState:
    keep = FADE / max(FADE, state.freedom + found.freedom)
    squares, freedom = keep * (state.squares + found.squares), keep * (state.freedom + found.freedom)
    return replace(state, squares=squares, freedom=freedom)


def _fitted(state: SweepState, left: int, samples: list[StreamSample], rules: Setup) -> TurningPoint | NoRock:
    """The turning point, on the gauge's own beat; on the times of arrival where that fits better."""
    first = max(left - CONTEXT, state.base) - state.base
    start = left - state.base - first
    arrived = np.array([sample.at for sample in state.recent[first:]])
    values = np.array([sample.value for sample in samples])
    even, late = evenly(arrived)
    here = slice(start, start + len(samples))
    noise = _noise(state, rules)
    found = turning_point(even[here], values, noise=noise)
    if isinstance(found, TurningPoint) and found.squares <= 3.0 * noise**2 * max(found.freedom, 1.0):
        return found
    other = turning_point(arrived[here], values, noise=noise, late=late / 4)
    if isinstance(other, NoRock) or (isinstance(found, TurningPoint) and found.u <= other.u):
        return found
    return other


def _broken(state: SweepState, found: NoRock, lowest: StreamSample, half: float) -> SweepState:
    placement = state.placement
    placement = replace(
        placement,
        dips=placement.dips + 1,
        sparse=placement.sparse + found.sparse,
        knocks=placement.knocks + (not found.sparse),
        off=placement.off + (not found.sparse),
        half=placement.half or half,
    )
    state = replace(state, placement=placement, why=found.why)
    if found.sparse:
        # Too quick for the gauge, but the rhythm goes on.
        here = state.level is not None and lowest.value - state.level < state.height / 4
        placement = replace(placement, last=lowest.at) if placement.last is not None and here else placement
        state = replace(state, placement=placement)
        if too_quick(placement) and state.tone != "slower":
            return replace(state, **with_tone("slower", state.recent[-1]))
    return state


def too_quick(placement: Placement) -> bool:
    """Whether the hand rocks too quickly for the rate of the gauge."""
    return placement.accepted is None and placement.sparse >= 2 and placement.sparse > SPARSE * placement.dips


def _of_the_hand(points: list[Point]) -> float:
    """Standard uncertainty by the shape of the hand, mm, which is the same in all its rocks."""
    readings = sorted(point.last - point.first + 1 for point in points)[len(points) // 2]
    few = FEWEST_SHAPED if readings <= FEW else SHAPED * ((FEW + 1) / readings) ** 2
    seen = sorted(point.shaped for point in points)[len(points) // 2]
    return hypot(few, seen)


def too_few(placement: Placement) -> bool:
    """Whether many rocks of few readings each have not settled the place: slower rocks have more of them."""
    few = [point.last - point.first + 1 for point in placement.points[-TRIED:]]
    return placement.accepted is None and len(few) == TRIED and sorted(few)[TRIED // 2] <= FEW + 3


def _asked(state: SweepState, unsure: bool) -> SweepState:
    """Ask for slower rocking where a place is still unsure after many rocks of few readings."""
    if unsure and too_few(state.placement) and state.tone != "slower":
        return replace(state, **with_tone("slower", state.recent[-1]))
    return state


def _placed(state: SweepState, point: Point, rules: Setup) -> SweepState:
    """The point goes to the place in hand, or the place was left and a new one begins."""
    placement = state.placement
    break_ = _break(state, point, rules)
    if break_ == "left":
        return replace(state, placement=_fresh(placement, (point,)), **given_up(state))
    if placement.accepted is not None:
        return replace(
            state, placement=_after(placement, placement.accepted, point, perhaps=break_ == "perhaps")
        )
    points = (*placement.points, point)[-MOST_POINTS:]
    if _elsewhere(placement, point):
        # A hand that moves the gauge on swings it too: that is not the rhythm of the place it left.
        placement = replace(placement, points=points, dips=placement.dips + 1, off=placement.off + 1)
        return replace(state, placement=placement)
    half = 0.7 * placement.half + 0.3 * point.half if placement.half else point.half
    placement = replace(placement, points=points, last=point.at, half=half, dips=placement.dips + 1, off=0)
    return replace(state, placement=placement)


def _elsewhere(placement: Placement, point: Point) -> bool:
    """Whether *point* lies so far off the place in hand that the gauge may be on its way to another.

    Asked only where rocks had too few readings: only such a place is still open when the hand moves on.
    """
    if not placement.sparse or len(placement.points) < SETTLED:
        return False
    middle = sorted(placement.points, key=lambda one: one.value)[len(placement.points) // 2]
    return abs(point.value - middle.value) > max(CLEARLY * (point.u + middle.u), MOVED_ON)


def given_up(state: SweepState) -> dict[str, Any]:
    """What changes when the place in hand is left: a tone sounds if it was not finished."""
    unfinished = state.placement.accepted is None and len(state.placement.points) > 1 and not state.paused
    return with_tone("again", state.recent[-1]) if unfinished else {}


def _fresh(placement: Placement, points: tuple[Point, ...]) -> Placement:
    last = points[-1]
    return Placement(points, last=last.at, half=last.half, dips=len(points), mastered=placement.mastered)


def _break(state: SweepState, point: Point, rules: Setup) -> Literal["", "perhaps", "left"]:
    """Whether more than a pause or a broken rock lies between this turning point and the last."""
    placement = state.placement
    if placement.last is None:
        return ""
    rests = [max(0.0, min(end, point.at) - max(start, placement.last)) for start, end in state.rests]
    rested, longest = sum(rests), max(rests, default=0.0)
    half = point.half
    beat = min(max(placement.half, half), LONGER * placement.half) if placement.half else half
    busy = point.at - placement.last - rested
    if busy > (MISSED if placement.off == 1 or rested else RHYTHM) * beat + SLACK:
        return "left"
    if rested > PATIENCE or (placement.accepted is not None and longest > rules.limits.pause):
        return "left"
    return "perhaps" if rested or placement.off or busy > UNUSUAL * beat else ""


def _after(placement: Placement, accepted: Accepted, point: Point, *, perhaps: bool) -> Placement:
    """Rocking goes on at an accepted place, or at another that nothing but its size tells."""
    differs = abs(point.value - accepted.value) > max(CLEARLY * (accepted.u + point.u), LEAST_STEP)
    # What is so different is of no rock of this place, and does not keep its rhythm going.
    last, off = (placement.last, placement.off + 1) if differs else (point.at, 0)
    placement = replace(placement, last=last, off=off)
    if perhaps:
        return replace(placement, others=(point,), moved=True)
    if not placement.moved and not differs:
        return replace(placement, others=())
    others = (*placement.others, point)
    if len(others) < 3:
        return replace(placement, others=others)
    found = agreed([other.value for other in others], [other.u for other in others])
    if len(found.kept) < len(others):
        return replace(placement, others=others[1:])
    step, u = abs(found.value - accepted.value), hypot(found.u, accepted.u)
    if step > (max(SURELY * u, SMALL_STEP) if placement.moved else LEAST_STEP):
        return _fresh(placement, others)
    if len(others) > WATCHED:
        return replace(placement, others=(), moved=False)
    return replace(placement, others=others)


def _weighed(state: SweepState, rules: Setup) -> SweepState:
    """Accept the place if enough of its turning points agree well enough."""
    placement = state.placement
    if (
        len(placement.points) < rules.points
        or too_quick(placement)
        or placement.knocks > len(placement.points)
    ):
        return state
    found = agreed([p.value for p in placement.points], [p.u for p in placement.points])
    state = _asked(state, found.u > rules.accept or len(found.kept) < AGREEING * len(placement.points))
    if len(found.kept) < max(rules.points, AGREEING * len(placement.points)) or found.u > rules.accept:
        return state
    if regular([placement.points[i] for i in found.kept]) < rules.points or not is_deliberate(
        placement, found.kept
    ):
        return state
    if stepped(placement, found.kept):
        return replace(state, why=RockFault.STEPPED)
    newest = state.recent[-1]
    accepted = Accepted(
        seq=newest.seq,
        at=newest.at,
        value=found.value,
        u=hypot(found.u, _of_the_hand([placement.points[i] for i in found.kept])),
        of=tuple(placement.points[i].seq for i in found.kept),
        low=tuple(placement.points[i].seq for i in found.low),
        high=tuple(placement.points[i].seq for i in found.high),
    )
    placement = replace(placement, accepted=accepted)
    return replace(state, placement=placement, due=accepted, **with_tone("accepted", newest))
