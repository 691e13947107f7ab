"""Lapping between stages of a session: what came off the bore, and what is left, from its readings."""

from __future__ import annotations

from capture.events import Event, Lap
from capture.metrology.bore.lap_choice import LapChoice, choose_lap
from capture.metrology.bore.lapping import COVERAGE, BoreSize, Guidance, LapWork, Spot, guidance, largest_bore
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading

PLATED = ("plat", "finish", "grind", "ground")
"""A stage of the shaft with one of these in its name is after plating."""


def stages(state: State) -> tuple[str | None, ...]:
    """The stages in which the bore was measured, in order."""
    return tuple(dict.fromkeys(reading.stage for reading in state.stations.taken if reading.part == "bore"))


def sizes(state: State, stage: str | None) -> dict[Spot, BoreSize]:
    """The newest reading of each place of the bore in a stage, at 20 °C."""
    found: dict[Spot, BoreSize] = {}
    for reading in state.stations.taken:
        if reading.part == "bore" and reading.stage == stage:
            cold = at_20(reading, state.job)
            found[reading.place.z, reading.place.angle] = BoreSize(cold.value, cold.u)
    return found


def lapping(state: State, *, goal: float | None = None) -> Guidance | None:
    """What the newest lap did and what to do next; None while nothing of the bore is measured."""
    each = stages(state)
    if not each:
        return None
    now = sizes(state, each[-1])
    before = sizes(state, each[-2]) if len(each) > 1 else None
    planned = state.job.bore.places if state.job.bore is not None else ()
    left = sum(place not in now for place in planned)
    return guidance(now, before, work(state), goal=goal, stop_at=largest(state), open_places=left)


def next_lap(state: State) -> LapChoice | None:
    """The lap for what is left of the bore; None while nothing of it is measured, or nothing is left."""
    found, each = lapping(state), stages(state)
    if found is None or found.stop:
        return None
    spots = sizes(state, each[-1])
    least: dict[float, float] = {}
    for (z, _), one in spots.items():
        if z is not None:
            least[z] = min(one.value, least.get(z, one.value))
    return choose_lap(least, found.goal, max((one.u for one in spots.values()), default=0.0))


def laps_of(state: State) -> list[tuple[Event, Lap]]:
    """Every lap that was entered and not taken back, in order."""
    return [
        (entry.event, entry.event.fact)
        for entry in state.history
        if isinstance(entry.event.fact, Lap) and entry.event.seq not in state.aside
    ]


def work(state: State) -> LapWork:
    """Strokes and minutes entered since the first reading of the stage before the newest."""
    each = stages(state)
    if len(each) < 2:
        return LapWork()
    start = _first(state, each[-2])
    last = _first(state, each[-1])
    laps = [lap for event, lap in laps_of(state) if start.seq < event.seq < last.seq]
    strokes = [lap.strokes for lap in laps if lap.strokes is not None]
    minutes = [lap.minutes for lap in laps if lap.minutes is not None]
    return LapWork(sum(strokes) if strokes else None, sum(minutes) if minutes else None)


def _first(state: State, stage: str | None) -> StationReading:
    return next(r for r in state.stations.taken if r.part == "bore" and r.stage == stage)


def largest(state: State) -> float | None:
    """The largest bore that the plating plan can fill, from the newest measured size of the shaft."""
    job = state.job
    if job.fit is None or job.shaft is None or job.shaft.plating is None:
        return None
    shaft = [reading for reading in state.stations.taken if reading.part == "shaft"]
    if not shaft:
        return None
    newest = [reading for reading in shaft if reading.stage == shaft[-1].stage]
    smallest = min((at_20(reading, job) for reading in newest), key=lambda cold: cold.value)
    plan = job.shaft.plating
    if any(word in (shaft[-1].stage or "").lower() for word in PLATED):
        # There is chromium on it already, and nothing more comes.
        return smallest.value + job.fit.clearance.aim - COVERAGE * smallest.u
    return largest_bore(
        smallest.value, plan.most, job.fit.clearance.aim, u_shaft=smallest.u, runout=plan.runout
    )
