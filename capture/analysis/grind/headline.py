"""The headline of a grind: verdict, size, what is to go, and where it ends, all of one pass and its places.

Every screen, the summary and the papers take these figures from here, so that none says another. The
size is the judgement's own: the mean of the places at 20 °C by all passes so far, which a wild reading
does not move. Before the first judgement it is the mean of the places as they were read.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal, TypeAlias

from msgspec import Struct, structs

from capture.events import Flag
from capture.metrology.grinding.judgement import Outlook
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import at_20
from capture.state.flags import VERDICTS
from capture.state.grinding.pass_verdict import AT_ONCE, Called, PassVerdict, open_places, pass_verdict
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.state.stations import StationReading
from capture.state.target import Target, target

Standing: TypeAlias = Called | Literal["no size", "no pass", "mastering", "measuring the bore"]


class Headline(Struct, frozen=True):
    """What is said first of a grind; lengths in mm at 20 °C, None is not known."""

    verdict: Standing
    open: tuple[PlannedPlace, ...] = ()
    """Places of the plan that are still to be measured after the newest pass."""
    places: tuple[PlannedPlace, ...] = ()
    """Places that were measured after the pass that the figures are of."""
    pass_: int | None = None
    """The pass that the figures are of; 0 is before the first."""
    newest: int | None = None
    """The newest pass, where it has not been measured and the figures are of one before it."""
    readings: tuple[StationReading, ...] = ()
    """The newest reading of each of *places*."""
    size: float | None = None
    u_size: float | None = None
    aim: Target | None = None
    to_go: float | None = None
    """`size` less the aim; below 0 it is under."""
    predicted: float | None = None
    u_predicted: float | None = None
    to_come: float | None = None
    u_to_come: float | None = None
    step: float | None = None
    """The smallest step of the gauge that measured it, mm: nothing finer is shown."""
    outlook: Outlook | None = None
    unsure: bool = False
    """Sparked out, and not surely inside the band at every place."""

    @property
    def whole(self) -> bool:
        """Whether every place was measured after the newest pass."""
        return not self.open and self.newest is None and self.size is not None


def headline(state: State) -> Headline:
    """The headline after the newest event of *state*."""
    found = pass_verdict(state.grind, state.stations, state.job)
    row = measured_row(state)
    outlook = None if row is None else row.outlook
    readings = _readings(state, row)
    size, u_size = _size(readings, outlook, state.job)
    aim = target(state.job, state.stations)
    return Headline(
        verdict=_standing(state, found, known=size is not None),
        open=open_places(state.stations),
        places=tuple(reading.place for reading in readings),
        pass_=_pass_of(row, readings),
        newest=_unmeasured(state),
        readings=readings,
        size=size,
        u_size=u_size,
        aim=aim,
        to_go=None if aim is None or size is None else size - aim.aim,
        predicted=None if outlook is None else outlook.predicted,
        u_predicted=None if outlook is None else outlook.u_predicted,
        to_come=None if outlook is None else outlook.to_come,
        u_to_come=None if outlook is None else outlook.u_to_come,
        step=step_of(readings, state.job),
        outlook=outlook,
        unsure=found is not None and (found.unsure or _unsure(found.called, outlook, aim)),
    )


def _unsure(called: Called, outlook: Outlook | None, aim: Target | None) -> bool:
    """Sparked out, predicted inside the band and not called on size: the interval is too wide."""
    if called != "sparked-out" or outlook is None or outlook.predicted is None or aim is None:
        return False
    low, high = aim.band or (aim.least, aim.most)
    return low <= outlook.predicted <= high


def measured_row(state: State) -> PassRow | None:
    """The newest pass that has a size: the pass in hand, or the one before it in this stage."""
    row = state.grind.row
    if row is None or row.number <= state.grind.first:
        return None
    if row.outlook is not None:
        return row
    before = state.grind.rows.last
    known = before is not None and before.outlook is not None and before.number > state.grind.first
    return before if known else None


def called_of(state: State) -> dict[int, Called]:
    """What is called of each pass, as every page says it, by the number of the pass.

    Of the pass in hand it is `pass_verdict`. An earlier pass keeps what was called of it: nothing where the
    plan was not gone through, and "on size" only where the program called it then.
    """
    newest = pass_verdict(state.grind, state.stations, state.job)
    measured: dict[int, set[PlannedPlace]] = {}
    for reading in state.stations.taken:
        if reading.part == "shaft":
            measured.setdefault(reading.pass_, set()).add(reading.place)
    plan = set(state.stations.plan_of("shaft").plan)
    said = [event.fact for event in state.flags if isinstance(event.fact, Flag)]
    on_size = {number: _on_size(said, number) for number in measured}
    found: dict[int, Called] = {}
    for row in state.grind.passes:
        if newest is not None and row is state.grind.row:
            found[row.number] = newest.called
        elif row.outlook is None:
            found[row.number] = "not measured"
        elif row.outlook.verdict in AT_ONCE or (row.evidence is not None and row.evidence.on_part):
            found[row.number] = row.outlook.verdict
        elif plan - measured.get(row.number, set()):
            found[row.number] = "not wholly measured"
        else:
            verdict = row.outlook.verdict
            unsure = verdict == "at-size" and not on_size.get(row.number, False)
            found[row.number] = "sparked-out" if unsure else verdict
    return found


def _on_size(said: list[Flag], number: int) -> bool:
    """Whether "on size" stood when that pass was measured."""
    what = [one.what for one in said if (one.pass_ or 0) <= number and one.what in {*VERDICTS, "at-size"}]
    return bool(what) and what[-1] == "at-size"


def step_of(readings: Iterable[StationReading], job: Job) -> float | None:
    """The coarsest step among *readings*, else that of the sheet's gauge; None is not known."""
    steps = [reading.resolution for reading in readings if reading.resolution > 0.0]
    if steps:
        return max(steps)
    gauge = next((one for one in job.gauges if one.measures == "diameter"), None)
    return gauge.resolution if gauge is not None and gauge.resolution > 0.0 else None


