"""Roundness at each place of a part, as plain data, lengths in mm: what ``roundness --json`` prints.

All standing runs at one place and stage (of a shaft also after one pass) are taken together: several V
angles, two points, three gauges, a reversal. The keys, a contract with other programs (new ones may come,
none changes meaning or goes): see `capture/commands/JSON.md`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import atan2, degrees
from typing import Any

from msgspec import Struct, to_builtins

from capture.analysis.roundness.turned_runs import FailedRun, GaugeRun, read_run
from capture.events import Part
from capture.metrology.form.contacts import LOBES, RoundnessSetup, unseen_by
from capture.metrology.form.separation import Lobe, RoundForm, axis_movement, form_of, lobes_of
from capture.metrology.message import Message, message
from capture.sheet.job import Job, Units
from capture.state.round_runs import RoundRun
from capture.state.session import State
from capture.text.catalogue import sentences

V_ANGLES = (60.0, 72.0, 90.0, 108.0, 120.0)
"""Angles of V-blocks of ISO 4292's tables (from memory); others are cut on order."""


class PlaceRuns(Struct, frozen=True):
    """All that was turned at one place, worked out."""

    part: Part
    z: float
    stage: str | None
    pass_: int
    runs: tuple[GaugeRun, ...]
    failed: tuple[FailedRun, ...]
    lobes: tuple[Lobe, ...]
    form: RoundForm
    seqs: tuple[int, ...]
    """Sequence numbers of the commands that began the runs."""

    @property
    def unseen(self) -> tuple[Lobe, ...]:
        """The lobe counts that are not seen."""
        return tuple(one for one in self.lobes if one.unseen is not None)


def places_of(
    state: State, job: Job, part: Part | None = None, *, turning: bool = True
) -> tuple[PlaceRuns, ...]:
    """The places at which a part turned under gauges, in the order of their newest run.

    Args:
        state: The session.
        job: Its sheet.
        part: Shaft or bore; None for both.
        turning: With the run that is under way.
    """
    groups: dict[tuple[Part, float, str | None, int], list[RoundRun]] = {}
    now = None if turning else state.rounds.under_way(state.aside)
    for run in state.rounds.standing(state.aside):
        if now is not None and run.seq == now.seq:
            continue
        if part is None or run.setup.part == part:
            number = run.pass_ if run.setup.part == "shaft" else 0
            key = (run.setup.part, run.setup.z, run.stage, number)
            groups[key] = [*groups.pop(key, []), run]
    return tuple(_place(key, runs, job) for key, runs in groups.items())


def _place(key: tuple[Part, float, str | None, int], runs: Sequence[RoundRun], job: Job) -> PlaceRuns:
    read = [one for run in runs for one in read_run(run, job)]
    good = tuple(one for one in read if isinstance(one, GaugeRun))
    failed = tuple(one for one in read if isinstance(one, FailedRun))
    harmonics = [one.harmonics for one in good]
    lobes = lobes_of(harmonics)
    form = form_of(lobes, harmonics)
    part, z, stage, number = key
    return PlaceRuns(part, z, stage, number, good, failed, lobes, form, tuple(run.seq for run in runs))


def roundness_rows(state: State, job: Job, units: Units) -> list[dict[str, Any]]:
    """Every place as plain data; its sentences in *units*."""
    return [row_of(one, units) for one in places_of(state, job)]


def row_of(place: PlaceRuns, units: Units) -> dict[str, Any]:
    """One place as plain data."""
    return {
        "part": place.part,
        "z": place.z,
        "stage": place.stage,
        "pass": place.pass_,
        "roundness": place.form.roundness if place.runs else None,
        "u_roundness": place.form.u_roundness if place.runs else None,
        "odd": place.form.odd if place.runs else None,
        "u_odd": place.form.u_odd if place.runs else None,
        "lobes": [_lobe(one) for one in place.lobes],
        "unseen": [one.lobes for one in place.unseen],
        "run_out": run_out_of(place.runs),
        "axis": [
            {"lobes": n, "amplitude": amplitude, "u": u}
            for n, (amplitude, u) in axis_movement([one.harmonics for one in place.runs]).items()
        ],
        "profile": list(place.form.profile),
        "runs": [_run(one) for one in place.runs],
        "said": sentences(said_of(place), units),
        "seq": list(place.seqs),
    }


