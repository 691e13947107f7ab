"""Sweep: what a streaming bore gauge is doing, told from its readings alone, and what each place reads.

Reading after reading the turns of the hand are found; between two of them lies one rock, and
its bottom is fitted (`capture.metrology.turning_point`). Turning points of one place that agree are
its reading. A place is left when the rhythm breaks or the gauge comes out; until then nothing
more is accepted there.
"""

from __future__ import annotations

from statistics import median
from typing import Any

import numpy as np
from msgspec.structs import replace

from capture.folds.log import Log
from capture.folds.sweep_state import (
    FADE,
    KEPT,
    MOST_POINTS,
    SHEET_COUNTS,
    Accepted,
    Point,
    Sample,
    Seat,
    Setup,
    Sweep,
)
from capture.metrology.agreement import agreed
from capture.metrology.turning_point import NoRock, TurningPoint, evenly, turning_point

QUICK_RUN = 4
"""Quick readings in a row that make a stream: a button that bounces gives two."""
FORGOTTEN = 30.0
"""Seconds out of the bore after which another size may come."""
LOST = 2.0
"""Seconds of silence after which nobody knows where the gauge stands."""
STILL = (0.08, 0.4)
"""Holding still, and no turn of the hand: longer than so many seconds and so many half rocks."""
AT_FIRST = 0.6
"""Seconds that half a rock is thought to take until one has been seen."""
RESTS = 6
"""Rests that are looked back upon."""
RESTING = 1.0
"""Seconds after which it is said to be still."""
PATIENCE = 4.0
"""Seconds for which a place that is not yet accepted may be held still."""
QUICKEST = 0.2
"""Seconds that half a rock takes at least: a hand trembles quicker, but does not rock."""
WIDER = 3.2
"""Least sum of what a rock rises on both sides, in least heights of one."""
REGULAR = (2.0, 4.0)
"""Rocks of one hand are within these factors of their median in length and in height."""
LONGER = 1.3
"""Half a rock takes this many times as long as those before it at the most (common practice, no source)."""
HIGHER = 4.0
"""A rock goes this many times as high as those before it at the most, and"""
STEEPEST = 0.0095
"""as high as this share of the bore: 7.9 degrees (both: common practice, no source)."""
OUT = 0.2
"""Seconds out of the bore after which it is no knock."""
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
CONTEXT = 32
"""Readings beside a rock from which the beat of the gauge is told."""
CLEARLY = 5.0
"""Standard uncertainties, with 2 µm at least, by which a place must differ to be another without a break."""


def step(state: Sweep, sample: Sample, told: Setup) -> Sweep:
    """The sweep after one reading."""
    recent, base = state.recent, state.base
    if len(recent) >= 2 * KEPT:
        recent, base = Log(recent[-KEPT:]), base + len(recent) - KEPT
    before = recent.last
    gap = None if before is None else sample.at - before.at
    number = base + len(recent)
    state = replace(state, recent=recent.added(sample), base=base, **_beat(state, gap, sample, told))
    if before is None or gap is None or gap > LOST:
        return _afresh(state, number, sample)
    if _out(state, sample.value, told):
        return _outside(state, number, sample, told)
    if state.out_since is not None:
        state = _inside(state, number, sample, told)
    return _turns(_moves(state, number, sample, told), number, sample.value, told)


def _beat(state: Sweep, gap: float | None, sample: Sample, told: Setup) -> dict[str, Any]:
    """Whether it streams."""
    if state.streams:
        return {}
    if gap is None or gap > told.limits.interval:
        return {"quick": 0, "run": sample.seq}
    quick = state.quick + 1
    if quick < QUICK_RUN:
        return {"quick": quick}
    return {"quick": quick, "streams": True, "found": sample.seq}


def _afresh(state: Sweep, number: int, sample: Sample) -> Sweep:
    """After silence nothing is known of where the gauge is."""
    return replace(
        _sought(state, number, sample),
        phase="entering",
        seat=Seat(mastered=state.seat.mastered),
        out_since=None,
        left_at=None,
        rests=(),
    )


