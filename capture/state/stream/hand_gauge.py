"""Diameter gauges that stream in a hand or on a bench: their placings as readings of the measuring plan."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot

from msgspec.structs import replace

from capture.events import (
    AnyFact,
    Event,
    Master,
    Mastered,
    Part,
    Pass,
    Pause,
    Reading,
    Reject,
    Stage,
    Station,
    Taken,
)
from capture.metrology.gauges.single_reading import scatter_of, with_rounding
from capture.sheet.job import Gauge, Job
from capture.state.stations import StationReading, Stations, signed, step_of, zero_of
from capture.state.stream import placing
from capture.state.stream.placing import QUICK_RUN
from capture.state.stream.placing_state import Level, PlacingSetup, PlacingState
from capture.state.sweep.auto_accept import STREAM, newest_of
from capture.state.sweep.sweep_state import StreamSample

Placings = Mapping[str, PlacingState]

LEAST_NOISE = 1e-5
"""mm; no gauge in a hand is quieter (common practice, no source)."""
GESTURE = "redo by gesture: lifted and placed again"
FURTHER = "closed further: it was not on the part yet"
JUST_FOUND = 4 * QUICK_RUN
"""Events after a stream was found within which what was taken of it as single readings is set aside."""
PLACING_SCATTER = 0.0002
"""mm; standard deviation from placing to placing where nobody studied it (common practice, no source)."""
NEWEST = 6
"""Sizes before it that the next one is compared with."""


def streams_in_hand(gauge: Gauge) -> bool:
    """Whether a gauge may send all the time while it is carried from place to place."""
    return gauge.measures == "diameter" and gauge.rides is None and gauge.stream is not False


def step_reading(
    placings: Placings, event: Event, reading: Reading, gauge: Gauge, at: Stations, job: Job
) -> Placings:
    """The placings after a reading of a diameter gauge."""
    before = placings.get(gauge.name) or PlacingState(streams=gauge.stream is True, paused=at.paused)
    sample = StreamSample(event.at.seconds, signed(gauge, reading.value), event.seq)
    before = replace(before, largest=max(before.largest, sample.value))
    setup = setup_of(gauge, reading, at, job, before.largest)
    return {**placings, gauge.name: placing.step(before, sample, setup)}


def single(placings: Placings, gauge: Gauge) -> bool:
    """Whether the newest reading of *gauge* stands by itself: somebody pressed its button."""
    state = placings.get(gauge.name)
    return state is None or not state.streams


def found(placings: Placings, gauge: Gauge) -> bool:
    """Whether a size was found on the newest reading of *gauge*."""
    state = placings.get(gauge.name)
    return state is not None and state.due is not None


def setup_of(gauge: Gauge, reading: Reading, at: Stations, job: Job, largest: float) -> PlacingSetup:
    """What the sheet, the sizes so far and the mastering make of a stream; *largest*: it ever showed."""
    step = step_of(gauge, reading)
    near, sizes, far, zero = _due(gauge, at, job, largest)
    return PlacingSetup(
        limits=job.settings.placing,
        interval=job.settings.sweep.interval,
        noise=max(with_rounding(scatter_of(gauge.repeatability, step), step), LEAST_NOISE),
        step=step,
        near=near,
        sizes=sizes,
        far=far,
        zero=zero,
        master=at.mastering == gauge.name,
    )


def _due(
    gauge: Gauge, at: Stations, job: Job, largest: float
) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...], float | None]:
    """What it shows of sizes near, of those of this stage, of any that may be, and closed on itself."""
    zero, _ = zero_of(at, gauge)
    nominal = job.fit.nominal if job.fit is not None else None
    if at.mastering == gauge.name:
        size = at.zeros[gauge.name].size
        # a gauge that was set on nothing and shows a small figure shows how far it is from nobody knows what
        known = (size - zero,) if zero or largest > size / 2 else ()
        return known, (), known, None
    sizes = _newest(at)
    same = near = tuple(reading.value - zero for reading in sizes if reading.stage == at.stage)
    if nominal is not None and (zero or largest > nominal / 2):
        near = (*near, nominal - zero)
    far = tuple(dict.fromkeys((*near, *(reading.value - zero for reading in sizes))))
    return near, same, far, None if zero else 0.0


def _newest(at: Stations) -> list[StationReading]:
    found: list[StationReading] = []
    for reading in reversed(at.taken):
        if reading.part == "shaft":
            found.append(reading)
            if len(found) == NEWEST:
                break
    return found


def step_word(placings: Placings, event: Event) -> Placings:
    """The placings after a person's word or a decision."""
    match event.fact:
        case Pause(on=on):
            return {name: replace(state, paused=on, due=None) for name, state in placings.items()}
        case Master(gauge=name) if name in placings:
            # it may lie on its master already: what it shows from here on is looked at anew
            fresh = PlacingState(streams=placings[name].streams, paused=placings[name].paused)
            return {**placings, name: fresh}
        case Mastered(gauge=name) if name in placings:
            return {**placings, name: replace(placings[name], due=None, mastered=True)}
        case Taken(gauge=name) if name in placings:
            return {**placings, name: replace(placings[name], due=None, again=-1)}
        case Reject():
            return {name: replace(state, again=-1) for name, state in placings.items()}
        case Pass() | Stage() | Station():
            # Somebody who says what the next reading is of presses a button for it.
            return {
                name: state if state.streams else replace(state, quick=0, run=event.seq + 1)
                for name, state in placings.items()
            }
        case _:
            return placings


