"""Where the power of a wheel's drive rises and falls again: the wheel in contact, or a pump.

The table stands while it reverses, nothing is ground then, and the power falls: each stroke at contact is a
rise of its own. A pump, or a motor that warms, lifts the level on which they stand; so each rise is measured
from where it began and to where it falls back, and never from one idle level.

Powers are in whatever unit the gauge shows; times in seconds.
Limits that bear no other mark are by trials (`trials.powers`).
"""

from __future__ import annotations

from math import sqrt
from statistics import median

from msgspec import Struct
from msgspec.structs import replace

TICK = 0.25
"""Seconds whose readings are looked at as one mean."""
DIFFERENCES = 48
"""Newest differences of neighbours that the scatter is learnt from, and"""
LEARNT = 16
"""as many before anything is looked for."""
STANDS_OUT = 4.0
"""Standard deviations of a mean by which a rise must stand out (set by trials on seeds apart)."""
RIPPLE = 3.5
"""The same of what a level itself wanders by."""
SHARE = 0.35
"""Of its height that a rise must fall by to be over."""
LEAST = 0.005
"""Share of the whole power under which no rise is believed (set by trials)."""
UPON = 0.15
"""Of the height of a rise that one upon it must have."""
BEFORE = 1.5
"""Seconds ago that a level was not yet part of a rise, and"""
BACK = 6.0
"""how far it is looked back upon."""
SHORT = 4
"""Means that make a level, and"""
COMES_UP = 1.0
"""seconds in which a rise comes to its height."""
RECENT = 2.0
"""Seconds over which the level of a rise in hand is known."""
DEEP = 4
"""Rises upon one another that are kept apart."""
KEPT = 48
"""Means that are looked back upon."""


class Tick(Struct, frozen=True):
    """The mean of some readings."""

    at: float
    value: float


class Bump(Struct, frozen=True):
    """A rise of the power that is over."""

    begun: float
    ended: float
    level: float
    """Mean of its middle over `base`."""
    base: float
    """Where it stood before, and fell back to."""
    u: float
    """Standard uncertainty of `level`."""
    holds: int = 0
    """Rises upon it: then it is a pump and no wheel."""
    floor: float = 0.0
    """By how much it lifted them."""
    on_rise: bool = False
    """It stood upon another."""

    @property
    def lasts(self) -> float:
        """Seconds."""
        return self.ended - self.begun


class Rise(Struct, frozen=True):
    """A rise in hand."""

    begun: float
    base: float
    total: float = 0.0
    """Of its means, and"""
    count: int = 0
    """how many."""
    holds: int = 0
    floor: float = 0.0


class Bumps(Struct, frozen=True):
    """One stream of power."""

    since: float | None = None
    """When the mean in hand began, and"""
    total: float = 0.0
    count: int = 0
    """what it is made of."""
    last: float | None = None
    """When the newest reading came."""
    ticks: tuple[Tick, ...] = ()
    """Since the power came to the level in hand."""
    differences: tuple[float, ...] = ()
    wander: float = 0.0
    """Scatter of levels beside that of their neighbours, smoothed."""
    rises: tuple[Rise, ...] = ()
    falling: bool = False
    """The level has left the newest rise; where to shows with the next mean."""
    done: tuple[Bump, ...] = ()
    """Rises that were over with the newest reading."""

    @property
    def noise(self) -> float | None:
        """Standard deviation of one mean; None while it is not learnt."""
        if len(self.differences) < LEARNT:
            return None
        # the median of |x| of normal deviates is 0.674 of their standard deviation, and a difference has two
        return median(self.differences) / (0.6745 * sqrt(2.0))

    @property
    def high(self) -> bool:
        """Whether the power stands on a rise."""
        return bool(self.rises)


def step(state: Bumps, at: float, value: float, resolution: float) -> Bumps:
    """After one reading, of a gauge that shows steps of *resolution*."""
    state = replace(state, done=(), last=at)
    if state.since is None:
        return replace(state, since=at, total=value, count=1)
    if at - state.since < TICK:
        return replace(state, total=state.total + value, count=state.count + 1)
    tick = Tick(state.since, state.total / state.count)
    state = replace(state, since=at, total=value, count=1)
    return _ticked(state, tick, resolution)


def lost(state: Bumps) -> Bumps:
    """Nothing came for a while: what was in hand is over there, and the level is not known any more."""
    after = Bumps(differences=state.differences, wander=state.wander)
    if not state.rises or state.last is None:
        return after
    top = state.rises[-1]
    bump = _bump(top, state.last, top.base, state.noise or 0.0)
    return replace(after, done=(bump,))


def threshold(state: Bumps, resolution: float) -> float:
    """By how much a level must change to be another one."""
    noise = state.noise or 0.0
    standing = abs(state.ticks[-1].value) if state.ticks else 0.0
    return max(STANDS_OUT * noise, RIPPLE * state.wander, 2.5 * resolution, LEAST * standing)


def _ticked(state: Bumps, tick: Tick, resolution: float) -> Bumps:
    before = state.ticks[-1] if state.ticks else None
    if before is not None:
        differences = (*state.differences, abs(tick.value - before.value))[-DIFFERENCES:]
        state = replace(state, differences=differences)
    state = replace(state, ticks=(*state.ticks, tick)[-KEPT:])
    if state.noise is None:
        return state
    if state.falling:
        state = replace(state, falling=False)
        return _on_top(state, tick) if _back(state) else _ended(state)
    if state.rises:
        state = _on_top(state, tick)
        if _fallen(state, resolution):
            return replace(state, falling=True)
    return _risen(_wandered(state), resolution)