def _sought(state: Sweep, number: int, sample: Sample) -> Sweep:
    """Look for the next turn from here."""
    here = (number, sample.value)
    return replace(state, trend=1, peak=here, left=-1, low=-1, anchor=(sample.at, sample.value, number))


def _out(state: Sweep, value: float, told: Setup) -> bool:
    """Whether the gauge shows more than any rock makes, or less than any bore nearby is."""
    if told.centre is not None and abs(value - told.centre) > told.limits.reach:
        return True
    if state.level is None:
        return False
    above = value - state.level
    most = min(max(told.limits.out, HIGHER * state.height), STEEPEST * told.size)
    return above > most or above < -told.limits.out


def _outside(state: Sweep, number: int, sample: Sample, told: Setup) -> Sweep:
    since = sample.at if state.out_since is None else state.out_since
    state = replace(_sought(state, number, sample), out_since=since)
    if state.left_at is None:
        if sample.at - since < OUT:
            return state
        # It may not come back to where it was.
        return replace(state, left_at=since, phase="withdrawn" if _was_in(state) else "air", rests=())
    away = sample.at - since
    if away > FORGOTTEN and state.level is not None:
        return replace(state, level=None, height=0.0)
    return replace(state, phase="air") if state.phase == "withdrawn" and away > told.limits.redo else state


def _was_in(state: Sweep) -> bool:
    return state.seat.last is not None


def _inside(state: Sweep, number: int, sample: Sample, told: Setup) -> Sweep:
    """Back from outside: a knock, a redo, or a new place."""
    state = _sought(replace(state, out_since=None), number, sample)
    if state.left_at is None:
        seat = state.seat
        return replace(state, seat=replace(seat, knocks=seat.knocks + 1))
    again = sample.at - state.left_at <= told.limits.redo and _was_in(state)
    state = replace(state, left_at=None, phase="entering", seat=Seat())
    return replace(state, redo=sample.seq, **_heard("again", sample)) if again else state


def _heard(tone: str, sample: Sample) -> dict[str, Any]:
    return {"tone": tone, "tone_seq": sample.seq}


def _moves(state: Sweep, number: int, sample: Sample, told: Setup) -> Sweep:
    """Whether it holds still, and how long it did."""
    since, held, first = state.anchor
    half = state.seat.half or AT_FIRST
    if abs(sample.value - held) > 0.6 * told.turn:
        if number - first >= QUICK_RUN and sample.at - since > STILL[0] + STILL[1] * half:
            state = replace(state, rests=(*state.rests, (since, sample.at))[-RESTS:])
        state = replace(state, anchor=(sample.at, sample.value, number))
        if state.phase == "still":
            return replace(state, phase="moving" if state.seat.last is not None else "entering")
        return state
    if sample.at - since > RESTING and state.phase != "still":
        return replace(state, phase="still")
    last = state.seat.last
    if state.phase == "rocking" and last is not None and sample.at - last > MISSED * half + 2 * SLACK:
        return replace(state, phase="moving")
    return state


def _turns(state: Sweep, number: int, value: float, told: Setup) -> Sweep:
    """Look for the turns of the hand, and look into the rock between two of them."""
    if state.trend > 0:
        if value > state.peak[1]:
            return replace(state, peak=(number, value))
        if value > state.peak[1] - told.turn:
            return state
        right = state.peak[0]
        if state.left >= state.base and state.low >= 0:
            state = _rocked(state, right, told)
        return replace(state, trend=-1, left=right, low=-1, peak=(number, value))
    if value < state.peak[1]:
        return replace(state, peak=(number, value))
    if value > state.peak[1] + told.turn:
        return replace(state, trend=1, low=state.peak[0], peak=(number, value))
    return state


