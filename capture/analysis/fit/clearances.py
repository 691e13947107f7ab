"""Clearances of two measured parts: everywhere over the travel, or their bounds where no travel is given."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from msgspec import Struct

from capture.analysis.fit.measured_part import Measured, coarsest
from capture.analysis.fit.odd_lobes import OddLobes
from capture.analysis.fit.systematic_errors import SystematicError
from capture.metrology.fit.clearance import (
    PlaceClearance,
    Position,
    Shared,
    StationSize,
    TravelEngagement,
    over_travel,
    sizes_of,
)
from capture.metrology.form.profile import TWO_POINT
from capture.metrology.message import Sentence, message, place
from capture.sheet.job import Job

MOST_UNMEASURED = 0.2
"""Share of the engaged length that may lie beyond the stations (common practice, no source)."""


class Side(Struct, frozen=True):
    """One part of the fit."""

    mean: tuple[StationSize, ...]
    """Mean diameters, mm at 20 °C."""
    tight: tuple[StationSize, ...]
    """The least diameters of an oval bore, the greatest of an oval shaft."""
    commons: tuple[SystematicError, ...]
    placed: bool
    """Whether the places of its stations are known."""
    conditions: tuple[Sentence, ...]
    blocks: tuple[Sentence, ...]
    ground: bool = False
    """A shaft that passes of the wheel were made on: what is too large can still come off."""
    whole: bool = True
    """Every place of the plan was measured, in the last stage of the part."""
    odd: OddLobes | None = None
    """Its odd lobes, where it turned under a gauge."""
    step: float | None = None
    """The coarsest step of the gauges that measured it, mm; None is not known."""

    @property
    def loose(self) -> tuple[StationSize, ...]:
        """The greatest diameters of an oval bore, the least of an oval shaft."""
        pairs = zip(self.mean, self.tight, strict=True)
        return tuple(StationSize(mean.z, 2 * mean.value - tight.value, tight.u) for mean, tight in pairs)


class Map(Struct, frozen=True):
    """The clearances of the fit."""

    positions: tuple[Position, ...]
    """By mean diameters; none where the places of the parts to each other are not known."""
    pairs: tuple[PlaceClearance, ...]
    """Every place that was worked out, by mean diameters."""
    smallest: PlaceClearance
    """By the tight diameters."""
    largest: PlaceClearance
    """By the loose diameters."""
    conditions: tuple[Sentence, ...]
    blocks: tuple[Sentence, ...]


def side_of(found: Measured) -> Side:
    """The side of a measured part."""
    shape = [
        message("profile.of", part=found.part, finding=one) for one in found.profile.said if one != TWO_POINT
    ]
    return Side(
        mean=sizes_of(found.profile),
        tight=sizes_of(found.profile, tight=True),
        commons=found.commons,
        placed=found.placed,
        conditions=(*found.conditions, *shape),
        blocks=found.blocks,
        ground=found.part == "shaft" and found.pass_ > 0,
        whole=not found.open and not found.early,
        odd=found.odd,
        step=coarsest(found),
    )


def side_of_sheet(job: Job) -> Side | None:
    """The bore by the one size that the sheet has of it, None without."""
    if job.fit is None or job.fit.bore is None:
        return None
    size = StationSize(0.0, job.fit.bore, 0.0)
    common = SystematicError(
        "the sheet's bore", "the bore's size by the sheet", job.fit.u_bore, 1.0, "normal", "the job sheet"
    )
    known = "bore: its size is the one that the sheet has; its shape is not known, it is taken as parallel"
    return Side((size,), (size,), (common,), placed=False, conditions=(known,), blocks=())


def clearances(bore: Side, shaft: Side, job: Job, shared: Sequence[Shared]) -> Map:
    """The map of the fit.

    Raises:
        CannotBe: no measured place of one part ever faces one of the other.
    """
    where = job.fit.engagement if job.fit is not None else None
    if where is None or not (bore.placed and shaft.placed):
        return _bounds(bore, shaft, shared, known=where is not None)
    engagement = TravelEngagement(where.length, where.start, where.stop)
    travel = over_travel(bore.mean, shaft.mean, engagement, shared=shared)
    share = travel.not_measured / where.length
    missing, whole = place(round(travel.not_measured, 1)), place(where.length)
    known = message("fit.unmeasured", missing=missing, whole=whole)
    return Map(
        positions=travel.positions,
        pairs=tuple(place for position in travel.positions for place in position.places),
        smallest=over_travel(bore.tight, shaft.tight, engagement, shared=shared).smallest,
        largest=over_travel(bore.loose, shaft.loose, engagement, shared=shared).largest,
        conditions=(known,) if 1e-9 < share <= MOST_UNMEASURED else (),
        blocks=(known,) if share > MOST_UNMEASURED else (),
    )


def _bounds(bore: Side, shaft: Side, shared: Sequence[Shared], *, known: bool) -> Map:
    pairs = _all_pairs(bore.mean, shaft.mean, shared)
    why = "some stations have no place" if known else "the sheet has no fit.engagement"
    if known and not bore.placed and len(bore.mean) == 1:
        why = "the bore is one size without a place"
    return Map(
        positions=(),
        pairs=pairs,
        smallest=min(_all_pairs(bore.tight, shaft.tight, shared), key=lambda each: each.value),
        largest=max(_all_pairs(bore.loose, shaft.loose, shared), key=lambda each: each.value),
        conditions=(f"{why}: any measured place of one part is taken to meet any of the other",),
        blocks=(),
    )


def _all_pairs(
    bore: Sequence[StationSize], shaft: Sequence[StationSize], shared: Sequence[Shared]
) -> tuple[PlaceClearance, ...]:
    u = hypot(*(each.u for each in shared)) if shared else 0.0
    return tuple(
        PlaceClearance(hole.value - pin.value, hypot(hole.u, pin.u, u), hole.z, pin.z, pin.z - hole.z)
        for hole in bore
        for pin in shaft
    )
