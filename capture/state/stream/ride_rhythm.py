"""The rhythm of a table that strokes: passes that took almost nothing are looked for where they are due."""

from __future__ import annotations

from itertools import pairwise
from math import exp, log, sqrt
from typing import TypeAlias

from msgspec.structs import replace

from capture.metrology.gauges.turning_part import SecondMean
from capture.state.stream.ride_noise import pooled
from capture.state.stream.riding_state import MOST_STEPS, RidingState, SizeStep

RHYTHM = 0.3
"""Share of a stroke by which a pass may come early or late in its rhythm."""
GOES_ON = 9.0
"""Odds that a wheel that strokes goes on."""
IN_A_ROW = 3
"""Passes in a row that the rhythm alone may tell."""
NEWEST = 3
"""Intervals each way that the rhythm is read from, of the newest"""
CLEAR = 3.0
"""Standard uncertainties that a pass takes from which the rhythm rests on it."""
LOOKED_BACK = 9
"""passes."""
SMALL = 0.0015
"""mm up to which a fall may be a part that springs back, or coolant that is shut (an estimate)."""
SPRINGS = 0.22
"""Share of what the pass before took up to which a fall that follows too soon is a part of that pass."""
TAKES = 0.15
"""Share of what the pass before took that a pass takes at the least: K is not over 0.85."""


def next_due(state: RidingState) -> tuple[float, float] | None:
    """When the next pass is due by the rhythm of those before, and the seconds of a stroke; None without one.

    A table strokes there and back: unless the gauge rides in the middle, every other interval is alike.
    """
    beat = _beat(state)
    if beat is None or state.pauses > IN_A_ROW:
        return None
    at, this, other = beat
    if max(this, other) > 4.0 * min(this, other):
        return None
    for count in range(2 * MOST_STEPS):
        at += other if count % 2 else this
        if at > state.steps[-1].at + 0.5 * min(this, other):
            return at, 0.5 * (this + other)
    return None


def _beat(state: RidingState) -> tuple[float, float, float] | None:
    """When the newest clear pass was, and the seconds from it to the next and from that one to the next."""
    times = [
        one.at for one in state.steps if one.seen and one.due and not one.odd and one.removed > CLEAR * one.u
    ]
    gaps = [b - a for a, b in pairwise(times[-LOOKED_BACK:])]
    if len(gaps) < 2:
        return None
    # the wheel drawn back, or a pass not seen, only makes an interval longer
    return times[-1], min(gaps[-2::-2][:NEWEST]), min(gaps[-1::-2][:NEWEST])


def is_due(state: RidingState, at: float) -> bool:
    """Whether a pass at *at* comes when one is due."""
    due = next_due(state)
    return due is not None and abs(at - due[0]) <= RHYTHM * due[1]


def may_be(state: RidingState, at: float) -> bool:
    """Whether a pass at *at* is not much sooner than any that came after one before it.

    The wheel drawn back makes an interval longer, never shorter; one that leaves a part lets it spring back,
    which a gauge of one side shows as a fall between two strokes.
    """
    beat = _beat(state)
    return beat is None or at - beat[0] > (1.0 - RHYTHM) * beat[1]


def springs_back(state: RidingState, at: float, removed: float) -> bool:
    """Whether a fall so soon after a pass is the part that springs back as the wheel leaves it."""
    beat = _beat(state)
    if beat is None:
        return False
    last = state.steps[-1]
    soon = at - last.at < (1.0 - RHYTHM) * min(beat[1:])
    return soon and removed < SPRINGS * last.removed


def is_doubtful(state: RidingState, at: float, removed: float) -> bool:
    """Whether a small fall comes when no pass is due, as when coolant is shut in a pause."""
    beat = _beat(state)
    if beat is None or removed > SMALL:
        return False
    due, this, other = beat
    near, last = RHYTHM * min(this, other), state.steps[-1].at
    if any(abs(at - last - one) <= near for one in (this, other)):
        return False
    for count in range(4 * MOST_STEPS):
        due += other if count % 2 else this
        if due > last + 0.5 * min(this, other):
            return abs(at - due) > near  # after one that was not seen, the next one tells
    return True


def lost(state: RidingState) -> RidingState:
    """The rhythm is over."""
    return replace(state, pauses=IN_A_ROW + 1)


Weak: TypeAlias = tuple[RidingState, SizeStep | None, tuple[SecondMean, ...]]


def weak_pass(state: RidingState, noise: float) -> Weak:
    """The pass that took almost nothing where one was due, and the seconds since; None where none was made.

    Args:
        state: The gauge while the size stands.
        noise: Standard deviation of a second's mean, mm.
    """
    due = next_due(state)
    if due is None:
        return state, None, ()
    at, stroke = due
    margin = RHYTHM * stroke
    if state.seconds[-1].at < at + margin + 1.0:
        return state, None, ()
    before = [one for one in state.seconds if one.at < at - margin]
    near = [one for one in state.seconds if abs(one.at - at) <= margin]
    after = [one for one in state.seconds if one.at > at + margin]
    if len(before) < 2 or not near or not after:
        return lost(state), None, ()
    last = state.steps[-1]
    off = sum(one.value for one in before) / len(before) - sum(one.value for one in after) / len(after)
    u = noise * sqrt(1.0 / len(before) + 1.0 / len(after))
    if off + 3.0 * u < TAKES * last.removed:
        return lost(state), None, ()  # a wheel that was by would have taken more
    odds = log(GOES_ON) + _fell(off, u, last.removed)
    odds += _rougher(near, before + after, exp(2.0 * state.rough))
    if odds < 0.0 or state.pauses >= IN_A_ROW:
        return lost(state), None, ()
    size = sum(one.value for one in after) / len(after)
    made = SizeStep(at, off, u, size, seen=odds > log(GOES_ON) + 2.0)
    return state, made, tuple(after)


def _fell(off: float, u: float, last: float) -> float:
    """Logarithm of how much likelier *off* is after a pass that takes half of the last one than of none."""
    due, spread = max(0.5 * last, 0.0), 0.35 * abs(last) + 1e-6
    with_pass, without = u**2 + spread**2, u**2
    return -0.5 * ((off - due) ** 2 / with_pass - off**2 / without + log(with_pass / without))


def _rougher(near: list[SecondMean], rest: list[SecondMean], rough: float) -> float:
    """Logarithm of how much likelier the scatter beside the wheel is with the wheel there than without.

    *rough* is the ratio of variances that clear passes showed. The wheel is by for a part of that time.
    """
    rough = 1.0 + 0.4 * (rough - 1.0)
    free = sum(one.kept - 2 for one in near)
    quiet = pooled(tuple(rest))
    if free < 4 or quiet <= 0.0 or rough < 1.15:
        return 0.0
    ratio = (pooled(tuple(near)) / quiet) ** 2
    found = 0.5 * free * (ratio * (1.0 - 1.0 / rough) - log(rough))
    return max(-4.0, min(found, 6.0))