def _rocked(state: Sweep, right: int, told: Setup) -> Sweep:
    """One dip from turn to turn: is it a rock of this place, and is the place known now?"""
    turns = state.left, right
    left, right = _unrested(state, right)
    lowest = state.sample(state.low)
    sides = [state.sample(i).value - lowest.value for i in (left, right)]
    if min(sides) < told.rise or sum(sides) < WIDER * told.rise:
        if (left, right) != turns:
            state = replace(state, seat=replace(state.seat, off=state.seat.off + 1))
        return state
    samples = state.recent[left - state.base : right + 1 - state.base]
    half = samples[-1].at - samples[0].at
    if half < QUICKEST:
        return state
    found = _fitted(state, left, samples, told)
    if isinstance(found, NoRock):
        return _broken(state, found, lowest, half)
    state = _learnt(state, found)
    near = min(samples, key=lambda sample: abs(sample.at - found.at))
    point = Point(found.at, found.value, found.u, near.seq, sum(sides) / 2, half)
    state = _placed(state, point, half, told)
    state = replace(state, phase="rocking", why="", level=point.value, height=max(0.9 * state.height, *sides))
    if state.paused or state.seat.mastered or state.seat.accepted is not None:
        return state
    return _weighed(state, told)


def _unrested(state: Sweep, right: int) -> tuple[int, int]:
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


def _noise(state: Sweep, told: Setup) -> float:
    """By the sheet and by how readings lay about the curves so far, pooled."""
    squares = SHEET_COUNTS * told.noise**2 + state.squares
    return float((squares / (SHEET_COUNTS + state.freedom)) ** 0.5)


def _learnt(state: Sweep, found: TurningPoint) -> Sweep:
    keep = FADE / max(FADE, state.freedom + found.freedom)
    squares, freedom = keep * (state.squares + found.squares), keep * (state.freedom + found.freedom)
    return replace(state, squares=squares, freedom=freedom)


def _fitted(state: Sweep, left: int, samples: list[Sample], told: Setup) -> TurningPoint | NoRock:
    """The turning point, on the gauge's own beat; on the times of arrival where that fits better."""
    first = max(left - CONTEXT, state.base) - state.base
    start = left - state.base - first
    arrived = np.array([sample.at for sample in state.recent[first:]])
    values = np.array([sample.value for sample in samples])
    even, late = evenly(arrived)
    here = slice(start, start + len(samples))
    noise = _noise(state, told)
    found = turning_point(even[here], values, noise=noise)
    if isinstance(found, TurningPoint) and found.squares <= 3.0 * noise**2 * max(found.freedom, 1.0):
        return found
    other = turning_point(arrived[here], values, noise=noise, late=late / 4)
    if isinstance(other, NoRock) or (isinstance(found, TurningPoint) and found.u <= other.u):
        return found
    return other


def _broken(state: Sweep, found: NoRock, lowest: Sample, half: float) -> Sweep:
    seat = state.seat
    seat = replace(
        seat,
        dips=seat.dips + 1,
        sparse=seat.sparse + found.sparse,
        knocks=seat.knocks + (not found.sparse),
        off=seat.off + (not found.sparse),
        half=seat.half or half,
    )
    state = replace(state, seat=seat, why=found.why)
    if found.sparse:
        # Too quick for the gauge, but the rhythm goes on.
        here = state.level is not None and lowest.value - state.level < state.height / 4
        seat = replace(seat, last=lowest.at) if seat.last is not None and here else seat
        state = replace(state, seat=seat)
        if _too_quick(seat) and state.tone != "slower":
            return replace(state, **_heard("slower", state.recent[-1]))
    return state


def _too_quick(seat: Seat) -> bool:
    return seat.accepted is None and seat.sparse >= 2 and seat.sparse > SPARSE * seat.dips


