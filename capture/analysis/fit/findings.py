"""The fit of two measured parts as plain data, lengths in millimetres: what ``fit --json`` prints.

The keys, a contract with other programs (within a major version new ones may come, none changes
meaning or goes); what is not known is null:

* ``clearance``: ``least`` and ``most`` over the whole travel at 20 °C on diameter, ``u_least`` and
  ``u_most`` (standard), ``least_at`` and ``most_at`` ({``bore``, ``shaft``, ``offset``}), ``allowed_for``
  (taken off the least for what two-point gauges do not see), ``step`` (the coarser of both gauges', under
  which nothing is shown; ``bore`` and ``shaft`` have theirs), ``stations`` (each station of the bore: its
  size, least and most with the shaft's place) and ``positions`` (each offset of the shaft: least, most,
  and every place worked out).
* ``decision``: ``rule``, ``limits``, ``answer`` (``conforms``, ``does not conform``, ``not proven``: the
  worse of what the law and the simulation say), ``whole`` (every place is measured and the part finished),
  ``by_figures`` (what the figures alone would say if all conditions held), ``probability`` of conformance
  at the worse of the tightest and the loosest place, ``band`` left after guarding, ``why``.
* ``blocks``: what keeps the fit from being proven; ``conditions``: under which the figures hold.
* ``uncertainty``: of the least clearance, u, k, U, coverage; ``budget``: its lines; ``simulation``: the
  Monte Carlo of the same beside it, with ``agree`` and the differences.
* ``temperatures``: the least clearance at 20 °C, in the shop, and at temperatures asked for.
* ``closes_at``: kelvins by which the shaft alone must be warmer for the least clearance to be gone.
* ``bore``, ``shaft``: their profiles; ``blind``: what two-point gauges cannot see and how much of it would
  break the fit; ``orientation``: standard fits beside this one, never used to judge it.
* ``feasibility``: what could be said before grinding (see `capture.analysis.fit.feasibility`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot
from typing import Any

from msgspec import Struct, to_builtins
from msgspec.structs import replace

from capture.analysis.fit.at_temperatures import closes_at, temperatures
from capture.analysis.fit.clearances import Map, Side, clearances, side_of, side_of_sheet
from capture.analysis.fit.feasibility import feasibility
from capture.analysis.fit.measured_part import Measured, part_row
from capture.analysis.fit.odd_lobes import FormTaken, form_taken
from capture.analysis.fit.orientation import orientation
from capture.analysis.fit.systematic_errors import SharedError, joined
from capture.metrology.fit.clearance import PlaceClearance, TravelEngagement, ordered, weights
from capture.metrology.fit.decision import SpecificationLimits, acceptance, decide
from capture.metrology.fit.tightest import simulate_smallest
from capture.metrology.form.lobes import effective_clearance
from capture.metrology.message import Message, NotPossible, Sentence, message, small
from capture.metrology.uncertainty.budget import Budget, Contribution, expand, rows
from capture.sheet.job import Fit, Job, Units
from capture.state.stations import Warmth
from capture.text.catalogue import sentence, sentences

TRIALS = 20_000
SEED = 55
"""Every draw of the simulation comes from it, so that the same recordings give the same answer."""

READINGS = "gauge: repeatability and resolution"

PLACES = {
    "tightest": "at the tightest place",
    "loosest": "at the loosest place",
    "simulated": "where it is tightest by the simulation",
}
"""Where the clearance is judged, as it is said."""

WORST = ("does not conform", "not proven", "conforms")


class FitQuestion(Struct, frozen=True):
    """What else is asked about a fit."""

    working: tuple[Mapping[str, float], ...] = ()
    """Working temperatures of bore and shaft, °C."""
    shop: Mapping[str, Warmth] = {}
    """The newest temperatures, by place of heat."""
    one_master: bool = False
    """Both gauges were set on the same master."""


def fit(
    job: Job,
    bore: Measured | None,
    shaft: Measured | None,
    asked: FitQuestion | None = None,
    *,
    units: Units = "mm",
) -> dict[str, Any]:
    """The fit of *bore* and *shaft* by *job*; with a part missing, what can be said before grinding.

    Figures are in millimetres whatever *units* its sentences are said in.
    """
    asked = asked or FitQuestion()
    found: dict[str, Any] = {
        "job": job.name,
        "nominal": None if job.fit is None else job.fit.nominal,
        "bore": None if bore is None else part_row(bore),
        "shaft": None if shaft is None else part_row(shaft),
        "clearance": None,
        "decision": None,
        "uncertainty": None,
        "budget": [],
        "simulation": None,
        "temperatures": [],
        "blind": None,
        "closes_at": None,
        "orientation": [] if job.fit is None else orientation(job.fit.nominal, None),
        "conditions": [],
        "blocks": [],
        "before": feasibility(job, bore, units=units),
    }
    if job.fit is None:
        return found | {"blocks": ["the sheet has no fit: write down what the clearance must be"]}
    hole = side_of(bore) if bore is not None else side_of_sheet(job)
    if hole is None or shaft is None:
        return found | {"blocks": _missing(hole is not None, shaft is not None)}
    pin = side_of(shaft)
    errors = joined(hole.commons, pin.commons, one_master=asked.one_master)
    try:
        everywhere = clearances(hole, pin, job, [each.shared for each in errors])
    except ValueError as error:
        why = error.said if isinstance(error, NotPossible) else str(error)
        return found | {"blocks": [sentence(message("fit.none", why=why), units)]}
    return found | _worked_out(job, job.fit, hole, pin, errors, everywhere, asked, units)


def _missing(has_bore: bool, has_shaft: bool) -> list[str]:
    remarks = []
    if not has_bore:
        remarks.append("bore: not measured, and the sheet has no fit.bore; its size is not known")
    if not has_shaft:
        remarks.append("shaft: not measured; there is no clearance without it")
    return remarks


def _worked_out(
    job: Job,
    wanted: Fit,
    bore: Side,
    shaft: Side,
    errors: tuple[SharedError, ...],
    found: Map,
    asked: FitQuestion,
    units: Units,
) -> dict[str, Any]:
    form = form_taken(job.settings.form, bore.odd, shaft.odd)
    least = effective_clearance(
        found.smallest.value, odd_shaft=form.odd_shaft, odd_bore=form.odd_bore, bow=form.bow
    )
    found = replace(found, smallest=replace(found.smallest, u=hypot(found.smallest.u, form.u)))
    remarks = [*bore.blocks, *shaft.blocks, *found.blocks, *_still_on(wanted, least, shaft)]
    blocks = sentences(_each(remarks), units)
    conditions = sentences(_each([*bore.conditions, *shaft.conditions, *found.conditions]), units)
    budget = budget_of(least, found.smallest, bore, shaft, errors, form.contributions)
    simulation = _simulation(wanted, bore, shaft, errors, found)
    heat = temperatures(job, bore, shaft, found.smallest, least, asked.shop, asked.working)
    return {
        "clearance": _clearance(found, bore, shaft, least),
        "decision": {
            **_decision(wanted, least, found, simulation, blocks, form.u),
            "whole": bore.whole and shaft.whole and not _still_on(wanted, least, shaft),
        },
        "uncertainty": to_builtins(expand(budget)),
        "budget": to_builtins(rows(budget)),
        "simulation": simulation,
        "temperatures": heat,
        "blind": _blind(form, wanted, least),
        "orientation": orientation(wanted.nominal, (least, found.largest.value)),
        "conditions": conditions,
        "blocks": blocks + _interferes(least, shaft),
        "closes_at": closes_at(job, found.smallest, shaft, least),
    }


def _each(remarks: Sequence[Sentence]) -> list[Sentence]:
    """Each remark once."""
    return list(dict.fromkeys(remarks))


def _still_on(wanted: Fit, least: float, shaft: Side) -> list[Message]:
    """A shaft that is being ground and is too large is not finished: it is not said to be wrong."""
    over = wanted.clearance.least - least
    return [message("fit.unfinished", over=small(over))] if shaft.ground and over > 0 else []


def _interferes(least: float, shaft: Side) -> list[str]:
    if least >= 0 or shaft.ground:
        return []
    return ["the bore is smaller than the shaft: they do not go together by hand, and must not be forced"]


def _decision(
    wanted: Fit,
    least: float,
    found: Map,
    simulation: Mapping[str, Any] | None,
    blocks: Sequence[str],
    u_form: float,
) -> dict[str, Any]:
    limits = SpecificationLimits(wanted.clearance.least, wanted.clearance.most)
    judged = {
        "tightest": decide(wanted.rule, least, found.smallest.u, limits),
        "loosest": decide(wanted.rule, found.largest.value, found.largest.u, limits),
    }
    if simulation is not None:
        drawn = least + simulation["least"] - found.smallest.value
        judged["simulated"] = decide(wanted.rule, drawn, hypot(simulation["u"], u_form), limits)
    place = min(judged, key=lambda name: (WORST.index(judged[name].answer), judged[name].probability))
    worse = judged[place]
    band = acceptance(wanted.rule, max(each.u for each in judged.values()), limits)
    return {
        "rule": wanted.rule,
        "limits": [limits.least, limits.most],
        "answer": "not proven" if blocks else worse.answer,
        "by_figures": worse.answer,
        "probability": min(each.probability for each in judged.values()),
        "band": [band.least, band.most] if band.left else None,
        "why": blocks[0]
        if blocks
        else worse.said
        if worse.answer == "conforms"
        else f"{PLACES[place]}: {worse.said}",
    }


def _clearance(found: Map, bore: Side, shaft: Side, least: float) -> dict[str, Any]:
    return {
        "least": least,
        "u_least": found.smallest.u,
        "least_at": _at(found.smallest, bore, shaft, found),
        "most": found.largest.value,
        "u_most": found.largest.u,
        "most_at": _at(found.largest, bore, shaft, found),
        "allowed_for": found.smallest.value - least,
        "step": max(bore.step or 0.0, shaft.step or 0.0) or None,
        "stations": _stations(found, bore, shaft),
        "positions": [
            {
                "offset": each.offset,
                "least": each.smallest.value,
                "most": each.largest.value,
                "places": [
                    {"bore": one.z_bore, "shaft": one.z_shaft, "value": one.value, "u": one.u}
                    for one in each.places
                ],
            }
            for each in found.positions
        ],
    }


def _at(place: PlaceClearance, bore: Side, shaft: Side, found: Map) -> dict[str, float | None]:
    return {
        "bore": place.z_bore if bore.placed else None,
        "shaft": place.z_shaft if shaft.placed else None,
        "offset": place.offset if found.positions else None,
    }


def _stations(found: Map, bore: Side, shaft: Side) -> list[dict[str, Any]]:
    listed = []
    for size in bore.mean:
        here = [each for each in found.pairs if each.z_bore == size.z]
        if not here:
            continue
        tight, loose = min(here, key=_value), max(here, key=_value)
        listed.append(
            {
                "bore": size.z if bore.placed else None,
                "size": size.value,
                "least": tight.value,
                "u": tight.u,
                "shaft_at_least": tight.z_shaft if shaft.placed else None,
                "most": loose.value,
                "shaft_at_most": loose.z_shaft if shaft.placed else None,
            }
        )
    return listed


def _value(each: PlaceClearance) -> float:
    return each.value


def budget_of(
    least: float,
    place: PlaceClearance,
    bore: Side,
    shaft: Side,
    errors: Sequence[SharedError],
    form: Sequence[Contribution] = (),
) -> Budget:
    """All that is not known of the least clearance, a contribution a line."""
    lines = [
        Contribution("bore: its readings there", 0.0, _own(bore, place.z_bore), source=READINGS),
        Contribution(
            "shaft: its readings there", 0.0, _own(shaft, place.z_shaft), sensitivity=-1.0, source=READINGS
        ),
    ]
    lines += [
        Contribution(
            each.shared.name,
            0.0,
            each.shared.spread,
            each.shared.distribution,
            sensitivity=each.shared.on_bore - each.shared.on_shaft,
            unit=each.unit,
            source=each.source + (", in both parts" if each.shared.on_bore and each.shared.on_shaft else ""),
        )
        for each in errors
    ]
    return Budget("least clearance", least, (*lines, *form))


def _own(side: Side, z: float) -> float:
    """Uncertainty of a part's own readings at z, between stations of both neighbours'."""
    sizes = ordered(side.tight, "part")
    return hypot(*(weight * sizes[i].u for i, weight in weights(sizes, z)))


def _simulation(
    wanted: Fit, bore: Side, shaft: Side, errors: Sequence[SharedError], found: Map
) -> dict[str, Any] | None:
    where = wanted.engagement
    if not found.positions or where is None:
        return None
    engagement = TravelEngagement(where.length, where.start, where.stop)
    shared = [each.shared for each in errors]
    both = simulate_smallest(bore.tight, shaft.tight, engagement, trials=TRIALS, seed=SEED, shared=shared)
    return {
        "least": both.simulated.value,
        "u": both.simulated.u,
        "low": both.simulated.low,
        "high": both.simulated.high,
        "law_least": both.stated.value,
        "law_u": both.stated.u,
        "coverage": both.simulated.coverage,
        "trials": both.simulated.trials,
        "agree": both.comparison.agree,
        "said": both.comparison.said,
    }


def _blind(form: FormTaken, wanted: Fit, least: float) -> dict[str, Any]:
    margin = least - wanted.clearance.least
    return {
        "odd_bore": form.odd_bore,
        "odd_shaft": form.odd_shaft,
        "bow": form.bow,
        "odd_bore_from": "measured" if form.measured_bore else "setting",
        "odd_shaft_from": "measured" if form.measured_shaft else "setting",
        "margin": margin,
        "odd_amplitude_that_breaks": max(margin, 0.0) / 2,
        "bow_that_breaks": max(margin, 0.0),
    }
