"""A part as it was measured: which readings count, each at 20 °C, and what must be known with them.

Of a recording only the newest stage in which the part was measured counts, or the stage that is
asked for; of a shaft only what was measured after the newest pass of it, because a pass takes
the metal away that earlier readings were of.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import sqrt
from typing import Any

from msgspec import Struct, to_builtins
from msgspec.structs import replace

from capture.analysis.fit.masterings import CorrectedReading, checks_of, mastered
from capture.analysis.fit.odd_lobes import OddLobes, odd_lobes_of
from capture.analysis.fit.systematic_errors import SystematicError, merged_gauges, systematic_errors_of
from capture.events import Part
from capture.metrology.form.profile import Diameter, Profile, profile
from capture.metrology.message import Message, Sentence, message, place, thickness
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace, measuring_plan
from capture.sheet.stages import is_early
from capture.state.cold_size import Cold, at_20
from capture.state.session import State
from capture.state.stations import LEAST_SCATTER, StationReading, Warmth, Zero
from capture.text.catalogue import sentence, sentences

FAR_FROM_NOMINAL = 0.05
"""Share of the nominal size by which a reading of this part may be off (common practice, no source)."""


class CannotSay(Exception):
    """Nothing can be said of a part from these readings: what came, what was due."""

    def __init__(self, remarks: Sentence) -> None:
        super().__init__(sentence(remarks, "mm"))
        self.said = remarks


class CountedReading(Struct, frozen=True):
    """A reading that counts."""

    reading: StationReading
    mastered: CorrectedReading
    cold: Cold
    u_own: float
    """Standard uncertainty of this reading alone, without what all readings share, mm."""


class Measured(Struct, frozen=True):
    """A part in one stage."""

    part: Part
    stage: str | None
    pass_: int
    source: str
    """The recording's name."""
    rows: tuple[CountedReading, ...]
    profile: Profile
    commons: tuple[SystematicError, ...]
    placed: bool
    """Whether the stations' places are known."""
    conditions: tuple[Sentence, ...]
    """Under which the sizes hold."""
    blocks: tuple[Sentence, ...]
    """What keeps anything from being proven with these readings."""
    open: tuple[PlannedPlace, ...] = ()
    """Places of the plan that were not measured in this stage, or of a shaft after its newest pass."""
    early: bool = False
    """Measured in a stage before the last: more is still to come off, or on."""
    odd: OddLobes | None = None
    """Its odd lobes, where it turned under a gauge."""


def measured(
    state: State,
    part: Part,
    job: Job,
    *,
    source: str,
    stage: str | None = None,
    by_hand: Mapping[str, Warmth] | None = None,
) -> Measured | None:
    """The part in *state*; None where the recording holds no reading of it.

    Args:
        state: At the end of a recording.
        part: Which.
        job: The sheet to go by; gauges that it lacks are taken from the recording's own.
        source: Name of the recording.
        stage: The stage to take; None for the newest.
        by_hand: Temperatures that a person entered, by place of heat, for places without a probe.

    Raises:
        CannotSay: There is no such stage, or the sizes cannot be of this part.
    """
    taken = [reading for reading in state.stations.taken if reading.part == part]
    if not taken:
        return None
    job = merged_gauges(job, state.job)
    chosen, left_out = _chosen(taken, part, stage)
    _plausible(chosen, part, job)
    passes = state.stations.passes
    since = passes if passes > chosen[-1].pass_ and part == "shaft" and stage is None else None
    left = _open(chosen, part, job) if since is None else measuring_plan(job.workpiece(part)).plan
    early = is_early(chosen[-1].stage, part)
    checks = checks_of(state)
    rows = tuple(_row(reading, job, checks, by_hand or {}) for reading in chosen)
    found = systematic_errors_of(part, [(row.reading, row.mastered, row.cold) for row in rows], job)
    odd, said = odd_lobes_of(state, part, job, chosen[-1].stage, chosen[-1].pass_)
    return Measured(
        part=part,
        stage=chosen[-1].stage,
        pass_=chosen[-1].pass_,
        source=source,
        rows=rows,
        profile=profile(part, [_diameter(row) for row in rows], shared_u=found.u),
        commons=found.commons,
        placed=all(row.reading.place.z is not None for row in rows),
        conditions=(*left_out, *found.conditions, *said),
        blocks=(*_unfinished(part, chosen[-1].stage if early else None, since, left, job), *found.blocks),
        open=left,
        early=early,
        odd=odd,
    )


def _open(chosen: Sequence[StationReading], part: Part, job: Job) -> tuple[PlannedPlace, ...]:
    """Places of the sheet's plan that no reading that counts is of."""
    done = {reading.place for reading in chosen}
    return tuple(place for place in measuring_plan(job.workpiece(part)).plan if place not in done)


