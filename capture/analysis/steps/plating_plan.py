"""Plating and grinding sizes for the bore as measured, in millimetres: what ``plan --json`` prints.

Keys: ``bore`` (its ``profile`` or null, ``size`` of its smallest place, ``from``), ``bore_stations`` and
``shaft_stations`` (each place with the finished diameter that it needs: ``aim``, ``least``, ``most``),
``parallel`` (one diameter for the whole shaft: ``aim``, ``least``, ``most``, and the clearances
``tightest`` and ``loosest`` that it gives; null where none fits everywhere), ``order`` (``finished``,
``strip`` with its limits, ``plated`` with its limits, and per side ``thickness``, ``stock``, ``deposit``,
``least_left`` after runout; by the shaft as stripped, once it is measured: ``stripped_smallest`` and
``stripped_largest``), ``received`` (the plated part against the order, or null),
``stations`` (strip, plated and finished diameter of a shaft that follows the bore station by station),
``stock`` (what the shop's practice asks for), ``warnings``, ``cautions``, ``settings`` (with source and
basis), ``conditions`` and ``blocks``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import structs, to_builtins

from capture.analysis.fit.at_temperatures import size_at
from capture.analysis.fit.clearances import side_of
from capture.analysis.fit.feasibility import feasibility
from capture.analysis.fit.measured_part import Measured, part_row
from capture.analysis.steps.received_part import received
from capture.analysis.steps.stripped_part import StrippedShaft, not_as_ordered, stripped_shaft
from capture.metrology.fit.clearance import StationSize
from capture.metrology.message import NotPossible, Sentence, message, thickness
from capture.metrology.plating import deposit as plating
from capture.sheet.job import Engagement, Fit, Job, Plating, Units, Workpiece
from capture.state.session import State
from capture.state.strip_target import StripSize, strip_size
from capture.text.catalogue import sentence, sentences

PARALLEL_TOO_MUCH = (
    "no one diameter fits everywhere: the bore changes by more than the clearance may; lap it straight, or "
    "grind the shaft to follow it"
)


def plan(
    job: Job, bore: Measured | None, shaft: Sequence[State] = (), *, units: Units = "mm"
) -> dict[str, Any]:
    """The plan; without a measured bore by the sheet's, or by the nominal size, which is an assumption.

    Args:
        job: The sheet.
        bore: As measured.
        shaft: Of recordings in which the shaft may have been measured stripped and plated.
        units: Of its sentences; its figures are in millimetres.
    """
    found: dict[str, Any] = {
        "job": job.name,
        "bore": None,
        "bore_stations": [],
        "shaft_stations": [],
        "parallel": None,
        "order": None,
        "received": None,
        "stations": [],
        "stock": stock_due(job),
        "warnings": [],
        "cautions": [],
        "settings": settings_of(plating.ChromeLimits()),
        "conditions": [],
        "blocks": [],
    }
    if job.fit is None:
        return found | {"blocks": ["the sheet has no fit: write down what the clearance must be"]}
    sizes, about, conditions = _bore(job.fit, bore)
    engaged = _engaged(sizes, job.fit.engagement)
    parallel = _parallel(job.fit, engaged)
    found |= {
        "bore": about,
        "bore_stations": [{"z": each.z if bore else None, **needed(job.fit, each.value)} for each in sizes],
        "shaft_stations": _along_shaft(job.fit, job.shaft, sizes) if bore else [],
        "parallel": parallel,
        "conditions": sentences(conditions, units),
        "blocks": [] if bore is None else sentences(bore.blocks, units),
        "warnings": [*([PARALLEL_TOO_MUCH] if parallel is None else []), *_cannot(job, bore, units)],
    }
    found |= _plated(job, found, stripped_shaft(shaft, job), units)
    return found | {"received": received(shaft, job, found, units)}


def _cannot(job: Job, bore: Measured | None, units: Units) -> list[str]:
    """What the gauges of the sheet cannot prove of the fit, however well it is ground."""
    before = feasibility(job, bore, units=units)
    return [] if before is None else before["cannot"]


def needed(fit: Fit, bore: float) -> dict[str, float]:
    """The finished shaft diameter that a bore of that size needs, mm."""
    clearance = fit.clearance
    return {
        "bore": bore,
        "aim": bore - clearance.aim,
        "least": bore - clearance.most,
        "most": bore - clearance.least,
    }


def _bore(fit: Fit, bore: Measured | None) -> tuple[tuple[StationSize, ...], dict[str, Any], list[Sentence]]:
    """The bore's least diameter at each station, what is said of it, and its conditions."""
    if bore is not None:
        side = side_of(bore)
        smallest = min(side.tight, key=lambda each: each.value)
        about = {"profile": part_row(bore), "size": smallest.value, "from": "measured"}
        return side.tight, about, list(side.conditions)
    size = fit.bore if fit.bore is not None else fit.nominal
    source = "sheet" if fit.bore is not None else "nominal"
    remarks = {
        "sheet": "the bore is the one size that the sheet has, taken as parallel",
        "nominal": "ASSUMED: the bore was not measured; the nominal size stands in for it, and no shaft is "
        "to be ground by it",
    }[source]
    return (StationSize(0.0, size, 0.0),), {"profile": None, "size": size, "from": source}, [remarks]