def _lobe(one: Lobe) -> dict[str, Any]:
    return {**to_builtins(one), "clear": one.clear}


def run_out_of(runs: Iterable[GaugeRun]) -> dict[str, Any] | None:
    """Run-out of the newest run between centres: full indicator movement, eccentricity and where it is."""
    between = [one for one in runs if one.setup.contacts == "centres" and 1 in one.harmonics.shown]
    if not between:
        return None
    run = between[-1]
    first, u = run.harmonics.shown[1], run.harmonics.u[1]
    shift = run.setup.at + run.setup.turned
    angle = (degrees(atan2(-first.imag, first.real)) + shift) % 360
    return {
        "full": run.full,
        "eccentricity": abs(first),
        "u": u,
        "angle": angle if run.harmonics.phased and abs(first) > 2 * u else None,
        "gauge": run.gauge,
    }


def _run(one: GaugeRun) -> dict[str, Any]:
    row: dict[str, Any] = to_builtins(
        {
            "gauge": one.gauge,
            "setup": one.setup,
            "angle_from": one.angle_from,
            "readings": one.readings,
            "left_out": one.left_out,
            "turns": one.turns,
            "rpm": one.rpm,
            "u_rpm": one.u_rpm,
            "uneven": one.uneven,
            "per_turn": one.per_turn,
            "spread": one.spread,
            "masks": one.masks,
        }
    )
    return row


def said_of(place: PlaceRuns) -> list[Message]:
    """What a person must know of these lobes: first what is not seen, always."""
    remarks: list[Message] = [one.said for one in place.failed]
    if not place.runs:
        return remarks
    remarks.append(unseen_said(place.lobes))
    remarks += _would_see(place)
    remarks += dict.fromkeys(each for one in place.runs for each in one.said)
    between = [one for one in place.runs if one.setup.contacts == "centres"]
    if between and not all(one.separated for one in place.lobes if one.amplitude is not None):
        remarks.append(message("round.axis-in"))
    if any(one.setup.turned for one in between):
        remarks.append(message("round.dead-centres"))
    if not any(one.harmonics.phased for one in place.runs):
        remarks.append(message("round.no-phase"))
    if not place.form.in_phase:
        remarks.append(message("round.apart"))
    return [*remarks, message("round.beyond")]


def unseen_said(lobes: Sequence[Lobe]) -> Message:
    """The lobe counts that are not seen, with the reason for each; that all are seen is said too."""
    by_reason: Mapping[str, list[int]] = {
        reason: [one.lobes for one in lobes if one.unseen == reason]
        for reason in ("contacts", "slow", "angles", "noise")
    }
    parts = [
        message(f"round.{reason}", lobes=", ".join(map(str, counts)))
        for reason, counts in by_reason.items()
        if counts
    ]
    if not parts:
        return message("round.all-seen")
    joined = parts[0]
    for one in parts[1:]:
        joined = message("round.and", first=joined, second=one)
    return message("round.unseen", lobes=joined)


def _would_see(place: PlaceRuns) -> list[Message]:
    """Which V shows what these contacts pass by."""
    blind = unseen_by([one.setup for one in place.runs])
    if not blind:
        return []
    shown = {v: [n for n in blind if n not in unseen_by([RoundnessSetup("v", v)], LOBES)] for v in V_ANGLES}
    best = max(shown, key=lambda v: len(shown[v]))
    if not shown[best]:
        return []
    return [message("round.would-see", v=best, lobes=", ".join(map(str, shown[best])))]
