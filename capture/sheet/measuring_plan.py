"""Where the gauge stands: the plan of a part is walked, and a person may point elsewhere."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from capture.sheet.job import Workpiece


class PlannedPlace(Struct, frozen=True, order=True):
    """A place on a part; None where no station was entered or planned."""

    z: float | None = None
    """Millimetres from the datum end."""
    angle: float | None = None
    """Direction of the diameter, degrees."""


class MeasuringPlan(Struct, frozen=True):
    """The plan of one part and the place in hand."""

    plan: tuple[PlannedPlace, ...]
    here: PlannedPlace
    anchor: PlannedPlace
    """Where measuring starts again after a pass: the place last pointed at, else the first of the plan."""

    def pointed(self, place: PlannedPlace) -> MeasuringPlan:
        """A person enters where the gauge stands."""
        return replace(self, here=place, anchor=place)

    def restarted(self) -> MeasuringPlan:
        """The wheel has passed: measuring starts where it started before."""
        return replace(self, here=self.anchor)

    def beyond(self, place: PlannedPlace) -> MeasuringPlan:
        """After a reading at *place*: the next of the plan, the first again after the last.

        A place that is not of the plan stays in hand until a person points elsewhere.
        """
        return replace(self, here=self.step(place, 1))

    def back(self) -> MeasuringPlan:
        """One place back in the plan."""
        return replace(self, here=self.step(self.here, -1))

    def step(self, place: PlannedPlace, by: int) -> PlannedPlace:
        """The place *by* steps along the plan from *place*."""
        if place not in self.plan:
            return place
        return self.plan[(self.plan.index(place) + by) % len(self.plan)]


def measuring_plan(workpiece: Workpiece | None) -> MeasuringPlan:
    """The walk of a part from the start of its plan; of no part, one place without a name."""
    plan = tuple(PlannedPlace(z, angle) for z, angle in workpiece.places) if workpiece else ()
    first = plan[0] if plan else PlannedPlace()
    return MeasuringPlan(plan, first, first)