def _engaged(sizes: Sequence[StationSize], where: Engagement | None) -> list[StationSize]:
    """The stations that a shaft stands in, and the bore at the end of the engagement."""
    if where is None or len(sizes) < 2:
        return list(sizes)
    inside = [each for each in sizes if 0 <= each.z <= where.length]
    ends = [z for z in (0.0, where.length) if sizes[0].z < z < sizes[-1].z]
    return inside + [StationSize(z, size_at(sizes, z), 0.0) for z in ends] or list(sizes)


def _parallel(fit: Fit, sizes: Sequence[StationSize]) -> dict[str, float] | None:
    """One diameter for the whole shaft: from the smallest place, as far as the largest allows it."""
    low, high = min(each.value for each in sizes), max(each.value for each in sizes)
    least, most = high - fit.clearance.most, low - fit.clearance.least
    if least > most:
        return None
    aim = min(max(low - fit.clearance.aim, least), most)
    return {"aim": aim, "least": least, "most": most, "tightest": low - aim, "loosest": high - aim}


def _along_shaft(fit: Fit, shaft: Workpiece | None, sizes: Sequence[StationSize]) -> list[dict[str, Any]]:
    """What each station of the shaft needs by the bore that it meets over the travel."""
    if shaft is None or fit.engagement is None:
        return []
    rows: list[dict[str, Any]] = []
    for z in shaft.stations:
        met = _met(fit.engagement, sizes, z)
        row: dict[str, Any] = {"z": z, "bore": None, "aim": None, "least": None, "most": None}
        if met:
            row |= needed(fit, min(met))
            row["least"] = max(met) - fit.clearance.most
        rows.append(row)
    return rows


def _met(where: Engagement, sizes: Sequence[StationSize], z: float) -> list[float]:
    """The bore's diameters that a place of the shaft meets over the travel: at stations and at the ends."""
    low, high = sorted((z - where.start, z - where.stop))
    low, high = max(low, 0.0, sizes[0].z), min(high, where.length, sizes[-1].z)
    if low > high:
        return []
    inside = [each.value for each in sizes if low <= each.z <= high]
    return [*inside, size_at(sizes, low), size_at(sizes, high)]


def stock_due(job: Job) -> dict[str, float]:
    """Stock per side that the shop's practice asks for, and what it is made of, mm."""
    practice = job.settings.plan
    due = plating.stock_per_side(
        taper=practice.taper,
        spring=practice.spring,
        margin=practice.margin,
        times_taper=practice.times_taper,
    )
    return {"due_per_side": due, **to_builtins(practice)}


def _plated(job: Job, found: dict[str, Any], stripped: StrippedShaft | None, units: Units) -> dict[str, Any]:
    wanted = None if job.shaft is None else job.shaft.plating
    if job.shaft is None or wanted is None:
        return {
            "warnings": [
                *found["warnings"],
                "the sheet has no plating: nothing to order from the plater",
            ]
        }
    finished = found["parallel"]["aim"] if found["parallel"] else found["bore"]["size"] - _aim(job)
    try:
        thickness = plating.thickness_between(wanted.least, wanted.most, wanted.runout)
        order = _ordered(job.shaft, wanted, finished, thickness)
    except NotPossible as error:
        return {"warnings": [*found["warnings"], sentence(message("plan.no-order", why=error.said), units)]}
    ordered = _order_row(job, wanted, found, order)
    limits = _strip_limits(job, found, finished)
    said, cautions = _stock(job, wanted.stock, wanted.runout), order.cautions
    if stripped is not None:
        ordered |= _by_stripped(stripped, order, wanted.runout)
        said += [] if limits is None else not_as_ordered(stripped, limits, wanted, finished)
        if ordered["thickness"] > 0.0:
            cautions = _ordered(job.shaft, wanted, finished, ordered["thickness"]).cautions
    return {
        "order": ordered,
        "stations": _following(found["shaft_stations"], thickness, wanted.stock),
        "warnings": [*found["warnings"], *sentences(said, units)],
        "cautions": [{**structs.asdict(each), "text": sentence(each.text, units)} for each in cautions],
    }


