"""Follows the stream of a diameter gauge held by hand or on a bench, and finds each placing on the part.

A gauge comes to the part from one side, stands still there or is rocked over the diameter, and goes away
to the same side. Two trackers follow the readings, one for each side from which it may come; which one is
right follows from where the gauge is while it is clearly on no part. A size near those before it is found
while the gauge still stands on the part; one farther off only when it has been lifted, since an opened
micrometer that somebody carries stands still as well, and is closed further and not opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from msgspec.structs import replace

from capture.metrology.gauges.settled import SPREAD
from capture.state.stream import contact
from capture.state.stream.contact import NOT_BY_FAR
from capture.state.stream.placing_state import (
    KEPT,
    MOST,
    Doing,
    GaugeContact,
    Level,
    PlacingSetup,
    PlacingState,
    Ways,
)
from capture.state.sweep.sweep import LOST
from capture.state.sweep.sweep_state import StreamSample

WAY = 0.08
"""mm by which a gauge must come back for a turn of its way between parts."""
ALIKE = 0.06
"""mm within which two turns are of parts of one size."""
TURNS = 6
"""Turns at each end that are looked back upon."""
STILL = 8
"""Readings within a few micrometres from which the scatter of the gauge is learnt, and"""
FADE = 200
"""how many it is remembered over."""
FURTHER = 5.0
"""Seconds after which a gauge that closes further is another placing."""
QUICK_RUN = 12
"""Quick readings in a row, and no word between, that make a stream: the places of a part, pressed one after
the other, are fewer (common practice, no source)."""
LARGER_STEP = 0.003
"""mm by which it must close further for the first size to be wrong (common practice, no source)."""


def step(state: PlacingState, sample: StreamSample, setup: PlacingSetup) -> PlacingState:
    """The placings after one reading."""
    before = state.recent[-1] if state.recent else None
    gap = None if before is None else sample.at - before.at
    state = _beat(replace(state, due=None, again=-1), gap, sample, setup)
    if gap is None or gap > LOST:
        state = replace(state, recent=(), smooth=(), base=state.base + len(state.recent))
        state = replace(state, contacts=(GaugeContact(1), GaugeContact(-1)), doing="silent", mastered=False)
    state = _kept(state, sample)
    state = _learnt(state)
    state = replace(state, ways=_ways(state.ways, state.smooth[-1]))
    both = tuple(contact.step(one, state, setup) for one in state.contacts)
    state = replace(state, contacts=(both[0], both[1]))
    return state if state.paused or not state.streams else _found(_left(state, setup), setup)


def _beat(state: PlacingState, gap: float | None, sample: StreamSample, setup: PlacingSetup) -> PlacingState:
    """Whether it streams."""
    if state.streams:
        return state
    if gap is None or gap > setup.interval:
        return replace(state, quick=0, run=sample.seq)
    if state.quick + 1 < QUICK_RUN:
        return replace(state, quick=state.quick + 1)
    return replace(state, quick=state.quick + 1, streams=True, found=sample.seq)


def _kept(state: PlacingState, sample: StreamSample) -> PlacingState:
    recent = (*state.recent, sample)
    while_ago = sample.at - KEPT
    old = next((i for i, one in enumerate(recent) if one.at >= while_ago), 0)
    old = max(old, len(recent) - MOST)
    recent = recent[old:]
    rate = (len(recent) - 1) / max(recent[-1].at - recent[0].at, 1e-3)
    wide = 7 if rate > 40 else 5 if rate > 18 else 3
    smooth = (*state.smooth, median([one.value for one in recent[-wide:]]))[old:]
    return replace(state, recent=recent, smooth=smooth, base=state.base + old)


def _learnt(state: PlacingState) -> PlacingState:
    """Scatter of one reading, by differences of neighbours while the gauge stands still anywhere."""
    newest = [one.value for one in state.recent[-STILL:]]
    if len(newest) < STILL or max(newest) - min(newest) > SPREAD:
        return state
    square = (newest[-1] - newest[-2]) ** 2 / 2.0
    weight = 1.0 / min(state.still + 1, FADE)
    return replace(
        state,
        still=min(state.still + 1, FADE),
        scatter=((1.0 - weight) * state.scatter**2 + weight * square) ** 0.5,
    )


def _ways(ways: Ways, value: float) -> Ways:
    """Where the gauge turned back."""
    here = ways.extreme
    if here is None:
        return replace(ways, extreme=value)
    if ways.up is not None and (value > here if ways.up else value < here):
        return replace(ways, extreme=value)
    if abs(value - here) < WAY:
        return ways
    if value < here:
        return replace(ways, up=False, extreme=value, highs=(*ways.highs, here)[-TURNS:])
    return replace(ways, up=True, extreme=value, lows=(*ways.lows, here)[-TURNS:])


def side_of(state: PlacingState, setup: PlacingSetup) -> int:
    """0 for a gauge that closes on the part, 1 for one that the part opens: place of its tracker.

    Where a hand stops opening differs each time, and parts of one stage are alike. Where that tells nothing,
    the end at which sizes were found before is the part, else the one at which it was rocked.
    """
    ways = state.ways
    due = setup.sizes or setup.far
    highs, lows = ways.highs, _not_too_low(ways.lows, due)
    if len(highs) > 1 and len(lows) > 1:
        high, low = _spread(highs), _spread(lows)
        if max(high, low) > ALIKE:
            return int(low > high)
    closing, opened = (len(one.turns) for one in state.contacts)
    if not setup.sizes and closing != opened:
        return int(opened > closing)
    if ways.extreme is not None and ways.up is not None:  # the end that it is at counts as seen
        ahead = (ways.extreme,)
        highs, lows = ((*highs, *ahead), lows) if ways.up else (highs, _not_too_low((*lows, *ahead), due))
    if not due or not highs or not lows:
        return 0
    size = median(due)
    return int(abs(median(highs) - size) < abs(median(lows) - size))


def _not_too_low(lows: Sequence[float], due: Sequence[float]) -> Sequence[float]:
    """The lowest places without those of a micrometer that is closed on its rod or on itself."""
    return tuple(low for low in lows if not due or low > min(due) - NOT_BY_FAR)


def _spread(ends: Sequence[float]) -> float:
    """Range of the turns at one end, of many without the outermost."""
    ordered = sorted(ends)
    return ordered[-2] - ordered[1] if len(ordered) > 4 else ordered[-1] - ordered[0]


def _left(state: PlacingState, setup: PlacingSetup) -> PlacingState:
    """What the lifting of the gauge from what was found last means."""
    here = state.contacts[side_of(state, setup)]
    now = state.recent[-1].at
    if state.last is not None and state.left_at is None and here.low is None:
        return replace(state, left_at=here.touched, mastered=False)
    away = state.left_at is not None and now - state.left_at > setup.limits.redo
    return replace(state, doing=_doing(here, state, away=away))


def _doing(here: GaugeContact, state: PlacingState, *, away: bool) -> Doing:
    if here.low is None:
        return "lifted" if state.left_at is not None and not away else "away"
    if here.accepted is not None:
        return "settled"
    return "settling" if here.best is not None or here.turns else "closing"


def _found(state: PlacingState, setup: PlacingSetup) -> PlacingState:
    """Whether a size has been found on this reading."""
    place = side_of(state, setup)
    here, now = state.contacts[place], state.recent[-1]
    found = contact.size_of(here, now.at, setup)
    if found is None or state.mastered:
        return state
    wrong = here.accepted
    if wrong is not None and not _further(here, wrong, found, now.at):
        return state
    since = found.since if here.side > 0 else here.began
    again = wrong is not None or _placed_again(state, since, setup)
    here = replace(here, accepted=found)
    contacts = (here, state.contacts[1]) if place == 0 else (state.contacts[0], here)
    # a gauge that rested on nothing before has no size to be set aside
    again = again and state.last is not None and not setup.master
    left = here.touched if here.low is None else None
    return replace(
        state,
        contacts=contacts,
        due=found,
        again=now.seq if again else -1,
        further=wrong is not None,
        last=found,
        left_at=left,
        doing="settled" if left is None else "lifted",
    )


def _further(here: GaugeContact, wrong: Level, found: Level, now: float) -> bool:
    """Whether the gauge has closed further after a size was taken: it was not on the part yet."""
    nearer = here.side * (wrong.value - found.value)
    return now - wrong.until <= FURTHER and nearer > max(LARGER_STEP, 4.0 * (wrong.u + found.u))


def _placed_again(state: PlacingState, since: float, setup: PlacingSetup) -> bool:
    """Whether it was lifted and placed again so soon that the place is measured once more."""
    return state.left_at is not None and since - state.left_at <= setup.limits.redo
