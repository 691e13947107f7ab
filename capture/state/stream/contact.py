"""Follows one gauge from one side: contact, settling, turning points, and lifting."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace

from capture.metrology.bore.agreement import agreed
from capture.metrology.bore.turning_point import TurningPoint, evenly, turning_point
from capture.metrology.gauges.settled import LEAST, settled
from capture.state.stream.placing_state import (
    MOST_TURNS,
    GaugeContact,
    Level,
    PlacingSetup,
    PlacingState,
    TurnPoint,
)
from capture.state.sweep.sweep_state import StreamSample

CAP = 0.06
"""mm above its bottom up to which a rock over the diameter is looked at."""
ROCKED = (0.2, 4.0)
"""Seconds that a rock within `CAP` takes."""
KNOWN = 0.001
"""mm; standard uncertainty up to which turning points make a size."""
ENOUGH = 3
"""Turning points that agree at which a size is found while the gauge is still rocked."""
WINDOW = 1.2
"""Seconds that the size of a gauge at rest is read over at the most."""
FLIP = 1.2
"""Seconds out of contact in which a gauge rolled over a part comes back."""
AWAY = 0.6
"""Share of the way to its stop at which a gauge that the part opens has left the part."""
LARGER = 0.02
"""mm; places of one part are not larger than those before them by more without a doubt, and"""
LONGER = 6.0
"""seconds within which one that is has been measured (both: common practice, no source)."""
NOT_BY_FAR = 3.0
"""mm from its stop as far as the part opens a gauge: a micrometer set on its rod comes from lower."""
CLOSED = 0.05
"""mm; nearer to nothing than this a gauge that shows whole sizes is closed on itself."""


def step(state: GaugeContact, stream: PlacingState, setup: PlacingSetup) -> GaugeContact:
    """The contact after the newest reading of *stream*."""
    value, now = state.side * stream.smooth[-1], stream.recent[-1].at
    if state.low is None:
        return _approaching(state, value, now, stream, setup)
    if value > state.low + _lift(state, setup):
        return _lifting(state, value, stream, setup)
    low = min(state.low, value)
    moved = state.low - low > setup.limits.lift
    state = replace(state, low=low, touched=now)
    if moved:  # it was not on the part yet
        state = replace(state, best=None, turns=(), began=now)
    return _rested(_rocked(state, stream, setup), stream, setup)


def _lift(state: GaugeContact, setup: PlacingSetup) -> float:
    """The way, mm, by which a gauge must come away to have left the place.

    What the part opens goes back to one stop when it is free; rocks on the way there are no lifting. A gauge
    that is closed by hand may be opened by any distance.
    """
    if state.side > 0 or state.low is None:
        return setup.limits.lift
    return max(setup.limits.lift, AWAY * (state.travel - state.low))


def _approaching(
    state: GaugeContact, value: float, now: float, stream: PlacingState, setup: PlacingSetup
) -> GaugeContact:
    high = value if state.high is None else max(state.high, value)
    if high - value <= setup.limits.lift:
        return replace(state, high=high)
    number = stream.base + len(stream.recent) - 1
    rolled = state.side < 0 and state.touched and now - state.touched < FLIP and state.accepted is None
    kept = state if rolled else GaugeContact(state.side)
    return replace(
        kept,
        high=None,
        travel=high,
        low=value,
        began=now,
        touched=now,
        left=number,
        dip=number,
        turning=False,
    )


def _lifting(state: GaugeContact, value: float, stream: PlacingState, setup: PlacingSetup) -> GaugeContact:
    """Out of contact: the rock in hand ends, and the next coming is looked for."""
    return replace(_rocked(state, stream, setup, ends=True), low=None, high=value)


def _rested(state: GaugeContact, stream: PlacingState, setup: PlacingSetup) -> GaugeContact:
    """Whether it stands still at the nearest that it has come."""
    now = stream.recent[-1]
    first = max(state.began, now.at - WINDOW)
    window = [one for one in stream.recent if one.at >= first]
    # the coming itself is no part of the rest: the shortest window that is due, then longer ones
    best = None
    for start in _starts(window, now.at, setup.limits.dwell):
        rest = window[start:]
        found = settled(
            [one.at for one in rest], [one.value for one in rest], noise=setup.noise, step=setup.step
        )
        if found is None:
            break
        seqs = tuple(one.seq for one in rest)
        best = Level(found.value, found.u, now.seq, seqs, rest[0].at, now.at)
    if best is None:
        return state
    return replace(state, best=_nearest(state, best, setup))


def _starts(window: Sequence[StreamSample], now: float, dwell: float) -> list[int]:
    """Where a rest may have begun: the shortest that is due, and the longest in sight."""
    due = [i for i, one in enumerate(window) if now - one.at >= dwell - 1e-9 and len(window) - i >= LEAST]
    return [due[-1], *([due[0]] if len(due) > 1 else [])] if due else []


def _nearest(state: GaugeContact, found: Level, setup: PlacingSetup) -> Level:
    """Of two rests the one nearer to the part; of one rest the longer."""
    old = state.best
    if old is None:
        return found
    nearer = state.side * (old.value - found.value)
    same = abs(nearer) <= max(2.0 * (old.u + found.u), setup.step)
    if same:
        since = old.since if old.until >= found.since else found.since
        return replace(found, since=since)
    return found if nearer > 0 else old


def _rocked(
    state: GaugeContact, stream: PlacingState, setup: PlacingSetup, *, ends: bool = False
) -> GaugeContact:
    """Looks for the turns of the hand, and into the rock between two of them."""
    number = stream.base + len(stream.recent) - 1
    if state.left < stream.base or state.dip < stream.base:
        return replace(state, left=number, dip=number, turning=False)
    value = state.side * stream.smooth[-1]
    turn = max(6.0 * setup.noise, 0.003)
    lowest = state.side * stream.smooth[state.dip - stream.base]
    if not state.turning:
        if value < lowest:
            return replace(state, dip=number)
        if value - lowest > turn:
            state = replace(state, turning=True)
        elif not ends:
            return state
    right = _highest(state, stream)
    back = state.side * stream.smooth[right - stream.base] - value
    if not ends and back <= turn:
        return state
    state = _turned(state, stream, right, setup)
    return replace(state, left=right, dip=number, turning=False)


def _highest(state: GaugeContact, stream: PlacingState) -> int:
    """The reading farthest from the part since the lowest of the rock in hand."""
    first = state.dip - stream.base
    return stream.base + max(range(first, len(stream.smooth)), key=lambda i: state.side * stream.smooth[i])


def _turned(state: GaugeContact, stream: PlacingState, right: int, setup: PlacingSetup) -> GaugeContact:
    """One rock from turn to turn, as a turning point where it is one."""
    first, last = state.left - stream.base, right - stream.base
    lowest = state.side * stream.smooth[state.dip - stream.base]
    rock = [one for one in stream.recent[first : last + 1] if state.side * one.value <= lowest + CAP]
    if len(rock) < LEAST or not ROCKED[0] <= rock[-1].at - rock[0].at <= ROCKED[1]:
        return state
    even, late = evenly(np.array([one.at for one in rock]))
    values = np.array([state.side * one.value for one in rock])
    noise = max(setup.noise, stream.scatter)
    found = turning_point(even, values, noise=noise, late=late / 4)
    if not isinstance(found, TurningPoint) or found.u > KNOWN:
        return state
    near = min(rock, key=lambda one: abs(one.at - found.at))
    point = TurnPoint(found.at, state.side * found.value, found.u, near.seq)
    return replace(state, turns=(*state.turns, point)[-MOST_TURNS:])


def size_of(state: GaugeContact, now: float, setup: PlacingSetup) -> Level | None:
    """The size that the contact shows, where it may be taken now."""
    lifted = state.low is None
    since = now - state.touched
    if lifted and (state.accepted is not None or since > 2 * FLIP):
        return None
    if lifted and state.side < 0 and state.turns and since < FLIP:
        return None  # it may be rolled back
    rest, rocked = state.best, _of_turns(state, setup, lifted=lifted)
    if rocked is not None:
        return rocked if _may(rocked, state, setup, lifted=lifted) else None
    if rest is None or rest.dwell < (setup.limits.dwell if lifted else setup.limits.hold) - 1e-9:
        return None
    if not lifted and state.side * rest.value - (state.low or 0.0) > max(4 * setup.noise, 0.003):
        return None  # it has come nearer since, and not settled there yet
    return rest if _may(rest, state, setup, lifted=lifted) else None


def _of_turns(state: GaugeContact, setup: PlacingSetup, *, lifted: bool) -> Level | None:
    """What the turning points say, where they are nearer to the part than any rest."""
    if len(state.turns) <= (state.side > 0):
        return None  # one bottom of a gauge that closes is its own closing and opening
    points = state.turns
    found = agreed([state.side * point.value for point in points], [point.u for point in points])
    kept = [points[i] for i in found.kept]
    if len(kept) < (1 if lifted else ENOUGH) or 2 * len(kept) <= len(points):
        return None
    value = state.side * found.value
    rest = state.best
    if rest is not None and state.side * (value - rest.value) > -max(2.0 * found.u, setup.step):
        return None
    seqs = tuple(point.seq for point in kept)
    return Level(value, found.u, seqs[-1], seqs, kept[0].at, kept[-1].at, turns=len(kept))


def _may(found: Level, state: GaugeContact, setup: PlacingSetup, *, lifted: bool) -> bool:
    """Whether a size of *found* may be on the part, and may be taken now."""
    limits = setup.limits
    if state.side < 0 and state.travel + found.value > NOT_BY_FAR:
        return False
    if setup.master and not setup.near:
        return lifted or found.dwell >= 2.0 * limits.hold or found.turns >= ENOUGH
    larger = found.value - max(setup.sizes, default=found.value)
    # a part of one stage does not get larger: a micrometer opened a little and carried does
    doubtful = state.side > 0 and larger > LARGER
    if any(abs(found.value - one) <= limits.near for one in setup.near):
        return not doubtful or (lifted and state.touched - state.began < LONGER)
    if doubtful or not lifted or state.touched - state.began > limits.longest:
        return False
    if setup.far:
        return any(abs(found.value - one) <= limits.reach for one in setup.far)
    return setup.zero is None or abs(found.value - setup.zero) > CLOSED
