"""Odd lobes of a part as they were measured: what two-point gauges do not see of the clearance."""

from __future__ import annotations

from math import hypot

from msgspec import Struct

from capture.analysis.roundness.roundness_findings import PlaceRuns, places_of
from capture.events import Part
from capture.metrology.message import Message, message, place, small
from capture.metrology.uncertainty.budget import Contribution
from capture.sheet.job import Job
from capture.sheet.settings import Form
from capture.state.session import State


class OddLobes(Struct, frozen=True):
    """Odd lobes of a part at its worst place."""

    amplitude: float
    """mm: half the radial peak-to-valley of them together."""
    u: float
    z: float


class FormTaken(Struct, frozen=True):
    """What is taken off the least clearance for what two-point gauges do not see, mm."""

    odd_bore: float
    odd_shaft: float
    bow: float
    u_bore: float
    """Standard uncertainty of `odd_bore`, where it was measured."""
    u_shaft: float
    measured_bore: bool
    measured_shaft: bool

    @property
    def u(self) -> float:
        """Standard uncertainty on diameter, as far as lobes were measured."""
        return 2 * hypot(self.u_bore, self.u_shaft)

    @property
    def contributions(self) -> tuple[Contribution, ...]:
        """Its lines of the budget; none where nothing was measured."""
        parts = (("bore", self.measured_bore, self.u_bore), ("shaft", self.measured_shaft, self.u_shaft))
        return tuple(
            Contribution(f"{part}: its odd lobes", 0.0, u, sensitivity=-2.0, source="turned under a gauge")
            for part, measured, u in parts
            if measured
        )


def form_taken(form: Form, bore: OddLobes | None, shaft: OddLobes | None) -> FormTaken:
    """What was measured, and the settings for what was not."""
    return FormTaken(
        odd_bore=form.odd_bore if bore is None else bore.amplitude,
        odd_shaft=form.odd_shaft if shaft is None else shaft.amplitude,
        bow=form.bow,
        u_bore=0.0 if bore is None else bore.u,
        u_shaft=0.0 if shaft is None else shaft.u,
        measured_bore=bore is not None,
        measured_shaft=shaft is not None,
    )


def odd_lobes_of(
    state: State, part: Part, job: Job, stage: str | None, pass_: int
) -> tuple[OddLobes | None, tuple[Message, ...]]:
    """The odd lobes of *part* in a stage, of a shaft after a pass, and what is to be said of them.

    None where it did not turn under a gauge since then: what was measured of metal that is gone is left out.
    """
    if not state.rounds.runs:
        return None, ()
    found = [one for one in places_of(state, job, part) if one.runs]
    here = [one for one in found if one.stage == stage and (part == "bore" or one.pass_ == pass_)]
    if not here:
        return None, ((message("odd.gone", part=part),) if found else ())
    worst = max(here, key=lambda one: one.form.odd + 2 * one.form.u_odd)
    odd = OddLobes(worst.form.odd, worst.form.u_odd, worst.z)
    taken = message(
        "odd.measured", part=part, odd=small(odd.amplitude, 2), u=small(2 * odd.u, 2), z=place(worst.z)
    )
    return odd, (taken, *_unseen(part, worst))


def _unseen(part: Part, worst: PlaceRuns) -> tuple[Message, ...]:
    lobes = [one.lobes for one in worst.unseen if one.lobes % 2]
    return (message("odd.unseen", part=part, lobes=", ".join(map(str, lobes))),) if lobes else ()
