"""What is called of the pass in hand: one verdict for every screen, paper and voice.

The judgement of the sizes (`Outlook.verdict`) stands for what was measured so far. It is not called while
places of the plan are open, because a place that nobody measured may be the one that is not done; and "on
size" is not called where the coach is not as sure of every place as the sheet asks.
"""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

from msgspec import Struct

from capture.metrology.grinding.judgement import Verdict
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.grinding.passes import Grind
from capture.state.stations import Stations

Called: TypeAlias = Verdict | Literal["not measured", "not wholly measured"]

AT_ONCE: Final = frozenset({"cutting", "growing", "stalled"})
"""Called whatever is open: a warning does not wait for the last place, and an infeed was given."""


class PassVerdict(Struct, frozen=True):
    """The verdict on the pass in hand, and the places that it waits for."""

    called: Called
    open: tuple[PlannedPlace, ...] = ()
    """Places of the plan that have not been measured since the newest pass."""
    unsure: bool = False
    """Sparked out with the mean inside the band, but not surely with every place."""


def open_places(stations: Stations) -> tuple[PlannedPlace, ...]:
    """Places of the shaft's plan not measured since the newest pass, or since the stage began."""
    return tuple(place for place in stations.plan_of("shaft").plan if place not in stations.seen)


def pass_verdict(grind: Grind, stations: Stations, job: Job) -> PassVerdict | None:
    """What is called of the newest pass; None before the first."""
    row = grind.row
    if row is None:
        return None
    left = open_places(stations)
    if row.outlook is None:
        return PassVerdict("not measured", left)
    found = row.outlook.verdict
    if row.evidence is not None and row.evidence.on_part:
        return PassVerdict(found)  # a gauge on the part measures each pass where it rides
    if found in AT_ONCE:
        return PassVerdict(found, left)
    if left:
        return PassVerdict("not wholly measured", left)
    if found == "at-size" and not _sure(grind, job):
        return PassVerdict("sparked-out", unsure=True)
    return PassVerdict(found)


def _sure(grind: Grind, job: Job) -> bool:
    """Whether every place is as surely inside the band as the sheet asks of a call."""
    coaching = grind.coaching
    inside = None if coaching is None else coaching.landing.p_inside
    return inside is not None and inside >= job.settings.spark_out.confidence
