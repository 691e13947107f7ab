"""Where the gauge stands: the plan of a part is walked, and a person may point elsewhere."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from capture.sheet.job import Workpiece


class Place(Struct, frozen=True, order=True):
    """A place on a part; None where no station was told or planned."""

    z: float | None = None
    """Millimetres from the datum end."""
    angle: float | None = None
    """Direction of the diameter, degrees."""


class Walk(Struct, frozen=True):
    """The plan of one part and the place in hand."""

    plan: tuple[Place, ...]
    here: Place
    anchor: Place
    """Where measuring starts again after a pass: the place last pointed at, else the first of the plan."""

    def pointed(self, place: Place) -> Walk:
        """A person said where the gauge stands."""
        return replace(self, here=place, anchor=place)

    def restarted(self) -> Walk:
        """The wheel has passed: measuring starts where it started before."""
        return replace(self, here=self.anchor)

    def beyond(self, place: Place) -> Walk:
        """After a reading at *place*: the next of the plan, the first again after the last.

        A place that is not of the plan stays in hand until a person points elsewhere.
        """
        return replace(self, here=self.step(place, 1))

    def back(self) -> Walk:
        """One place back in the plan."""
        return replace(self, here=self.step(self.here, -1))

    def step(self, place: Place, by: int) -> Place:
        """The place *by* steps along the plan from *place*."""
        if place not in self.plan:
            return place
        return self.plan[(self.plan.index(place) + by) % len(self.plan)]


def walk(workpiece: Workpiece | None) -> Walk:
    """The walk of a part from the start of its plan; of no part, one place without a name."""
    plan = tuple(Place(z, angle) for z, angle in workpiece.places) if workpiece else ()
    first = plan[0] if plan else Place()
    return Walk(plan, first, first)
