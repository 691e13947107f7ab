"""Accepts sweeps without hands: what they mean for the measuring plan, and what words mean for them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import hypot

from msgspec.structs import replace

from capture.events import AnyFact, Event, Master, Mastered, Pause, Reading, Reject, Stage, Station, Taken
from capture.metrology.bore.bore_gauge import offset_uncertainty
from capture.sheet.job import Gauge, Job
from capture.state.stations import StationReading, Stations, signed, step_of, zero_of
from capture.state.sweep import sweep
from capture.state.sweep.sweep_state import (
    NO_SIZE,
    Accepted,
    Placement,
    Setup,
    StreamSample,
    SweepState,
    setup,
)

Sweeps = Mapping[str, SweepState]

GESTURE = "redo by gesture: withdrawn and entered again"
STREAM = "the gauge streams: the first reading of a stream is no reading of a place"


def step_reading(
    sweeps: Sweeps, event: Event, reading: Reading, gauge: Gauge, at: Stations, job: Job
) -> Sweeps:
    """The sweeps after a reading of a bore gauge."""
    before = sweeps.get(gauge.name) or SweepState(streams=gauge.stream is True, paused=at.paused)
    sample = StreamSample(event.at.seconds, signed(gauge, reading.value), event.seq)
    return {**sweeps, gauge.name: sweep.step(before, sample, setup_of(gauge, reading, at, job, sample.value))}


def single(sweeps: Sweeps, gauge: Gauge) -> bool:
    """Whether the newest reading of *gauge* stands by itself: somebody pressed its button."""
    state = sweeps.get(gauge.name)
    return state is None or (not state.streams and not state.quick)


def setup_of(gauge: Gauge, reading: Reading, at: Stations, job: Job, value: float) -> Setup:
    """What the sheet and the mastering make of a stream."""
    size = job.fit.nominal if job.fit is not None else None
    zero, _ = zero_of(at, gauge)
    master = at.mastering == gauge.name
    if master:
        size = at.zeros[gauge.name].size
    # A gauge that was set on nothing and shows a small figure shows how far it is from nobody knows what.
    known = size is not None and (zero or value > size / 2)
    centre = size - zero if size is not None and known else None
    step = step_of(gauge, reading)
    return setup(job.settings.sweep, step, gauge.repeatability, size, centre, master=master)


def step_word(sweeps: Sweeps, event: Event, at: Stations) -> Sweeps:
    """The sweeps after a person's word or a decision that *at* already knows."""
    match event.fact:
        case Pause(on=on):
            return _each(sweeps, sweeps, placement=Placement(), due=None, paused=on)
        case Station(part="bore") | Stage():
            return _each(sweeps, sweeps, placement=Placement(), due=None)
        case Master(gauge=name):
            return _each(sweeps, [name], placement=Placement(), due=None, level=None)
        case Mastered(gauge=name):
            placement = replace(sweeps.get(name, SweepState()).placement, mastered=True)
            return _each(sweeps, [name], placement=placement, due=None)
        case Taken(gauge=name):
            return _each(sweeps, [name], due=None)
        case Reject():
            return {name: _set_aside(state, name, at) for name, state in sweeps.items()}
        case _:
            return sweeps


def _each(sweeps: Sweeps, names: Iterable[str], **changes: object) -> Sweeps:
    return {**sweeps, **{name: replace(sweeps[name], **changes) for name in names if name in sweeps}}


def _set_aside(state: SweepState, name: str, at: Stations) -> SweepState:
    """What was accepted and no longer stands may be accepted again."""
    state = replace(state, redo=-1)
    accepted, newest = state.placement.accepted, newest_of(at, name)
    if accepted is None or state.due is not None or state.placement.mastered:
        return state
    return state if newest is not None and newest.of == accepted.of else replace(state, placement=Placement())


def newest_of(at: Stations, name: str) -> StationReading | None:
    """The newest reading of a gauge that nobody set aside, doubted or not."""
    newest = [
        next((reading for reading in reversed(log) if reading.gauge == name), None)
        for log in (at.taken, at.doubted)
    ]
    return max((one for one in newest if one is not None), key=lambda one: one.seq, default=None)


def due(sweeps: Sweeps, at: Stations, job: Job, seq: int) -> tuple[AnyFact, ...]:
    """What the program wants recorded now because of a sweep."""
    for name, state in sweeps.items():
        newest = newest_of(at, name) if seq in {state.redo, state.found} else None
        if state.redo == seq and newest is not None:
            return (Reject(newest.seq, GESTURE),)
        if state.found == seq and newest is not None and newest.of[0] >= state.run:
            return (Reject(newest.seq, STREAM),)
        gauge = job.gauge(name)
        if state.due is not None and state.due.seq == seq and gauge is not None:
            return (_accepted(state.due, gauge, at, job),)
    return ()


def _accepted(found: Accepted, gauge: Gauge, at: Stations, job: Job) -> Mastered | Taken:
    """The fact of an accepted sweep; rounded far below any gauge, so that it is the same everywhere."""
    limits = job.settings.sweep
    size = job.fit.nominal if job.fit is not None else NO_SIZE
    u = hypot(found.u, offset_uncertainty(size, min(limits.aside, size / 2)))
    if at.mastering == gauge.name:
        return Mastered(gauge.name, round(found.value, 7), round(u, 7), found.of)
    zero, u_zero = zero_of(at, gauge)
    here = at.plan_of("bore").here
    return Taken(
        part="bore",
        z=here.z,
        angle=here.angle,
        pass_=0,
        value=round(found.value + zero, 7),
        u=round(hypot(u, u_zero), 7),
        of=found.of,
        gauge=gauge.name,
        settings={"sweep.u": limits.u, "sweep.points": float(limits.points), "sweep.aside": limits.aside},
        low=found.low,
        high=found.high,
    )
