"""The passes that must have been made before a size was taken, beside those that a person entered."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from capture.events import MOST_PASSES, Event, Flag, Pass, Reading
from capture.metrology.grinding.stream import pass_pace
from capture.metrology.grinding.stream.pass_pace import StandWork
from capture.sheet.job import Job
from capture.state import stations as sizes
from capture.state.grinding import display_zero, infeed_doubts, infeed_gauge
from capture.state.grinding.infeed_gauge import Infeed
from capture.state.grinding.passes import Grind
from capture.state.stations import StationReading, Stations, last_of

GRINDING_STAGES = ("grind", "finish", "rough", "spark")
"""A stage with one of these in its name is ground in; so is a session that never named a stage."""

LEAST_GAP = 2.0
"""Seconds between two readings of one place that could be two passes (common practice, no source)."""
SMALLER = 4.0
"""Standard deviations by which a size must have fallen for the part to have been ground."""
ALIKE = 1.5
"""Steps of the gauge within which an infeed entered and one found are the same."""


def infeeds_of(entered: Iterable[Pass]) -> tuple[float | None, ...]:
    """The infeed of every pass that was entered, mm on diameter."""
    return tuple(infeed for one in entered for infeed in one.infeeds)


def found_passes(
    state: Grind, stations: Stations, fed: Infeed, job: Job, event: Event, entered: Sequence[Pass]
) -> tuple[Pass, ...]:
    """The passes that must have been made before the size reading *event* and that nobody entered.

    *entered* is what a person has said of passes since the size before.
    """
    if not is_grinding(stations):
        return ()
    if fed.path is not None:
        return _by_infeed(state, stations, fed, job, event, infeeds_of(entered))
    if not stations.seen or entered or not job.settings.passes.find:
        return ()
    last = _last_here(stations)
    if last is None or _seconds(last, event) < LEAST_GAP:
        return ()
    here = state.row is not None and (state.dressed or state.row.number > state.first)
    return () if here and state.row is not None and not state.row.found else (Pass(None),)


def misread(state: Grind, stations: Stations, fed: Infeed, job: Job, event: Event) -> tuple[Flag, ...]:
    """That the display was set to 0, or counts the other way, as the head before the size *event* shows."""
    if not state.sizes or not is_grinding(stations):
        return ()
    if zeroed := display_zero.zeroed_before(fed, job, event):
        return zeroed
    last = last_of(stations.taken, "shaft")
    smaller = last is not None and _is_smaller(last, stations, job, event)
    return infeed_doubts.turned(fed, job, event, smaller=smaller)


def refused(state: Grind, stations: Stations, fed: Infeed, job: Job, event: Event) -> tuple[Flag, ...]:
    """That an infeed was too large for one pass before the size *event*."""
    if not state.sizes or not is_grinding(stations):
        return ()
    far = infeed_gauge.counted(fed, job, event.at, event.at.seconds).far
    return () if far is None else (infeed_doubts.beyond(far, stations.passes, job, event),)


def is_grinding(stations: Stations) -> bool:
    """Whether the stage in hand is one that is ground in."""
    return stations.stage is None or any(word in stations.stage.lower() for word in GRINDING_STAGES)


def _by_infeed(
    state: Grind,
    stations: Stations,
    fed: Infeed,
    job: Job,
    event: Event,
    entered: tuple[float | None, ...],
) -> tuple[Pass, ...]:
    if not state.sizes:
        return ()
    found = infeed_gauge.counted(fed, job, event.at, event.at.seconds)
    by = infeed_gauge.factor(job)
    made = [None if one.infeed is None else round(one.infeed * by, 6) for one in found.passes]
    if not made and not entered and infeed_gauge.stands_in(fed):
        made = [0.0] * _rests(state, stations, fed, job, event)
    step = fed.path.step * by if fed.path is not None else 0.0
    return grouped(not_entered(made, entered, max(ALIKE * step, 1e-3)))


def not_entered(
    made: Sequence[float | None], entered: Sequence[float | None], near: float
) -> tuple[float | None, ...]:
    """The infeeds of *made* that are not among those *entered*; within *near* they are alike.

    Where the infeeds entered come to those made in all, a person only divides them otherwise.

    >>> not_entered([0.005, 0.005, 0.0], [0.005], 0.0015), not_entered([0.005, 0.005, 0.0], [0.010], 0.0015)
    ((0.005, 0.0), (0.0,))
    """
    fed = [infeed for infeed in made if infeed != 0.0]
    said = [infeed for infeed in entered if infeed != 0.0]
    rests = max((len(made) - len(fed)) - (len(entered) - len(said)), 0)
    known = [infeed for infeed in (*fed, *said) if infeed is not None]
    if said and len(known) == len(fed) + len(said) and abs(sum(known) - 2.0 * sum(known[len(fed) :])) <= near:
        return (0.0,) * rests
    left = list(made)
    for infeed in entered:
        if left:
            left.remove(min(left, key=lambda one: _unlike(one, infeed)))
    return tuple(left)


def _unlike(made: float | None, entered: float | None) -> float:
    """How unlike two infeeds are; any fed pass is likelier meant by one that was fed than a rest is."""
    if made is None or entered is None:
        return 0.0 if made is entered else (1.0 if 0.0 not in {made, entered} else 2.0)
    return abs(made - entered) + (1.0 if (made == 0.0) is not (entered == 0.0) else 0.0)


def grouped(infeeds: Sequence[float | None]) -> tuple[Pass, ...]:
    """Passes as facts, those alike in one, and the rests after them.

    >>> grouped([0.005, 0.005, 0.0, 0.004]) == (Pass(0.005, times=2, rests=1), Pass(0.004))
    True
    """
    found: list[Pass] = []
    for infeed in infeeds:
        last = found[-1] if found else None
        full = last is not None and MOST_PASSES in {last.times, last.rests}
        if last is not None and infeed == 0.0 and last.infeed and not full:
            found[-1] = Pass(last.infeed, times=last.times, rests=last.rests + 1)
        elif (
            last is not None and infeed is not None and infeed == last.infeed and not last.rests and not full
        ):
            found[-1] = Pass(infeed, times=last.times + 1)
        else:
            found.append(Pass(infeed))
    return tuple(found)


def _rests(state: Grind, stations: Stations, fed: Infeed, job: Job, event: Event) -> int:
    """Passes without infeed while the head stood where the wheel cuts: by the time, or a smaller size."""
    last = _last_here(stations)
    if state.row is None or last is None or fed.sized is None:
        return 0
    seconds, pace = event.at.seconds - fed.sized, fed.pace
    number = 0 if pace is None else pass_pace.passes_in(StandWork(seconds, "stood"), pace)[0]
    return number or int(seconds >= LEAST_GAP and _is_smaller(last, stations, job, event))


def _is_smaller(last: StationReading, stations: Stations, job: Job, event: Event) -> bool:
    gauge = job.gauge(event.source)
    if gauge is None or not isinstance(event.fact, Reading):
        return False
    value, _ = sizes.size_of(stations, gauge, event.fact)
    return last.value - value > SMALLER * last.scatter + last.resolution


def _last_here(stations: Stations) -> StationReading | None:
    """The newest size of the place in hand, if it was measured since the newest pass."""
    here = stations.plan_of("shaft").here
    if here not in stations.seen:
        return None
    return next((r for r in reversed(stations.taken) if r.part == "shaft" and r.place == here), None)


def _seconds(last: StationReading, event: Event) -> float:
    return (event.at.mono - last.at.mono) / 1e9
