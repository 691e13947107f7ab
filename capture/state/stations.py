"""Station readings: what was measured where, after which pass, how warm, and against which master."""

from __future__ import annotations

from collections.abc import Mapping
from math import sqrt

from msgspec import Struct
from msgspec.structs import replace

from capture.events import (
    Clamp,
    Event,
    Instant,
    Master,
    Mastered,
    Part,
    Pass,
    Pause,
    Reading,
    Stage,
    Station,
    Taken,
)
from capture.metrology.gauges.single_reading import scatter_of, with_rounding
from capture.metrology.grinding.stream.ride_figures import RideFigures, stored
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Gauge, Job
from capture.sheet.measuring_plan import MeasuringPlan, PlannedPlace, measuring_plan
from capture.state.append_log import Log

LEAST_SCATTER = 1e-5
"""mm; no gauge that is read by hand repeats better than 10 nm (common practice, no source)."""

CLEARLY_LARGER = 0.005
"""mm by which two masters must differ to tell which way a gauge counts (common practice, no source)."""


class Warmth(Struct, frozen=True):
    """How warm a place of heat was when its probe last spoke."""

    value: float
    """°C."""
    u: float
    at: Instant


class HistoryEntry(Struct, frozen=True):
    """An event of the history, with how warm things were when it happened."""

    event: Event
    warmth: Mapping[str, Warmth]


class Zero(Struct, frozen=True):
    """What a gauge's readings need added, as its readings on the master showed."""

    size: float
    """The master's size at 20 °C, mm."""
    u_size: float
    at: Instant
    n: int = 0
    mean: float = 0.0
    """Mean correction of the *n* readings on the master."""
    m2: float = 0.0
    u_sweep: float = 0.0
    """Standard uncertainty of the reading on the master, where a sweep gave it."""
    warmth: tuple[str, float] | None = None
    """How warm it was when the zero was taken, °C, and where."""
    before: tuple[float, float] | None = None
    """Size of the master before this one and what the gauge read on it, by the sign on the sheet."""

    @property
    def wrong_way(self) -> bool:
        """Whether the gauge read less on a clearly larger master, or more on a smaller one."""
        if not self.n or self.before is None:
            return False
        larger, more = self.size - self.before[0], self.size - self.mean - self.before[1]
        return abs(larger) >= CLEARLY_LARGER and larger * more < 0 and abs(more) > 0.3 * abs(larger)

    def with_reading(self, value: float, at: Instant) -> Zero:
        """One more reading on the master, by Welford's update."""
        n, delta = self.n + 1, self.size - value - self.mean
        mean = self.mean + delta / n
        return replace(self, n=n, mean=mean, m2=self.m2 + delta * (self.size - value - mean), at=at)

    @property
    def u(self) -> float:
        """Standard uncertainty of the correction: the master's, and the scatter on it."""
        scatter = self.m2 / (self.n - 1) / self.n if self.n > 1 else 0.0
        return sqrt(self.u_size**2 + scatter + self.u_sweep**2)


class StationReading(Struct, frozen=True):
    """A reading taken for a place of a part."""

    seq: int
    at: Instant
    part: Part
    place: PlannedPlace
    stage: str | None
    pass_: int
    value: float
    """mm, as the gauge had it, mastering included."""
    u: float
    scatter: float
    """Standard deviation of one reading of the gauge, its rounding left out, mm."""
    resolution: float
    """Smallest step that the gauge shows, mm; 0 where neither sheet nor reading tells."""
    of: tuple[int, ...]
    gauge: str
    warmth: Warmth | None
    """The part's temperature; None when no probe has spoken lately."""
    gauge_warmth: Warmth | None
    low: tuple[int, ...] = ()
    """Turning points of a sweep that were left out because they are lower."""
    high: tuple[int, ...] = ()
    """Those left out because they are higher."""
    clamp: str | None = None
    """How the part was held when it was read, as a person entered it; None is not known."""
    ride: RideFigures | None = None
    """What a gauge that rides on the part saw of the pass."""

    @property
    def step(self) -> float | None:
        """The step under which nothing of it is shown, mm; None where nobody tells one.

        That of its gauge; a bore's sweep is no reading but the fit to the curves round several turning
        points, some hundred readings, and says by its uncertainty how well it is known.
        """
        swept = self.part == "bore" and len(self.of) > 1
        return None if swept else self.resolution or None


