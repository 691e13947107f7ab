"""Sweep: what a streaming bore gauge is doing, by its readings alone, and what each place reads.

Reading after reading the turns of the hand are found; between two of them lies one rock, and
its bottom is fitted (`capture.metrology.bore.turning_point`). Turning points of one place that agree are
its reading. A place is left when the rhythm breaks or the gauge comes out; until then nothing
more is accepted there.
"""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from capture.state.append_log import Log
from capture.state.sweep.phases import Seen, after
from capture.state.sweep.placement import MISSED, SLACK, given_up, on_rock
from capture.state.sweep.sweep_state import KEPT, Placement, Setup, StreamSample, SweepState, with_tone

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
HIGHER = 4.0
"""A rock goes this many times as high as those before it at the most, and"""
STEEPEST = 0.0095
"""as high as this share of the bore: 7.9 degrees (both: common practice, no source)."""
OUT = 0.2
"""Seconds out of the bore after which it is no knock."""


def step(state: SweepState, sample: StreamSample, rules: Setup) -> SweepState:
    """The sweep after one reading."""
    recent, base = state.recent, state.base
    if len(recent) >= 2 * KEPT:
        recent, base = Log(recent[-KEPT:]), base + len(recent) - KEPT
    before = recent.last
    gap = None if before is None else sample.at - before.at
    number = base + len(recent)
    state = replace(state, recent=recent.added(sample), base=base, **_beat(state, gap, sample, rules))
    if before is None or gap is None or gap > LOST:
        return _restarted(state, number, sample)
    if _out(state, sample.value, rules):
        return _outside(state, number, sample, rules)
    if state.out_since is not None:
        state = _inside(state, number, sample, rules)
    return _turns(_moves(state, number, sample, rules), number, sample.value, rules)


def _beat(state: SweepState, gap: float | None, sample: StreamSample, rules: Setup) -> dict[str, Any]:
    """Whether it streams."""
    if state.streams:
        return {}
    if gap is None or gap > rules.limits.interval:
        return {"quick": 0, "run": sample.seq}
    quick = state.quick + 1
    if quick < QUICK_RUN:
        return {"quick": quick}
    return {"quick": quick, "streams": True, "found": sample.seq}


def _restarted(state: SweepState, number: int, sample: StreamSample) -> SweepState:
    """After silence nothing is known of where the gauge is."""
    return replace(
        _sought(state, number, sample),
        phase=after(state.phase, Seen.STARTED),
        placement=Placement(mastered=state.placement.mastered),
        out_since=None,
        left_at=None,
        rests=(),
    )


def _sought(state: SweepState, number: int, sample: StreamSample) -> SweepState:
    """Look for the next turn from here."""
    here = (number, sample.value)
    return replace(state, trend=1, peak=here, left=-1, low=-1, anchor=(sample.at, sample.value, number))


def _out(state: SweepState, value: float, rules: Setup) -> bool:
    """Whether the gauge shows more than any rock makes, or less than any bore nearby is."""
    if rules.centre is not None and abs(value - rules.centre) > rules.limits.reach:
        return True
    if state.level is None:
        return False
    above = value - state.level
    most = min(max(rules.limits.out, HIGHER * state.height), STEEPEST * rules.size)
    return above > most or above < -rules.limits.out


def _outside(state: SweepState, number: int, sample: StreamSample, rules: Setup) -> SweepState:
    since = sample.at if state.out_since is None else state.out_since
    state = replace(_sought(state, number, sample), out_since=since)
    if state.left_at is None:
        if sample.at - since < OUT:
            return state
        # It may not come back to where it was.
        left = after(state.phase, Seen.LEFT_PLACE if _was_in(state) else Seen.LEFT)
        return replace(state, left_at=since, phase=left, rests=(), **given_up(state))
    away = sample.at - since
    if away > FORGOTTEN and state.level is not None:
        return replace(state, level=None, height=0.0)
    return replace(state, phase=after(state.phase, Seen.AWAY)) if away > rules.limits.redo else state


def _was_in(state: SweepState) -> bool:
    return state.placement.last is not None


def _inside(state: SweepState, number: int, sample: StreamSample, rules: Setup) -> SweepState:
    """Back from outside: a knock, a redo, or a new place."""
    state = _sought(replace(state, out_since=None), number, sample)
    if state.left_at is None:
        placement = state.placement
        return replace(state, placement=replace(placement, knocks=placement.knocks + 1))
    # Of a place that was not accepted yet there is nothing to set aside: the newest reading is another's.
    again = sample.at - state.left_at <= rules.limits.redo and state.placement.accepted is not None
    state = replace(state, left_at=None, phase=after(state.phase, Seen.BACK), placement=Placement())
    return replace(state, redo=sample.seq, **with_tone("again", sample)) if again else state


def _moves(state: SweepState, number: int, sample: StreamSample, rules: Setup) -> SweepState:
    """Whether it holds still, and how long it did."""
    since, held, first = state.anchor
    half = state.placement.half or AT_FIRST
    if abs(sample.value - held) > 0.6 * rules.turn:
        if number - first >= QUICK_RUN and sample.at - since > STILL[0] + STILL[1] * half:
            state = replace(state, rests=(*state.rests, (since, sample.at))[-RESTS:])
        state = replace(state, anchor=(sample.at, sample.value, number))
        return replace(state, phase=after(state.phase, Seen.MOVED if _was_in(state) else Seen.MOVED_FIRST))
    if sample.at - since > RESTING and state.phase != "still":
        return replace(state, phase=after(state.phase, Seen.STILL))
    last = state.placement.last
    if last is not None and sample.at - last > MISSED * half + 2 * SLACK:
        return replace(state, phase=after(state.phase, Seen.RHYTHM_LOST))
    return state


def _turns(state: SweepState, number: int, value: float, rules: Setup) -> SweepState:
    """Look for the turns of the hand, and look into the rock between two of them."""
    if state.trend > 0:
        if value > state.peak[1]:
            return replace(state, peak=(number, value))
        if value > state.peak[1] - rules.turn:
            return state
        right = state.peak[0]
        if state.left >= state.base and state.low >= 0:
            state = on_rock(state, right, rules)
        return replace(state, trend=-1, left=right, low=-1, peak=(number, value))
    if value < state.peak[1]:
        return replace(state, peak=(number, value))
    if value > state.peak[1] + rules.turn:
        return replace(state, trend=1, low=state.peak[0], peak=(number, value))
    return state