def headline_of(state: State) -> dict[str, Any]:
    """The headline as plain data; its keys stand in JSON.md."""
    found = headline(state)
    band = None if found.aim is None else found.aim.band
    return {
        "verdict": found.verdict,
        "whole": found.whole,
        "pass": found.pass_,
        "unmeasured_pass": found.newest,
        "places": [structs.asdict(place) for place in found.places],
        "open": [structs.asdict(place) for place in found.open],
        "size": found.size,
        "u_size": found.u_size,
        "aim": None if found.aim is None else found.aim.aim,
        "band": None if band is None else list(band),
        "to_go": found.to_go,
        "to_come": found.to_come,
        "u_to_come": found.u_to_come,
        "predicted": found.predicted,
        "u_predicted": found.u_predicted,
        "step": found.step,
    }


def _standing(state: State, found: PassVerdict | None, *, known: bool) -> Standing:
    stations = state.stations
    if stations.mastering is not None:
        return "mastering"
    newest = stations.taken.last
    if newest is not None and newest.part == "bore":
        return "measuring the bore"
    row = state.grind.row
    if found is not None and row is not None and row.number > state.grind.first:
        return found.called
    return "no pass" if known else "no size"


def _unmeasured(state: State) -> int | None:
    row = state.grind.row
    in_hand = row is not None and row.number > state.grind.first
    return row.number if in_hand and row is not None and row.outlook is None else None


def _pass_of(row: PassRow | None, readings: tuple[StationReading, ...]) -> int | None:
    if row is not None:
        return row.number
    return readings[-1].pass_ if readings else None


def _readings(state: State, row: PassRow | None) -> tuple[StationReading, ...]:
    """The newest reading of each place of the shaft, all after one pass, in the plan's order."""
    found: dict[PlannedPlace, StationReading] = {}
    number = None if row is None else row.number
    for reading in reversed(state.stations.taken):
        if reading.part != "shaft":
            continue
        if reading.stage != state.stations.stage or (number is not None and reading.pass_ < number):
            break
        number = reading.pass_ if number is None else number
        if reading.pass_ == number:
            found.setdefault(reading.place, reading)
    order = {place: index for index, place in enumerate(state.stations.plan_of("shaft").plan)}
    return tuple(sorted(found.values(), key=lambda one: (order.get(one.place, len(order)), one.seq)))


def _size(
    readings: tuple[StationReading, ...], outlook: Outlook | None, job: Job
) -> tuple[float | None, float | None]:
    if outlook is not None and outlook.size is not None:
        return outlook.size, outlook.u_size
    if not readings:
        return None, None
    cold = [at_20(reading, job) for reading in readings]
    mean = sum(one.value for one in cold) / len(cold)
    return mean, max(one.u for one in cold)