class Stations(Struct, frozen=True):
    """Everything taken so far, and what the next reading will be taken for."""

    walks: Mapping[str, MeasuringPlan]
    stage: str | None = None
    passes: int = 0
    """Number of the newest pass; 0 before the first."""
    paused: bool = False
    """A person wants nothing taken from streams."""
    mastering: str | None = None
    """The gauge that is on the master."""
    zeros: Mapping[str, Zero] = {}
    zero_log: Log[tuple[str, Zero]] = Log()
    """Every mastering that ended, in order: what drift is read from."""
    taken: Log[StationReading] = Log()
    doubted: Log[StationReading] = Log()
    """Readings far from all others: nothing rests on them, and their places are still to be measured."""
    seen: frozenset[PlannedPlace] = frozenset()
    """Places of the shaft measured since the newest pass."""
    clamp: str | None = None
    """How the part or its lock is held, as a person entered it last."""

    def plan_of(self, part: Part) -> MeasuringPlan:
        """The walk of *part*."""
        return self.walks[part]


def start(job: Job) -> Stations:
    """Nothing taken yet, both parts at the start of their plans."""
    return Stations({"bore": measuring_plan(job.bore), "shaft": measuring_plan(job.shaft)})


def step(state: Stations, entry: HistoryEntry, job: Job) -> Stations:
    """The stations after one event of the history."""
    event = entry.event
    match event.fact:
        case Station(part=part, z=z, angle=angle):
            pointed = state.walks[part].pointed(PlannedPlace(z, angle))
            return replace(_measuring(state), walks={**state.walks, part: pointed})
        case Stage(name=name):
            fresh = start(job).walks
            return replace(_measuring(state), stage=name, walks=fresh, seen=frozenset())
        case Pass() as made:
            shaft = state.walks["shaft"].restarted()
            walks = {**state.walks, "shaft": shaft}
            passes = state.passes + len(made.infeeds)
            return replace(_measuring(state), passes=passes, walks=walks, seen=frozenset())
        case Master(gauge=gauge, size=size, u=u):
            zero = Zero(size, u, event.at, before=_before(state.zeros.get(gauge)))
            return replace(_measuring(state), mastering=gauge, zeros={**state.zeros, gauge: zero})
        case Reading(value=value) if state.mastering == event.source:
            zero = state.zeros[event.source].with_reading(signed(job.gauge(event.source), value), event.at)
            zero = replace(zero, warmth=_warmth(entry))
            return replace(state, zeros={**state.zeros, event.source: zero})
        case Taken() as taken:
            return _taken(state, entry, taken, job)
        case Pause(on=on):
            return replace(state, paused=on)
        case Clamp(how=how):
            return replace(state, clamp=how)
        case Mastered() as mastered:
            return _mastered(state, entry, mastered)
        case _:
            return state


def _before(zero: Zero | None) -> tuple[float, float] | None:
    """What the mastering before says of the next one's sign."""
    if zero is None:
        return None
    return (zero.size, zero.size - zero.mean) if zero.n else zero.before


def _measuring(state: Stations) -> Stations:
    """Off the master: its zero is kept with those before it; where none was taken, the last one stands."""
    if state.mastering is None:
        return state
    name, zeros = state.mastering, dict(state.zeros)
    if zeros[name].n:
        return replace(state, mastering=None, zero_log=state.zero_log.added((name, zeros[name])))
    before = next((zero for gauge, zero in reversed(state.zero_log) if gauge == name), None)
    if before is None:
        del zeros[name]
    else:
        zeros[name] = before
    return replace(state, mastering=None, zeros=zeros)


def _mastered(state: Stations, entry: HistoryEntry, mastered: Mastered) -> Stations:
    """The zero by a sweep on the master, in place of what single readings on it gave."""
    zero = state.zeros.get(mastered.gauge)
    if zero is None or state.mastering != mastered.gauge:
        return state
    zero = Zero(
        size=zero.size,
        u_size=zero.u_size,
        at=entry.event.at,
        n=1,
        mean=zero.size - mastered.value,
        u_sweep=mastered.u,
        warmth=_warmth(entry),
        before=zero.before,
    )
    return _measuring(replace(state, zeros={**state.zeros, mastered.gauge: zero}))


def _warmth(entry: HistoryEntry) -> tuple[str, float] | None:
    for place in ("gauge", "master", "bore", "room"):
        if place in entry.warmth:
            return place, entry.warmth[place].value
    return None


