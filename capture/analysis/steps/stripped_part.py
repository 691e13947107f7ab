"""The shaft as it was measured before plating, against the order: what must be deposited on it.

The chromium to deposit per side is ``(P - S) / 2``, with P the diameter as plated and S the smallest diameter
that was measured; what stays after grinding to F is least at the largest: ``(F - S) / 2``, less half the
runout on one side (geometry, the part between one pair of centres throughout).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import hypot

from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.gauges.permissible_errors import rectangular
from capture.metrology.message import Message, message, place, size, thickness
from capture.metrology.plating.deposit import thickness_from
from capture.sheet.job import Job, Plating
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import Cold, at_20
from capture.state.session import State
from capture.state.stations import StationReading
from capture.state.strip_target import StripSize

STRIPPED = ("strip", "undersize")
"""Words by which a stage is of the shaft before plating."""


class StrippedShaft(Struct, frozen=True):
    """The extremes of the newest stage that was measured before plating."""

    smallest: Cold
    largest: Cold
    smallest_at: PlannedPlace
    largest_at: PlannedPlace


def stripped_shaft(states: Iterable[State], job: Job) -> StrippedShaft | None:
    """The shaft in its newest stage before plating; None where it was not measured in one."""
    taken = [one for state in states for one in state.stations.taken if one.part == "shaft"]
    sizes = newest_sizes(taken, STRIPPED, job)
    if not sizes:
        return None
    smallest, largest = (end(sizes, key=lambda at: sizes[at].value) for end in (min, max))
    return StrippedShaft(sizes[smallest], sizes[largest], smallest, largest)


def newest_sizes(
    taken: Sequence[StationReading], words: tuple[str, ...], job: Job
) -> dict[PlannedPlace, Cold]:
    """The newest reading at 20 °C of each place in the newest stage named by one of *words*."""
    fitting = [one for one in taken if one.stage and any(word in one.stage.lower() for word in words)]
    fitting.sort(key=lambda one: one.at.wall)
    last = {one.place: one for one in fitting if one.stage == fitting[-1].stage}
    return {at: _with_certificate(at_20(one, job), one, job) for at, one in last.items()}


def _with_certificate(cold: Cold, reading: StationReading, job: Job) -> Cold:
    """With the gauge's largest permissible error, as a rectangle, beside its scatter.

    One gauge before and after shares part of it: the thickness is then known better than is said.
    """
    gauge = job.gauge(reading.gauge)
    limits = None if gauge is None else gauge.limits
    return cold if limits is None else replace(cold, u=hypot(cold.u, rectangular(limits)))


def not_as_ordered(
    shaft: StrippedShaft, limits: StripSize, wanted: Plating, finished: float
) -> list[Message]:
    """What to mend before the shaft is plated; empty where it was stripped as ordered."""
    said: list[Message] = []
    if shaft.largest.value > limits.most:
        left = thickness_from(finished, shaft.largest.value) - wanted.runout / 2.0
        said.append(
            message(
                "stripped.over",
                came=size(shaft.largest.value),
                at=where(shaft.largest_at.z, shaft.largest_at.angle),
                due=size(limits.most),
                left=thickness(round(left, 5)),
                wanted=thickness(wanted.least),
            )
        )
    if shaft.smallest.value < limits.least:
        thick = thickness_from(finished, shaft.smallest.value) + wanted.runout / 2.0
        said.append(
            message(
                "stripped.under",
                came=size(shaft.smallest.value),
                at=where(shaft.smallest_at.z, shaft.smallest_at.angle),
                due=size(limits.least),
                thick=thickness(round(thick, 5)),
                allowed=thickness(wanted.most),
            )
        )
    return said


def where(z: float | None, angle: float | None) -> Message:
    """The place in words."""
    if z is None:
        return message("received.anywhere")
    return message("received.at", z=place(z), angle=angle or 0.0)