def due_before(placings: Placings, name: str, at: Stations) -> tuple[AnyFact, ...]:
    """What must be set aside before the size found on the newest reading of gauge *name* is taken."""
    state = placings.get(name)
    newest = newest_of(at, name)
    if state is None or state.again < 0 or newest is None:
        return ()
    return (Reject(newest.seq, FURTHER if state.further else GESTURE),)


def due(placings: Placings, at: Stations, seq: int) -> tuple[AnyFact, ...]:
    """What the program wants recorded beside the sizes: a stream found late, the zero on a master."""
    for name, state in placings.items():
        newest = newest_of(at, name) if 0 <= seq - state.found <= JUST_FOUND and state.found >= 0 else None
        if newest is not None and state.run <= newest.of[0] <= state.found:
            return (Reject(newest.seq, STREAM),)
    name = at.mastering or ""
    level = placings[name].due if name in placings else None
    if level is None:
        return ()
    return (Mastered(name, round(level.value, 7), round(level.u, 7), _of(level)),)


def taken(placings: Placings, gauge: Gauge, reading: Reading, at: Stations, job: Job) -> tuple[Taken, ...]:
    """The fact of a size that was found, if one was; rounded far below any gauge's step."""
    level = placings[gauge.name].due if gauge.name in placings else None
    if level is None:
        return ()
    part: Part = "shaft"
    zero, u_zero = zero_of(at, gauge)
    here = at.plan_of(part).here
    step = step_of(gauge, reading)
    u_placing = scatter_of(gauge.repeatability, step)
    if gauge.repeatability is None:
        u_placing = max(u_placing, PLACING_SCATTER)
    limits = job.settings.placing
    fact = Taken(
        part=part,
        z=here.z,
        angle=here.angle,
        pass_=at.passes,
        value=round(level.value + zero, 7),
        u=round(hypot(level.u, u_placing, u_zero), 7),
        of=_of(level),
        gauge=gauge.name,
        settings={"placing.dwell": limits.dwell, "placing.near": limits.near},
    )
    return (fact,)


def _of(level: Level) -> tuple[int, ...]:
    """The readings that it rests on: of one at rest the first and the last."""
    return level.of if level.turns or len(level.of) < 3 else (level.of[0], level.of[-1])