def doubting(state: Stations, entry: HistoryEntry, taken: Taken, job: Job) -> Stations:
    """The stations after a reading that is not believed."""
    return replace(state, doubted=state.doubted.added(_reading(state, entry, taken, job)))


def _taken(state: Stations, entry: HistoryEntry, taken: Taken, job: Job) -> Stations:
    reading = _reading(state, entry, taken, job)
    place, gauge = reading.place, job.gauge(reading.gauge)
    rides = gauge is not None and gauge.rides is not None
    return replace(
        state,
        walks=state.walks if rides else {**state.walks, taken.part: state.walks[taken.part].beyond(place)},
        taken=state.taken.added(reading),
        seen=state.seen | {place} if taken.part == "shaft" and place not in state.seen else state.seen,
    )


def _reading(state: Stations, entry: HistoryEntry, taken: Taken, job: Job) -> StationReading:
    name = taken.gauge or _gauge_of(job, taken.part)
    gauge = job.gauge(name)
    scatter, resolution = _spread(gauge, taken.u)
    rides = gauge is not None and gauge.rides is not None
    if rides:  # the mean of many readings, which says itself how well it is known
        scatter, resolution = float(taken.settings.get("rides.scatter", taken.u)), 0.0
    return StationReading(
        seq=entry.event.seq,
        at=entry.event.at,
        part=taken.part,
        place=PlannedPlace(taken.z, taken.angle),
        stage=state.stage,
        pass_=taken.pass_,
        value=taken.value,
        u=taken.u,
        scatter=scatter,
        resolution=resolution,
        of=taken.of,
        gauge=name,
        warmth=entry.warmth.get(taken.part),
        gauge_warmth=entry.warmth.get("gauge") or entry.warmth.get("master"),
        low=taken.low,
        high=taken.high,
        clamp=state.clamp,
        ride=stored(taken.settings) if rides else None,
    )


def last_of(taken: Log[StationReading], part: Part) -> StationReading | None:
    """The newest reading taken of *part*."""
    return next((reading for reading in reversed(taken) if reading.part == part), None)


def _gauge_of(job: Job, part: Part) -> str:
    """The gauge that measures *part*, for a recording whose facts do not name it."""
    measures = {"bore": "bore", "shaft": "diameter"}[part]
    return next((g.name for g in job.gauges if g.part == part and g.measures == measures), "")


def signed(gauge: Gauge | None, value: float) -> float:
    """What a gauge shows, growing with the part."""
    return -value if gauge is not None and gauge.sign == "-" else value


def size_of(state: Stations, gauge: Gauge, reading: Reading) -> tuple[float, float]:
    """The size that a reading means and its standard uncertainty, mm: sign, zero and mastering applied."""
    zero, u_zero = zero_of(state, gauge)
    return signed(gauge, reading.value) + zero, sqrt(gauge_u(gauge, reading) ** 2 + u_zero**2)


def zero_of(state: Stations, gauge: Gauge) -> tuple[float, float]:
    """What is to be added to a gauge's readings, and its standard uncertainty, mm."""
    zero = state.zeros.get(gauge.name)
    return (gauge.zero, 0.0) if zero is None or not zero.n else (zero.mean, zero.u)


def gauge_u(gauge: Gauge, reading: Reading) -> float:
    """Standard uncertainty of one reading from the gauge alone, mm.

    Resolution as a rectangular distribution (GUM F.2.2.1) with the repeatability of the
    sheet, or half the resolution where the sheet has none.
    """
    resolution = step_of(gauge, reading)
    return with_rounding(scatter_of(gauge.repeatability, resolution), resolution)


def step_of(gauge: Gauge, reading: Reading) -> float:
    """The smallest step of a gauge: by the sheet, or by the digits that it shows, mm."""
    inch = MM_PER_INCH if reading.shown == "in" else 1.0
    return gauge.resolution or inch * 10.0**-reading.digits


def _spread(gauge: Gauge | None, u: float) -> tuple[float, float]:
    """Scatter and resolution of one reading, from the sheet, or from its uncertainty alone."""
    if gauge is None or not gauge.resolution:
        # What `gauge_u` made of an unknown scatter: u² = r²/12 + (r/2)² = r²/3.
        resolution = u * sqrt(3)
        return max(scatter_of(None, resolution), LEAST_SCATTER), resolution
    return max(scatter_of(gauge.repeatability, gauge.resolution), LEAST_SCATTER), gauge.resolution
