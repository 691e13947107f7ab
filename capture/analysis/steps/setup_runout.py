"""Run-out of the shaft on its centres: how much, where, and what it takes of the chromium on the thin side.

The wheel grinds round the axis of the centres. A base whose surface runs out by a full indicator movement f
is eccentric to that axis by ``f / 2`` at most (what is not eccentricity is form), so that the chromium,
ground to the diameter F over a base of diameter S, is ``(F - S) / 2 - f / 2`` thick where the base stands
highest, and ``(F - S) / 2 + f / 2`` opposite (geometry of two circles, to the first order in f). Where only
the plated surface was read, the deposit is taken as even, which is an assumption and is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from msgspec import Struct, to_builtins

from capture.analysis.roundness.roundness_findings import places_of, run_out_of
from capture.events import RunOut
from capture.metrology.message import Message, message, place, small, thickness
from capture.sheet.job import Job, Units
from capture.state.session import State
from capture.state.strip_target import before_plating, plating_of
from capture.text.catalogue import sentences

TRUE_WITHIN: Final = 0.002
"""mm of full movement that a part just ground on its centres may show (common practice, no source)."""


class RunOutRow(Struct, frozen=True):
    """Run-out at one place, mm."""

    seq: int
    z: float
    full: float
    """Full indicator movement."""
    angle: float | None
    """Degrees of the place that stands highest; None is not known."""
    stage: str | None
    of: str
    """Which surface: base, plated or ground."""
    by: str
    """How it was read: by eye, or turned under a gauge."""


def runouts_of(state: State, job: Job) -> tuple[RunOutRow, ...]:
    """Every run-out of the shaft in a session, oldest first: entered, or measured between centres."""
    rows = [
        RunOutRow(
            seen.event.seq,
            fact.z,
            fact.full,
            fact.angle,
            seen.stage,
            _surface(job, seen.stage, ground=seen.ground),
            "eye",
        )
        for seen in state.steps.runouts
        if isinstance(fact := seen.event.fact, RunOut)
    ]
    for turned in places_of(state, job, "shaft"):
        found = run_out_of(turned.runs)
        if found is not None:
            ground = turned.pass_ > state.steps.passes_before
            surface = _surface(job, turned.stage, ground=ground)
            seq = max(turned.seqs)
            rows.append(
                RunOutRow(seq, turned.z, found["full"], found["angle"], turned.stage, surface, "turned")
            )
    return tuple(sorted(rows, key=lambda one: one.seq))


def _surface(job: Job, stage: str | None, *, ground: bool) -> str:
    if before_plating(stage) and plating_of(job) is not None:
        return "base"
    return "ground" if ground else "plated" if plating_of(job) is not None else "base"


def newest(rows: Iterable[RunOutRow], surface: str) -> tuple[RunOutRow, ...]:
    """The newest run-out of a surface at each place, along the part."""
    found = {one.z: one for one in rows if one.of == surface}
    return tuple(found[z] for z in sorted(found))


def before_grinding(rows: Sequence[RunOutRow]) -> tuple[RunOutRow, ...]:
    """What the chromium is reckoned with: of the plated part as it is set up, else of its base."""
    return newest(rows, "plated") or newest(rows, "base")


def setup_runout(
    state: State, job: Job, planned: Mapping[str, Any] | None = None, units: Units = "mm"
) -> dict[str, Any]:
    """Run-out before the first pass and at the end, and what it costs, as plain data.

    Args:
        state: Of the session in which the part is set up.
        job: The sheet.
        planned: What `capture.analysis.steps.plating_plan.plan` found, where the sheet has plating.
        units: Of the sentences.
    """
    rows = runouts_of(state, job)
    before, after = before_grinding(rows), newest(rows, "ground")
    costs = [cost for one in before if (cost := cost_of(one, planned)) is not None]
    worst = min(costs, key=lambda one: float(one["left"]), default=None)
    said = [*_cost_said(worst, before), *_end_said(after)]
    return {
        "rows": [to_builtins(one) for one in rows],
        "costs": costs,
        "worst": worst,
        "true_within": TRUE_WITHIN,
        "true": None if not after else all(one.full <= TRUE_WITHIN for one in after),
        "basis": "common practice, no source",
        "said": sentences(said, units),
    }


def cost_of(row: RunOutRow, planned: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """What a run-out takes of the chromium at its place; None where there is no plan of a plating.

    Lengths per side, mm: ``even`` without run-out, ``takes`` on the thin side, ``left`` there, ``opposite``,
    ``low_stock`` to grind where the plated surface stands lowest; ``thin_at`` in degrees.
    """
    order = None if planned is None else planned["order"]
    if planned is None or order is None:
        return None
    received = planned["received"]
    stripped, plated = _near(row.z, received, "stripped"), _near(row.z, received, "plated")
    base = order["strip"] if stripped is None else stripped
    even, takes = (order["finished"] - base) / 2.0, row.full / 2.0
    stock = ((order["plated"] if plated is None else plated) - order["finished"]) / 2.0
    return {
        "z": row.z,
        "full": row.full,
        "of": row.of,
        "thin_at": row.angle,
        "even": even,
        "takes": takes,
        "left": even - takes,
        "opposite": even + takes,
        "wanted": order["least_wanted"],
        "enough": even - takes >= order["least_wanted"],
        "low_stock": stock - takes,
        "cleans_up": stock - takes > 0.0,
        "base_from": "order" if stripped is None else "measured",
    }


def _near(z: float, received: Mapping[str, Any] | None, what: str) -> float | None:
    """The diameter measured nearest to z: the least of the plated, the largest of the base."""
    known = [] if received is None else [one for one in received["places"] if one[what] is not None]
    if not known:
        return None
    away = min(abs((one["z"] or 0.0) - z) for one in known)
    here = [float(one[what]) for one in known if abs((one["z"] or 0.0) - z) <= away + 1e-9]
    return max(here) if what == "stripped" else min(here)


def _cost_said(worst: Mapping[str, Any] | None, before: Sequence[RunOutRow]) -> list[Message]:
    if worst is None:
        return [message("runout.only", full=small(one.full), at=place(one.z)) for one in before]
    thin = worst["thin_at"]
    figures = {
        "full": small(worst["full"]),
        "at": place(worst["z"]) if thin is None else message("runout.place", z=place(worst["z"]), angle=thin),
        "takes": small(worst["takes"]),
        "left": thickness(round(worst["left"], 4)),
        "opposite": thickness(round(worst["opposite"], 4)),
        "wanted": thickness(worst["wanted"]),
    }
    said = [message("runout.cost" if worst["enough"] else "runout.thin", **figures)]
    if not worst["cleans_up"]:
        said.append(message("runout.no-stock", short=small(-worst["low_stock"]), at=place(worst["z"])))
    if worst["of"] == "plated":
        said.append(message("runout.even"))
    if worst["base_from"] == "order":
        said.append(message("runout.by-order"))
    if thin is None:
        said.append(message("runout.no-angle"))
    return said


def _end_said(after: Sequence[RunOutRow]) -> list[Message]:
    if not after:
        return []
    worst = max(after, key=lambda one: one.full)
    name = "runout.true" if worst.full <= TRUE_WITHIN else "runout.moved"
    figures = {"full": small(worst.full), "at": place(worst.z), "limit": small(TRUE_WITHIN)}
    return [message(name, **figures)]
