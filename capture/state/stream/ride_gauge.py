"""Diameter gauges that ride on the part: their passes and sizes as facts, set to sizes measured by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot

from msgspec import Struct
from msgspec.structs import replace

from capture.events import AnyFact, Event, Instant, Pass, Reading, Reject, Stage, Taken
from capture.metrology.grinding.outlook import Stroke
from capture.sheet.job import Gauge, Job
from capture.state.grinding.found_passes import found_passes
from capture.state.grinding.infeed_gauge import Infeed
from capture.state.grinding.passes import Grind
from capture.state.stations import Stations, signed, step_of, zero_of
from capture.state.stream import riding
from capture.state.stream.ride_noise import noise_of
from capture.state.stream.ride_passes import figures_of, took_more
from capture.state.stream.riding_state import RidingState, SizeStep
from capture.state.sweep.auto_accept import newest_of
from capture.state.sweep.sweep_state import StreamSample

PLAUSIBLE = 1.0
"""mm from the nominal up to which what a gauge shows is taken for a size before it has been set."""
DIFFERS = 0.002
"""mm, and"""
CLEARLY = 3.0
"""standard uncertainties by which a size measured by hand must differ to set a riding gauge anew."""
LEAST_SCATTER = 0.00015
"""mm; no size of a riding gauge repeats better from pass to pass (common practice, no source)."""
MOST_SETS = 8
SET = "the gauge was set to a size measured by hand"
WENT_ON = "the dwell went on"


class GaugeSetting(Struct, frozen=True):
    """A riding gauge compared with a size measured by hand."""

    seq: int
    """The taken reading."""
    zero: float
    """What must be added to what it showed, mm."""
    u: float


class RideGauge(Struct, frozen=True):
    """One riding gauge."""

    stream: RidingState = RidingState()
    sets: tuple[GaugeSetting, ...] = ()
    """Comparisons with sizes measured by hand that agree, the first of which set it."""
    checked: int = -1
    """The newest taken reading that it was compared with."""
    differs: float | None = None
    """By how much the newest comparison differed, where it did clearly, mm."""
    due_seq: int = -1
    """The reading on which a pass was found."""
    off_since: Instant | None = None
    by_hand: tuple[int, float, float] | None = None
    """The taken reading, size and uncertainty, mm, measured by hand before it stood on the part."""


Rides = Mapping[str, RideGauge]


def step_reading(rides: Rides, event: Event, reading: Reading, gauge: Gauge, job: Job) -> Rides:
    """The riding gauges after a reading of one."""
    limits = job.settings
    fresh = RidingState(limit=limits.spark_out.limit, warm=limits.warm.limit)
    before = rides.get(gauge.name) or RideGauge(stream=fresh)
    sample = StreamSample(event.at.seconds, signed(gauge, reading.value), event.seq)
    stream = riding.step(before.stream, sample, step_of(gauge, reading))
    found = stream.due is not None or stream.owed
    lifted = stream.phase == "lifted"
    after = replace(
        before,
        stream=stream,
        due_seq=event.seq if found else before.due_seq,
        off_since=(before.off_since or event.at) if lifted else None,
    )
    standing = _standing(stream)
    if after.by_hand is not None and standing is not None:
        seq, value, u = after.by_hand
        after = replace(after, by_hand=None)
        if not stream.count:  # else it was ground meanwhile
            after = _compared(after, GaugeSetting(seq, value - standing, u))
            after = replace(after, due_seq=event.seq)
    return {**rides, gauge.name: after}


def step_word(rides: Rides, event: Event, at: Stations) -> Rides:
    """The riding gauges after a word or a decision that *at* already knows."""
    match event.fact:
        case Taken(part="shaft", gauge=name) if name in rides:
            one = rides[name]
            return {**rides, name: replace(one, stream=replace(one.stream, due=None, owed=False))}
        case Taken(part="shaft", value=value, u=u):
            return {name: _measured(one, event.seq, value, u) for name, one in rides.items()}
        case Reject():
            stand = {reading.seq for reading in at.taken[-200:]}
            return {name: _standing_by(one, stand) for name, one in rides.items()}
        case Stage():
            # perhaps another part, at another size
            return {
                name: replace(one, sets=(), differs=None, by_hand=None, stream=riding.next_part(one.stream))
                for name, one in rides.items()
            }
        case _:
            return rides


def _measured(one: RideGauge, seq: int, value: float, u: float) -> RideGauge:
    """After a size measured by hand: compared with what it shows, or kept until it stands on the part."""
    standing = _standing(one.stream)
    if standing is not None:
        return _compared(one, GaugeSetting(seq, value - standing, u))
    return replace(one, by_hand=(seq, value, u)) if one.stream.phase == "silent" else one


def _standing_by(one: RideGauge, stand: set[int]) -> RideGauge:
    """After readings were set aside; *stand*: those that still count."""
    kept = one.by_hand if one.by_hand is not None and one.by_hand[0] in stand else None
    return replace(one, sets=tuple(s for s in one.sets if s.seq in stand), by_hand=kept)


def _standing(stream: RidingState) -> float | None:
    """What it shows while the size stands, mm."""
    if stream.phase != "rest" or not stream.seconds:
        return None
    newest = stream.seconds[-8:]
    return sum(one.value for one in newest) / len(newest)


def _compared(one: RideGauge, new: GaugeSetting) -> RideGauge:
    """A size measured by hand beside what it shows: sets it the first time, and checks it from then on."""
    if not one.sets:
        first = one.stream.count == 0
        stream = replace(one.stream, owed=first)
        return replace(
            one, sets=(new,), differs=None, stream=stream, due_seq=new.seq if first else one.due_seq
        )
    zero, u = zero_by(one.sets)
    apart = new.zero - zero
    if abs(apart) > max(DIFFERS, CLEARLY * hypot(u, new.u)):
        return replace(one, checked=new.seq, differs=apart)
    return replace(one, sets=(*one.sets, new)[-MOST_SETS:], checked=new.seq, differs=None)


def zero_by(sets: Sequence[GaugeSetting]) -> tuple[float, float]:
    """What is to be added, and its standard uncertainty, mm: the first comparison, on which all sizes rest.

    Later ones only check it: sizes from pass to pass must not move by a comparison that agrees.
    """
    return sets[0].zero, sets[0].u


def zero_now(one: RideGauge, gauge: Gauge, at: Stations, job: Job) -> tuple[float, float] | None:
    """What is to be added to what it shows for a size, and its uncertainty; None where nobody knows."""
    if one.sets:
        return zero_by(one.sets)
    zero, u = zero_of(at, gauge)
    shown, nominal = one.stream.size, job.fit.nominal if job.fit is not None else None
    if shown is None or nominal is None or abs(shown + zero - nominal) > PLAUSIBLE:
        return None
    return zero, u


def due(
    rides: Rides,
    own: Sequence[AnyFact],
    grind: Grind,
    at: Stations,
    fed: Infeed,
    job: Job,
    event: Event,
    told_passes: Sequence[Pass],
) -> tuple[AnyFact, ...]:
    """The pass and the size found by gauge *event.source*; *own*: what was said of it already."""
    one, gauge = rides.get(event.source), job.gauge(event.source)
    if one is None or gauge is None or at.paused:
        return ()
    made = one.stream.due
    if made is None:
        return _first(one, gauge, at, job)
    passes: list[Pass] = []
    # a gauge that has just been lifted still tells of the pass before that
    leads = (leader(rides) or next(iter(rides))) == event.source
    if leads and not made.again and not any(isinstance(fact, Pass) for fact in own):
        passes = _passes(one, grind, at, fed, job, event, told_passes)
    number = at.passes + sum(len(one_pass.infeeds) for one_pass in passes)
    known = [infeed for one_pass in passes for infeed in one_pass.infeeds]
    figures = figures_of(
        one.stream, gauge, (*grind.strokes, *(Stroke(infeed, event.at.seconds) for infeed in known))
    )
    rejected = _again(gauge, at, WENT_ON) if made.again else ()
    return (*passes, *rejected, *_taken(one, gauge, made, at, job, number, figures))


def _again(gauge: Gauge, at: Stations, why: str) -> tuple[Reject, ...]:
    """The size that it gave after the newest pass, set aside."""
    before = newest_of(at, gauge.name)
    again = before is not None and before.pass_ == at.passes and before.stage == at.stage
    return (Reject(before.seq, why),) if again and before is not None else ()


def _passes(
    one: RideGauge,
    grind: Grind,
    at: Stations,
    fed: Infeed,
    job: Job,
    event: Event,
    told_passes: Sequence[Pass],
) -> list[Pass]:
    """By the infeed gauge where there is one, else by the words of a person, else by what rides alone.

    Of one pass that the size showed, the infeed is all that was fed since the one before: where the wheel
    stood meanwhile tells of no passes, since the part would have shown them, unless the gauge was off it.
    """
    made = one.stream.due
    if made is None or told_passes:
        return []
    if fed.path is not None:
        found = list(found_passes(grind, at, fed, job, event, told_passes))
        if one.stream.away and found:
            return found
        known = [infeed for group in found for infeed in group.infeeds]
        total = round(float(sum(infeed or 0.0 for infeed in known)), 6)
        unseen = not total and took_more(one.stream)  # fed before the head was looked at
        return [Pass(None if None in known or unseen else total)]
    if not job.settings.passes.find:
        return []
    return [Pass(0.0 if made.rest else None)]


def leader(rides: Rides) -> str | None:
    """The gauge by which passes are found, where several ride: the first that is on the part."""
    return next((name for name, one in rides.items() if one.stream.phase in {"rest", "cutting"}), None)


def _first(one: RideGauge, gauge: Gauge, at: Stations, job: Job) -> tuple[AnyFact, ...]:
    """The size before the first pass, once it stands on the part and has been set."""
    if not one.stream.owed:
        return ()
    shown = _standing(one.stream)
    if shown is None:
        return ()
    made = SizeStep(0.0, 0.0, noise_of(one.stream), shown)
    return (*_again(gauge, at, SET), *_taken(one, gauge, made, at, job, at.passes, {}))


def _taken(
    one: RideGauge,
    gauge: Gauge,
    made: SizeStep,
    at: Stations,
    job: Job,
    number: int,
    figures: Mapping[str, float | str],
) -> tuple[Taken, ...]:
    zero = zero_now(one, gauge, at, job)
    if zero is None:
        return ()
    scatter = max(made.u, LEAST_SCATTER)
    fact = Taken(
        part="shaft",
        z=gauge.rides,
        angle=None,
        pass_=number,
        value=round(made.size + zero[0], 7),
        u=round(hypot(scatter, zero[1]), 7),
        of=(one.due_seq,),
        gauge=gauge.name,
        settings={"rides.scatter": round(scatter, 7), **figures},
    )
    return (fact,)