def _ordered(shaft: Workpiece, wanted: Plating, finished: float, thickness: float) -> plating.Order:
    """Diameters and cautions where *thickness* of chromium per side stays on the finished shaft, mm."""
    return plating.order(
        finished,
        thickness=thickness,
        stock=wanted.stock,
        runout=wanted.runout,
        least_wanted=wanted.least,
        hardness=shaft.hardness,
        strength=shaft.strength,
    )


def _following(places: Sequence[Mapping[str, Any]], thickness: float, stock: float) -> list[dict[str, float]]:
    """Diameters of a shaft that follows its bore place by place, mm; the thicknesses are per side."""
    return [
        {
            "z": each["z"],
            "strip": each["aim"] - 2 * thickness,
            "plated": each["aim"] + 2 * stock,
            "finished": each["aim"],
        }
        for each in places
        if each["aim"] is not None
    ]


def _order_row(job: Job, wanted: Plating, found: Mapping[str, Any], order: plating.Order) -> dict[str, Any]:
    """What the plater gets in writing, mm on diameter, thicknesses per side."""
    finished = order.finished
    strip = _strip_limits(job, found, finished)
    return {
        "finished": order.finished,
        "strip": order.strip,
        "strip_least": None if strip is None else strip.least,
        "strip_most": None if strip is None else strip.most,
        "plated": order.plated,
        "plated_least": finished
        + 2.0 * min(wanted.stock, max(wanted.runout, stock_due(job)["due_per_side"])),
        "plated_most": finished + 2.0 * max(wanted.stock, plating.ChromeLimits().stock_most.value),
        "thickness": order.thickness,
        "stock": order.stock,
        "deposit": order.deposit,
        "stripped_smallest": None,
        "stripped_largest": None,
        "runout": wanted.runout,
        "least_left": order.least,
        "least_wanted": wanted.least,
    }


def _by_stripped(stripped: StrippedShaft, order: plating.Order, runout: float) -> dict[str, float]:
    """What follows from the shaft as it was measured before plating, in place of the strip diameter."""
    smallest, largest = stripped.smallest.value, stripped.largest.value
    return {
        "deposit": plating.thickness_from(order.plated, smallest),
        "thickness": plating.thickness_from(order.finished, smallest),
        "least_left": plating.thickness_from(order.finished, largest) - runout / 2.0,
        "stripped_smallest": smallest,
        "stripped_largest": largest,
    }


def _strip_limits(job: Job, found: Mapping[str, Any], finished: float) -> StripSize | None:
    """The strip diameter with its limits, by the finished one and what that may be."""
    if job.fit is None or job.shaft is None or job.shaft.plating is None:
        return None
    row = found["parallel"] or needed(job.fit, found["bore"]["size"])
    return strip_size(job.shaft.plating, (finished, row["least"], row["most"]), "simple", 0.0)


def _aim(job: Job) -> float:
    return job.fit.clearance.aim if job.fit is not None else 0.0


def _stock(job: Job, stock: float, runout: float) -> list[Sentence]:
    remarks: list[Sentence] = []
    due = stock_due(job)["due_per_side"]
    if stock < due:
        remarks.append(message("plan.stock", stock=thickness(stock), due=thickness(due)))
    limit = plating.ChromeLimits().base_runout
    if runout > limit.value:
        remarks.append(
            message(
                "plan.runout",
                runout=thickness(runout),
                limit=thickness(limit.value),
                source=limit.source,
                basis=limit.basis,
            )
        )
    return remarks


def settings_of(limits: plating.ChromeLimits) -> list[dict[str, Any]]:
    """Every limit of the plan with its source, for a person to disagree with."""
    return [
        {"name": name, **to_builtins(getattr(limits, name))}
        for name in plating.ChromeLimits.__struct_fields__
    ]