def _on_top(state: Bumps, tick: Tick) -> Bumps:
    top = state.rises[-1]
    top = replace(top, total=top.total + tick.value, count=top.count + 1)
    return replace(state, rises=(*state.rises[:-1], top))


def _wandered(state: Bumps) -> Bumps:
    """Learns how far a level wanders by itself, on a level that has stood for a while."""
    if state.rises or len(state.ticks) < 24:
        return state
    values = sorted(one.value for one in state.ticks[-24:])
    # half the range between the sixths is about a standard deviation
    spread = 0.5 * (values[-4] - values[3])
    wander = spread if not state.wander else 0.98 * state.wander + 0.02 * spread
    return replace(state, wander=wander)


def _level(ticks: tuple[Tick, ...], first: float, last: float) -> float | None:
    values = [one.value for one in ticks if first <= one.at <= last]
    return sum(values) / len(values) if values else None


def _stood(state: Bumps, now: float) -> float | None:
    """Where the level stood before the newest second; None where it is only coming up."""
    first = now - BACK
    since = state.rises[-1].begun + COMES_UP if state.rises else first
    values = [one.value for one in state.ticks if max(first, since) <= one.at <= now - BEFORE]
    if len(values) > SHORT:
        return sum(values) / len(values)
    # of a table that only turns back the lowest is where it stood
    return min((one.value for one in state.ticks[:-1] if not state.rises or one.at >= since), default=None)


def _risen(state: Bumps, resolution: float) -> Bumps:
    """Whether the level leaves upwards where it stood some seconds ago."""
    if len(state.rises) >= DEEP or len(state.ticks) < 3:
        return state
    now = state.ticks[-1]
    base = _stood(state, now.at)
    if base is None:
        return state
    due = threshold(state, resolution)
    two = state.ticks[-2:]
    if state.rises:  # upon a rise only what is as clear as the rise itself: a wheel fed further is no other
        due = max(due, UPON * (base - state.rises[-1].base))
    if min(one.value for one in two) < base + due:
        return state
    below = [one.at for one in state.ticks if one.value <= base + 0.5 * due]
    begun = next(one.at for one in state.ticks if not below or one.at > below[-1])
    fresh = tuple(one for one in state.ticks if one.at >= begun)
    rise = Rise(begun, base, sum(one.value for one in fresh), len(fresh))
    return replace(state, rises=(*state.rises, rise), ticks=fresh)


def _fallen(state: Bumps, resolution: float) -> bool:
    """Whether the level has left what it stood on."""
    top, now = state.rises[-1], state.ticks[-1]
    level = _level(state.ticks, now.at - RECENT - TICK, now.at - 0.5 * TICK)
    if level is None or top.count < 2:
        return False
    down = level - now.value
    due = threshold(state, resolution)
    half = SHARE * (level - top.base)
    clearly = down > max(1.6 * due, 1.6 * half)
    newest = state.ticks[-2:]
    older = _level(state.ticks, now.at - RECENT - 2 * TICK, now.at - 1.5 * TICK)
    twice = older is not None and max(one.value for one in newest) < older - max(0.8 * due, half)
    # a height that fades slowly is over where it is no height any more
    faded = _level(state.ticks, now.at - RECENT, now.at)
    gone = faded is not None and len(state.ticks) > RECENT / TICK and faded < top.base + 0.5 * due
    return clearly or twice or gone


def _back(state: Bumps) -> bool:
    """Whether the level is back where it was after one mean: an undercut, or a jolt, and no end."""
    top, now = state.rises[-1], state.ticks[-1]
    level = _level(state.ticks, now.at - RECENT - 2 * TICK, now.at - 2.5 * TICK)
    return level is not None and now.value > level - SHARE * (level - top.base)


def _ended(state: Bumps) -> Bumps:
    """The rises that ended with a fall; the lowest that it fell through is the wheel's own."""
    rises, fresh = list(state.rises), state.ticks[-2:]
    to = min(one.value for one in fresh)
    top = rises[-1]
    level = top.total / max(top.count, 1)
    begun, inner = top, top.holds
    while len(rises) > 1 and to < 0.5 * (rises[-1].base + rises[-2].base):
        # it fell through where this one began: the level before was a part of the same rise
        gone = rises.pop()
        under = rises[-1]
        inner = max(inner, under.holds)
        begun = replace(under, total=under.total + gone.total, count=under.count + gone.count, holds=inner)
        rises[-1] = begun
    rises.pop()
    above = [one.at for one in state.ticks if one.value > 0.5 * (level + to)]
    ended = (above[-1] if above else fresh[0].at) + TICK
    bump = _bump(begun, ended, begun.base, state.noise or 0.0)
    if rises:
        under, bump = rises[-1], replace(bump, on_rise=True)
        rises[-1] = replace(under, holds=under.holds + 1, floor=begun.base - under.base)
    return replace(state, rises=tuple(rises), ticks=fresh, done=(*state.done, bump))


def _bump(rise: Rise, ended: float, base: float, noise: float) -> Bump:
    count = max(rise.count, 1)
    u = noise * (1.0 / count + 0.25) ** 0.5
    level = rise.total / count - base
    return Bump(rise.begun, max(ended, rise.begun), level, base, u, rise.holds, rise.floor)