def _placed(state: Sweep, point: Point, half: float, told: Setup) -> Sweep:
    """The point goes to the place in hand, or the place was left and a new one begins."""
    seat = state.seat
    if seat.last is not None and _was_left(state, point, half, told):
        seat = Seat((point,), last=point.at, half=half, dips=1, mastered=seat.mastered)
        return replace(state, seat=seat)
    if seat.accepted is not None:
        return replace(state, seat=_after(seat, seat.accepted, point, half))
    points = (*seat.points, point)[-MOST_POINTS:]
    mean = half if not seat.half else 0.7 * seat.half + 0.3 * half
    seat = replace(seat, points=points, last=point.at, half=mean, dips=seat.dips + 1, off=0)
    return replace(state, seat=seat)


def _was_left(state: Sweep, point: Point, half: float, told: Setup) -> bool:
    """Whether more than a pause or a broken rock lies between this turning point and the last."""
    seat = state.seat
    if seat.last is None:
        return False
    rests = [max(0.0, min(end, point.at) - max(start, seat.last)) for start, end in state.rests]
    rested, longest = sum(rests), max(rests, default=0.0)
    beat = min(max(seat.half, half), LONGER * seat.half) if seat.half else half
    if point.at - seat.last - rested > (MISSED if seat.off == 1 or rested else RHYTHM) * beat + SLACK:
        return True
    return longest > (told.limits.pause if seat.accepted is not None else PATIENCE)


def _after(seat: Seat, accepted: Accepted, point: Point, half: float) -> Seat:
    """Rocking goes on at an accepted place, or at another that it was slid to while rocking."""
    differs = abs(point.value - accepted.value) > max(CLEARLY * (accepted.u + point.u), 0.002)
    if not differs:
        return replace(seat, last=point.at, others=(), off=0)
    others = (*seat.others, point)
    if len(others) < 3:
        return replace(seat, others=others, off=seat.off + 1)
    level = median(other.value for other in others)
    if max(abs(other.value - level) - 4 * other.u for other in others) > 0:
        return replace(seat, others=others[1:], off=seat.off + 1)
    return Seat(others, last=point.at, half=half, dips=len(others), mastered=seat.mastered)


def _weighed(state: Sweep, told: Setup) -> Sweep:
    """Accept the place if enough of its turning points agree well enough."""
    seat = state.seat
    if len(seat.points) < told.limits.points or _too_quick(seat):
        return state
    found = agreed([p.value for p in seat.points], [p.u for p in seat.points])
    if len(found.kept) < max(told.limits.points, AGREEING * len(seat.points)) or found.u > told.accept:
        return state
    if _regular([seat.points[i] for i in found.kept]) < told.limits.points:
        return state
    if _stepped(seat, found.kept):
        return replace(state, why="knocked: what was read before and after does not agree")
    newest = state.recent[-1]
    accepted = Accepted(
        seq=newest.seq,
        at=newest.at,
        value=found.value,
        u=found.u,
        of=tuple(seat.points[i].seq for i in found.kept),
        low=tuple(seat.points[i].seq for i in found.low),
        high=tuple(seat.points[i].seq for i in found.high),
    )
    seat = replace(seat, accepted=accepted)
    return replace(state, seat=seat, due=accepted, **_heard("accepted", newest))


def _regular(points: list[Point]) -> int:
    """How many points are of rocks of one kind; knocks follow each other anyhow."""
    half, height = median(point.half for point in points), median(point.height for point in points)
    longer, higher = REGULAR
    return sum(
        half / longer <= point.half <= half * longer and height / higher <= point.height <= height * higher
        for point in points
    )


def _stepped(seat: Seat, kept: tuple[int, ...]) -> bool:
    """Whether a knock parts the points that agree from others that agree: the zero has moved."""
    aside = [point for i, point in enumerate(seat.points) if i not in kept]
    if not seat.knocks or len(aside) < 2:
        return False
    times = [seat.points[i].at for i in kept]
    apart = all(point.at < times[0] for point in aside) or all(point.at > times[-1] for point in aside)
    level = median(point.value for point in aside)
    return apart and all(abs(point.value - level) < 3 * point.u + 0.0003 for point in aside)
