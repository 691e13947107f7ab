"""The state of a session: `step` makes the next one from an event.

What the program takes, finds and says by itself is decided in `capture.state.decisions`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from msgspec import Struct
from msgspec.structs import replace

from capture.events import (
    AnyFact,
    Beat,
    Checked,
    Clamp,
    Confirmation,
    Coolant,
    Dress,
    Event,
    Flag,
    Instant,
    Lap,
    Mask,
    Master,
    Mastered,
    Note,
    Pass,
    Pause,
    Picture,
    Reading,
    Reject,
    Round,
    RoundEnd,
    RunOut,
    Stage,
    Station,
    Table,
    Taken,
    Tried,
    TurnMark,
)
from capture.metrology.gauges.permissible_errors import rectangular
from capture.sheet.job import Gauge, Job
from capture.state import flags, health, round_runs, stations, wild_readings
from capture.state.amendments import aside_of, standing
from capture.state.append_log import Log
from capture.state.grinding import display_zero, infeed_doubts, infeed_gauge, table_indicator
from capture.state.grinding import passes as grind
from capture.state.grinding.infeed_gauge import Infeed
from capture.state.grinding.passes import Grind
from capture.state.grinding.table_indicator import Turning
from capture.state.health import Health
from capture.state.round_runs import RoundRuns
from capture.state.stations import HistoryEntry, Stations, Warmth, last_of
from capture.state.steps import job_steps
from capture.state.steps.job_steps import JobSteps
from capture.state.stream import hand_gauge, power_gauge, ride_gauge
from capture.state.stream.placing_state import PlacingState
from capture.state.stream.power_gauge import PowerGauge
from capture.state.stream.ride_gauge import RideGauge
from capture.state.sweep import auto_accept
from capture.state.sweep.sweep_state import SweepState

PROGRAM = "desk"
"""Source of the events that `decide` asked for."""

UNHEARD = Health()
"""An instrument before its first word."""

ASKING = infeed_doubts.ASKED | {wild_readings.WILD}
"""Flags that a person may answer by yes or no."""

_KINDS: Mapping[type, str] = {kind: kind.__name__.lower() for kind in get_args(AnyFact)}

UNDOABLE = (
    *(Pass, Station, Stage, Master, Mastered, Lap, Table, Dress, Coolant, Taken, Reject),
    *(Checked, Clamp, Tried, RunOut, Picture),
    *(Round, RoundEnd, TurnMark, Mask),
)


class State(Struct, frozen=True):
    """Everything that is known after an event."""

    job: Job
    stations: Stations
    grind: Grind
    at: Instant = Instant(0, 0)
    seq: int = -1
    newest_gauge: str | None = None
    """The gauge that spoke since the newest beat; None after a beat, when all are looked at."""
    health: Mapping[str, Health] = {}
    warmth: Mapping[str, Warmth] = {}
    """The newest word of each probe, by place of heat."""
    steps: JobSteps = JobSteps()
    """What was checked, tried and photographed beside the measuring."""
    infeed: Infeed = Infeed()
    turning: Turning = Turning()
    rounds: RoundRuns = RoundRuns()
    """Runs of a part that turns under gauges."""
    sweeps: Mapping[str, SweepState] = {}
    """Bore gauges, by name: their streams, where they have one."""
    placings: Mapping[str, PlacingState] = {}
    """Diameter gauges held by hand or on a bench, by name: their streams."""
    rides: Mapping[str, RideGauge] = {}
    """Diameter gauges that stay on the part while it is ground, by name."""
    powers: Mapping[str, PowerGauge] = {}
    """Gauges of the power of wheel spindle or work head, by name."""
    history: Log[HistoryEntry] = Log()
    """Every event that stations and passes rest on; what a rejection is worked out from."""
    notes: Log[Event] = Log()
    flags: Log[Event] = Log()
    raised: Mapping[str, Event] = {}
    """The newest flag of each topic, so that one is raised once and not at every event."""
    candidate: Event | None = None
    """The newest size reading, until it is taken."""
    aside: frozenset[int] = frozenset()
    """Events that a person set aside."""
    doubts: wild_readings.Doubts = {}
    """Readings that were far from all others, and whether they are still set aside."""
    answered: frozenset[int] = frozenset()
    """Flags that asked and were answered."""
    kinds: Mapping[str, int] = {}
    """How many events of each kind there were."""

    def gauge(self, name: str) -> Gauge | None:
        """The gauge of that name on the sheet."""
        return self.job.gauge(name)


def start(job: Job) -> State:
    """Before the first event of a job."""
    return State(job=job, stations=stations.start(job), grind=Grind())


def step(state: State, event: Event) -> State:
    """The state after *event*."""
    fact, source = event.fact, event.source
    kind = _KINDS[type(fact)]
    kinds = {**state.kinds, kind: state.kinds.get(kind, 0) + 1}
    gauge, repeated = state.job.gauge(source), False
    if gauge is not None:
        before = state.health.get(source, UNHEARD)
        repeated = _repeats(state, before, event)
        each = {**state.health, source: health.step(before, event)}
        state = replace(state, at=event.at, seq=event.seq, kinds=kinds, newest_gauge=source, health=each)
    else:
        newest_gauge = None if isinstance(fact, Beat) else state.newest_gauge
        state = replace(state, at=event.at, seq=event.seq, kinds=kinds, newest_gauge=newest_gauge)
    match fact:
        case Reading():
            return _read(state, event, fact, gauge, repeated=repeated)
        case Pass() | Station() | Stage() | Master() | Mastered() | Pause() | Lap() | Taken():
            return _with_word(state, event)
        case Table():
            return _with_word(replace(state, turning=table_indicator.written(state.turning)), event)
        case Dress() | Coolant() | Checked() | Clamp() | Tried() | RunOut() | Picture():
            return _with_word(state, event)
        case Round() | RoundEnd() | TurnMark() | Mask():
            return _with_word(state, event)
        case Reject():
            return _set_aside(state, event)
        case Note():
            return replace(state, notes=state.notes.added(event))
        case Flag() | Confirmation():
            return _flagged(state, event, fact) if isinstance(fact, Flag) else _answered(state, event, fact)
        case _:
            return state


def _flagged(state: State, event: Event, flag: Flag) -> State:
    """The program said something; where it asked, it goes by what it takes to be so."""
    raised = {**state.raised, flags.topic(flag): event}
    state = replace(state, flags=state.flags.added(event), raised=raised)
    if flag.what not in infeed_doubts.ASKED | wild_readings.DOUBTS:
        return state
    state = replace(
        state,
        history=state.history.added(HistoryEntry(event, {})),
        infeed=infeed_doubts.taken_in(state.infeed, flag, event.at.seconds),
        doubts=wild_readings.with_flag(state.doubts, flag),
    )
    earlier = (*state.stations.taken[-wild_readings.LOOKED_BACK :], *state.stations.doubted)
    return _worked_again(state) if any(one.of == flag.of for one in earlier) else state


def _answered(state: State, event: Event, answer: Confirmation) -> State:
    state = replace(state, answered=state.answered | {answer.of})
    # a replay that decides again gives several flags one number
    asking = (one.fact for one in reversed(state.flags) if one.seq == answer.of)
    asked = next((flag for flag in asking if isinstance(flag, Flag) and flag.what in ASKING), None)
    if asked is None:
        return state
    if asked.what == wild_readings.WILD:
        return (
            state if answer.yes else _worked_again(replace(state, doubts={**state.doubts, asked.of: False}))
        )
    infeed = infeed_doubts.answered(state.infeed, asked, event.at.seconds, yes=answer.yes)
    return replace(state, infeed=infeed)


def open_question(state: State) -> Event | None:
    """The newest flag that asked something and has no answer yet."""
    for event in reversed(state.flags):
        flag = event.fact
        if not isinstance(flag, Flag) or event.seq in state.answered:
            continue
        if infeed_doubts.is_open(state.infeed, flag):
            return event
        if flag.what == wild_readings.WILD and wild_readings.is_open(flag, event.seq, state.stations):
            return event
    return None


def _repeats(state: State, before: Health, event: Event) -> bool:
    """Whether a gauge sent its last reading once more, and nobody said a word in between."""
    if not health.repeats(before, event, state.job.settings.readings.repeat):
        return False
    newest = state.history.last
    return newest is None or newest.event.source == PROGRAM or newest.event.seq <= (before.last_seq or 0)


def _read(state: State, event: Event, reading: Reading, gauge: Gauge | None, *, repeated: bool) -> State:
    if gauge is None:
        return state
    if state.rounds.runs and round_runs.takes(state.rounds, gauge, state.aside):
        return replace(state, rounds=round_runs.read(state.rounds, event, reading, gauge, state.aside))
    return _read_size(state, event, reading, gauge, repeated=repeated)


def _read_size(state: State, event: Event, reading: Reading, gauge: Gauge, *, repeated: bool) -> State:
    match gauge.measures:
        case "temperature":
            u = rectangular(gauge.limits or gauge.resolution or 10.0**-reading.digits)
            warmth = Warmth(reading.value, u, event.at)
            return replace(state, warmth={**state.warmth, gauge.part: warmth})
        case "infeed":
            fed = infeed_gauge.step(state.infeed, gauge, reading, event.at, event.at.seconds)
            return replace(state, infeed=display_zero.watched(state.infeed, fed, reading))
        case "table":
            return replace(state, turning=table_indicator.step(state.turning, gauge, reading, event.at))
        case "power":
            powers = power_gauge.step_reading(state.powers, event, reading, gauge, state.infeed, state.job)
            return replace(state, powers=powers)
        case "runout":
            return state
        case "diameter" | "bore":
            return _size(state, event, reading, gauge, repeated=repeated)


def _size(state: State, event: Event, reading: Reading, gauge: Gauge, *, repeated: bool) -> State:
    """After a reading of a gauge of sizes: one of its own, or one of a stream."""
    at, job = state.stations, state.job
    if gauge.measures == "bore" and gauge.stream is not False:
        sweeps = auto_accept.step_reading(state.sweeps, event, reading, gauge, at, job)
        state = replace(state, sweeps=sweeps)
        if not auto_accept.single(sweeps, gauge):
            return state
    if hand_gauge.streams_in_hand(gauge):
        placings = hand_gauge.step_reading(state.placings, event, reading, gauge, at, job)
        state = replace(state, placings=placings)
        if not hand_gauge.single(placings, gauge):
            found = hand_gauge.found(placings, gauge) and at.mastering != gauge.name
            return replace(state, candidate=event) if found else state
    if gauge.rides is not None:
        return replace(state, rides=ride_gauge.step_reading(state.rides, event, reading, gauge, state.job))
    if repeated:
        return state
    return _with_word(state, event) if at.mastering == gauge.name else replace(state, candidate=event)


def _with_word(state: State, event: Event) -> State:
    """An event that stations and passes rest on."""
    noted = HistoryEntry(event, _fresh_warmth(state, event.at))
    rounds = round_runs.step_word(
        state.rounds, event, state.aside, state.stations.stage, state.stations.passes
    )
    after = replace(state, history=state.history.added(noted), rounds=rounds)
    of_another = isinstance(event.fact, Pass) and event.fact.of is not None
    # what was fed for a pass that was taken back may belong to this one
    anew = of_another or (isinstance(event.fact, Pass) and bool(state.aside))
    after = _worked_again(after) if anew else _worked(after, noted)
    if after.sweeps:
        after = replace(after, sweeps=auto_accept.step_word(after.sweeps, event, after.stations))
    if after.placings:
        after = replace(after, placings=hand_gauge.step_word(after.placings, event))
    if after.rides:
        after = replace(after, rides=ride_gauge.step_word(after.rides, event, after.stations))
    if after.powers:
        after = replace(after, powers=_powers(after, event))
    match event.fact:
        case Taken(part="bore"):
            return replace(after, candidate=None)
        case Taken() as taken:
            last = last_of(state.stations.taken, "shaft")
            made = taken.pass_ - (last.pass_ if last is not None else 0)
            by_power = power_gauge.leader(state.powers, event.at) is not None
            found = [] if by_power else _found_since(state)
            fed = infeed_gauge.rested(after.infeed, after.job, event.at, event.at.seconds, made, found)
            return replace(after, candidate=None, infeed=fed)
        case Pass() as again if of_another:
            by_program = event.source == PROGRAM
            return replace(after, infeed=infeed_gauge.counted_again(after.infeed, again, found=by_program))
        case Dress():
            return replace(after, infeed=infeed_gauge.dressed(after.infeed))
        case Stage():
            return replace(after, infeed=infeed_gauge.begun_anew(after.infeed))
        case _:
            return after


def _powers(state: State, event: Event) -> Mapping[str, PowerGauge]:
    """The gauges of power after a word that the passes of *state* already know."""
    gauge = state.job.gauge(event.fact.gauge) if isinstance(event.fact, Taken) else None
    by_hand = isinstance(event.fact, Taken) and (gauge is None or gauge.rides is None)
    return power_gauge.step_word(
        state.powers,
        event,
        by_program=event.source == PROGRAM,
        by_hand=by_hand,
        number=state.stations.passes,
    )


def _worked(state: State, noted: HistoryEntry) -> State:
    fact = noted.event.fact
    if isinstance(fact, Taken) and wild_readings.doubted(fact, state.doubts):
        return replace(state, stations=stations.doubting(state.stations, noted, fact, state.job))
    after = stations.step(state.stations, noted, state.job)
    return replace(
        state,
        stations=after,
        grind=grind.step(state.grind, after, noted, state.job),
        steps=job_steps.step(state.steps, noted.event, after.stage, after.passes),
    )


def _fresh_warmth(state: State, at: Instant) -> Mapping[str, Warmth]:
    oldest = at.mono - int(state.job.settings.warm.max_age * 1e9)
    if all(warmth.at.mono >= oldest for warmth in state.warmth.values()):
        return state.warmth  # shared, not copied for every event of the history
    return {place: warmth for place, warmth in state.warmth.items() if warmth.at.mono >= oldest}


def _set_aside(state: State, event: Event) -> State:
    """Work everything out again without what was set aside; a rejection can itself be undone."""
    history = state.history.added(HistoryEntry(event, {}))
    aside = aside_of(history)
    candidate = state.candidate
    if candidate is not None and candidate.seq in aside:
        candidate = None
    again = _worked_again(replace(state, history=history, aside=aside, candidate=candidate))
    again = replace(
        again,
        placings=hand_gauge.step_word(again.placings, event),
        rides=ride_gauge.step_word(again.rides, event, again.stations),
    )
    if not again.sweeps:
        return again
    return replace(again, sweeps=auto_accept.step_word(again.sweeps, event, again.stations))


def _worked_again(state: State) -> State:
    """Stations and passes by all that stands of the history."""
    again = replace(state, stations=stations.start(state.job), grind=Grind(), steps=JobSteps())
    for entry in standing(state.history, state.aside, PROGRAM):
        again = _worked(again, entry)
    return again


def newest_undoable(state: State) -> Event | None:
    """What `undo` would set aside: the newest word or taken reading that still stands."""
    for noted in reversed(state.history):
        event = noted.event
        if event.seq not in state.aside and isinstance(event.fact, UNDOABLE):
            return event
    return None


def _found_since(state: State) -> list[tuple[int, Pass]]:
    """The passes that the program has found since the newest size, where a person entered none."""
    found: list[tuple[int, Pass]] = []
    for entry in () if reported_passes(state) else reversed(state.history):
        match entry.event.fact:
            case Taken(part="shaft"):
                break
            case Pass(of=None) as one if entry.event.source == PROGRAM:
                found.append((entry.event.seq, one))
            case _:
                pass
    return found[::-1]


def reported_passes(state: State) -> tuple[Pass, ...]:
    """What a person has said of passes since the newest size of the shaft, in order."""
    noted: list[Pass] = []
    for entry in reversed(state.history):
        match entry.event.fact:
            case Taken(part="shaft") | Stage() | Dress():
                break
            case Pass(of=None) as made if (
                entry.event.source != PROGRAM and entry.event.seq not in state.aside
            ):
                noted.append(made)
            case _:
                pass
    return tuple(reversed(noted))
