"""What the screen and the voice need of a sweep, as plain state: no sentence is made here."""

from __future__ import annotations

from math import ceil
from typing import Literal, TypeAlias

from msgspec import Struct

from capture.analysis.steps.lapping_progress import largest
from capture.metrology.bore.agreement import Agreed, agreed
from capture.metrology.bore.lapping import COVERAGE
from capture.metrology.bore.turning_point import KNOCKS, RockFault
from capture.sheet.job import Gauge
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading, zero_of
from capture.state.sweep.auto_accept import newest_of, setup_of
from capture.state.sweep.phases import Phase
from capture.state.sweep.placement import AGREEING, too_few, too_quick
from capture.state.sweep.sweep_state import Accepted, Setup, SweepState, setup

MOST_MORE = 9
"""More turning points than this are no number to give to a hand: it does something else than rock."""
SHOWN = 6.0
"""Seconds of the live curve."""

Tone: TypeAlias = Literal["", "accepted", "again", "slower", "limits", "lost"]
"""accepted; try again; rock more slowly; accepted and out of limits; link lost."""

Say: TypeAlias = Literal[
    "lost",
    "paused",
    "silent",
    "air",
    "entering",
    "rock",
    "more",
    "slower",
    "knocked",
    "differ",
    "move",
    "doubted",
    "withdraw",
    "still",
]
"""What the operator is to know or do now: a key of the table of sentences."""


class Turned(Struct, frozen=True):
    """A turning point on the live curve."""

    at: float
    value: float
    """mm."""
    kept: bool
    """It agrees with the others."""


class Live(Struct, frozen=True):
    """One streaming bore gauge now; sizes in mm with the gauge's zero applied."""

    gauge: str
    phase: Phase
    say: Say
    more: int | None
    """How many turning points are still wanted, at most nine; None when none is or they differ too much."""
    points: int
    """Turning points found at this place."""
    value: float | None
    """What they say so far."""
    u: float | None
    accept: float
    """Standard uncertainty at which the place is accepted, mm."""
    curve: tuple[tuple[float, float], ...]
    """Seconds and size: the newest readings."""
    turned: tuple[Turned, ...]
    """Turning points on the curve."""
    on_master: float | None
    """Size of the master that it is on, if it is."""
    here: PlannedPlace
    """The place in hand: where the next reading goes."""
    accepted: StationReading | None
    """The newest reading of this gauge, if it is believed."""
    doubted: bool
    """The newest reading is far from all others and set aside: its place is to be measured again."""
    tone: Tone
    tone_seq: int
    """Another number for each occasion: a tone sounds once."""
    why: RockFault | None
    """What was wrong with the newest dip, if anything was."""


def live(state: State, name: str) -> Live | None:
    """How the sweep of a bore gauge stands; None for a gauge that does not stream."""
    sweep, gauge = state.sweeps.get(name), state.job.gauge(name)
    if sweep is None or gauge is None or not sweep.streams:
        return None
    zero, _ = zero_of(state.stations, gauge)
    points = sweep.placement.points
    found = agreed([p.value for p in points], [p.u for p in points]) if points else None
    kept = {points[i].at for i in found.kept} if found is not None else set()
    end = sweep.recent[-1].at
    since = end - SHOWN
    rules = _setup(state, gauge, sweep)
    more = None if sweep.placement.accepted is not None else _more(rules, len(points), found)
    tone, tone_seq = _tone(state, sweep, name)
    accepted = newest_of(state.stations, name)
    doubted = accepted is not None and accepted in state.stations.doubted[-1:]
    first = max(0, len(sweep.recent) - int(SHOWN * 100))
    return Live(
        gauge=name,
        phase="silent" if state.at.seconds - end > state.job.settings.sweep.redo else sweep.phase,
        say=_say(state, sweep, name, more, doubted=doubted),
        more=more,
        points=len(points),
        value=None if found is None else found.value + zero,
        u=None if found is None else found.u,
        accept=rules.accept,
        curve=tuple((s.at, s.value + zero) for s in sweep.recent[first:] if s.at >= since),
        turned=tuple(Turned(p.at, p.value + zero, p.at in kept) for p in points if p.at >= since),
        on_master=_master(state, gauge),
        here=state.stations.plan_of("bore").here,
        accepted=None if doubted else accepted,
        doubted=doubted,
        tone=tone,
        tone_seq=tone_seq,
        why=sweep.why,
    )


def _master(state: State, gauge: Gauge) -> float | None:
    return state.stations.zeros[gauge.name].size if state.stations.mastering == gauge.name else None


def _setup(state: State, gauge: Gauge, sweep: SweepState) -> Setup:
    last = state.health[gauge.name].last
    if last is None:
        return setup(state.job.settings.sweep, gauge.resolution)
    return setup_of(gauge, last, state.stations, state.job, sweep.recent[-1].value)


def _more(rules: Setup, points: int, found: Agreed | None) -> int | None:
    """The variance of a mean falls with the number of its points; None where that shows nothing."""
    least = max(rules.points - points, 1)
    if found is None or points < rules.points:
        return least
    if len(found.kept) < AGREEING * points:
        return None
    more = ceil(points * (found.u / rules.accept) ** 2) - points
    return max(more, least) if more <= MOST_MORE else None


def _say(state: State, sweep: SweepState, name: str, more: int | None, *, doubted: bool) -> Say:  # noqa: C901 - a table
    health = state.health.get(name)
    if health is not None and health.up is False:
        return "lost"
    if sweep.paused:
        return "paused"
    if sweep.phase in {"air", "withdrawn"}:
        return "air"
    if sweep.placement.mastered:
        return "withdraw"
    if sweep.placement.accepted is not None:
        return "doubted" if doubted and sweep.due is None else "move"
    if too_quick(sweep.placement) or too_few(sweep.placement):
        return "slower"
    if sweep.why in KNOCKS:
        return "knocked"
    if sweep.phase == "still":
        return "still"
    if sweep.phase == "entering":
        return "entering"
    if more is None:
        return "differ"
    return "more" if sweep.placement.points else "rock"


def _tone(state: State, sweep: SweepState, name: str) -> tuple[Tone, int]:
    health = state.health.get(name)
    if health is not None and health.up is False:
        return "lost", health.downs
    if sweep.tone == "accepted" and _out_of_limits(state, sweep.placement.accepted, name):
        return "limits", sweep.tone_seq
    return sweep.tone, sweep.tone_seq


def _out_of_limits(state: State, accepted: Accepted | None, name: str) -> bool:
    """Whether the newest place is surely, or not surely not, larger than the plating plan can fill."""
    most, newest = largest(state), newest_of(state.stations, name)
    if most is None or newest is None or accepted is None or newest.of != accepted.of:
        return False
    cold = at_20(newest, state.job)
    return cold.value + COVERAGE * cold.u >= most