def _unfinished(
    part: Part, early: str | None, since: int | None, left: Sequence[PlannedPlace], job: Job
) -> Iterator[Message]:
    """What is still to be done before anything can be proven of the part.

    *early* is the stage, where it is not the last one; *since* the newest pass, where nothing was measured
    after it.
    """
    if since is not None:
        yield message("measured.since", part=part, number=since)
    if early is not None:
        yield message("measured.early", part=part, stage=early)
    if left and since is None:
        whole = len(measuring_plan(job.workpiece(part)).plan)
        yield message("measured.open", part=part, left=len(left), whole=whole, first=place(left[0].z or 0.0))


def _chosen(
    taken: Sequence[StationReading], part: Part, stage: str | None
) -> tuple[list[StationReading], list[str]]:
    known = list(dict.fromkeys(reading.stage for reading in taken))
    if stage is not None and stage not in known:
        names = ", ".join(repr(name) if name is not None else "readings without a stage" for name in known)
        raise CannotSay(f"{part}: no readings in stage {stage!r}; there are {names}")
    wanted = taken[-1].stage if stage is None else stage
    of_stage = [reading for reading in taken if reading.stage == wanted]
    newest = max(reading.pass_ for reading in of_stage)
    chosen = [reading for reading in of_stage if reading.pass_ == newest]
    said = []
    if len(of_stage) < len(taken):
        others = ", ".join(name or "no stage" for name in known if name != wanted)
        said.append(f"{part}: readings of other stages are left out ({others})")
    before = {reading.place for reading in of_stage} - {reading.place for reading in chosen}
    if before:
        said.append(
            f"{part}: since pass {newest} only {len({r.place for r in chosen})} of "
            f"{len({r.place for r in of_stage})} places were measured; "
            "what was read before is of metal that is gone"
        )
    if {reading.place.z is None for reading in chosen} == {True, False}:
        said.append(f"{part}: readings whose station nobody entered are left out")
        chosen = [reading for reading in chosen if reading.place.z is not None]
    return chosen, said


def _plausible(chosen: Sequence[StationReading], part: Part, job: Job) -> None:
    """A size that cannot be this part's is a wrong unit or a wrong part, and no clearance follows from it."""
    if job.fit is None:
        return
    nominal, value = job.fit.nominal, chosen[-1].value
    for factor, has, due in ((MM_PER_INCH, "mm", "in"), (1 / MM_PER_INCH, "in", "mm")):
        if abs(value * factor / nominal - 1) < FAR_FROM_NOMINAL:
            raise CannotSay(
                message(
                    "measured.unit",
                    part=part,
                    came=thickness(value),
                    nominal=thickness(nominal),
                    gauge=chosen[-1].gauge,
                    due=due,
                    has=has,
                )
            )
    if abs(value / nominal - 1) > FAR_FROM_NOMINAL:
        raise CannotSay(
            message("measured.other", part=part, came=thickness(value), nominal=thickness(nominal))
        )


def _row(
    reading: StationReading, job: Job, checks: Mapping[str, Sequence[Zero]], by_hand: Mapping[str, Warmth]
) -> CountedReading:
    found = mastered(reading, job, checks)
    remarks = by_hand.get("gauge") or by_hand.get("master")
    warm = replace(
        reading,
        value=found.value,
        warmth=reading.warmth or by_hand.get(reading.part),
        gauge_warmth=reading.gauge_warmth or remarks,
    )
    u_own = max(sqrt(max(reading.u**2 - found.u_in_force**2, 0.0)), LEAST_SCATTER)
    return CountedReading(warm, found, at_20(replace(warm, u=u_own), job), u_own)


def _diameter(row: CountedReading) -> Diameter:
    place = row.reading.place
    return Diameter(place.z or 0.0, place.angle, row.cold.value, row.u_own)


def coarsest(found: Measured) -> float | None:
    """The coarsest step among its readings, mm: nothing finer is shown; None is not known."""
    return max((row.reading.step or 0.0 for row in found.rows), default=0.0) or None


def part_row(found: Measured) -> dict[str, Any]:
    """A measured part as plain data."""
    shape = found.profile
    return {
        "recording": found.source,
        "stage": found.stage,
        "pass": found.pass_,
        "readings": len(found.rows),
        "step": coarsest(found),
        "stations": [
            {
                "z": each.z if found.placed else None,
                "mean": each.mean,
                "u": each.u,
                "u_own": each.own_u,
                "angles": each.n,
                "ovality": each.round.ovality,
                "u_ovality": each.round.u_ovality,
                "ovality_at_least": each.round.at_least,
                "said": each.round.said,
            }
            for each in shape.stations
        ],
        "smallest": to_builtins(shape.smallest),
        "largest": to_builtins(shape.largest),
        "taper": None if shape.taper is None else to_builtins(shape.taper),
        "shape": None if shape.axial is None else shape.axial.shape,
        "crown": None if shape.axial is None else shape.axial.crown,
        "u_crown": None if shape.axial is None else shape.axial.u_crown,
        "bell_mouths": None
        if shape.axial is None or shape.axial.bell_mouths is None
        else list(shape.axial.bell_mouths),
        "said": sentences(shape.said, "mm"),
    }
