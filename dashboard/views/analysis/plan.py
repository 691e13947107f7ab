"""The plan as a page: what the plater is asked for, what each station needs, and what is tried."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html
from msgspec import UNSET
from msgspec.structs import replace

from capture.metrology.units import from_mm, to_mm
from capture.sheet.job import Job, Plating, Units
from dashboard.text.screen import word
from dashboard.views.elements.boxes import box, bullets, grid, offered
from dashboard.views.lengths import place, size, small

ORDER = (
    "finished",
    "strip",
    "plated",
    "deposit",
    "thickness",
    "stock",
    "least_left",
    "least_wanted",
    "runout",
)
TRIED = ("least", "most", "stock", "runout", "aim")
"""What may be tried: the plating's least and most, stock and runout, and the clearance aimed at."""


def plan_body(found: Mapping[str, Any], units: Units, *, tried: bool) -> list[Any]:
    """Everything that the page shows of what `capture.analysis.steps.plating_plan.plan` found."""
    if found["bore"] is None:
        return [offered(word("fit.no-fit"), "job")]
    bore = found["bore"]
    said = word("fit.before-bore", size=size(bore["size"], units), source=word(f"fit.from-{bore['from']}"))
    return [
        html.P(word("plan.tried"), className="tried", role="status") if tried else "",
        html.P(said, className="lead"),
        html.Div(
            [
                bullets(word("plan.warnings"), found["warnings"], "bad"),
                bullets(word("plan.blocks"), found["blocks"], "bad"),
                bullets(word("plan.conditions"), found["conditions"]),
            ],
            className="said",
        ),
        _order(found, units),
        _received(found["received"], units),
        _parallel(found["parallel"], units),
        *_needs(found, units),
        _cautions(found),
    ]


def _order(found: Mapping[str, Any], units: Units) -> html.Section | str:
    order = found["order"]
    if order is None:
        return ""
    rows = [[word(f"plan.{key}"), size(order[key], units), *_limits(order, key, units)] for key in ORDER]
    if order["stripped_smallest"] is not None:
        ends = [size(order[f"stripped_{end}"], units) for end in ("smallest", "largest")]
        rows.insert(ORDER.index("strip") + 1, [word("plan.stripped"), "", *ends])
    stock = found["stock"]
    practice = word(
        "plan.practice",
        times=f"{stock['times_taper']:g}",
        taper=small(stock["taper"], units),
        spring=small(stock["spring"], units),
        margin=small(stock["margin"], units),
        due=size(stock["due_per_side"], units),
    )
    head = [word(f"plan.{one}") for one in ("what", "size", "least", "most")]
    table = grid(word("plan.order"), head, rows, numbers=1)
    return box(word("plan.order"), table, html.P(practice))


def _limits(order: Mapping[str, Any], key: str, units: Units) -> list[str]:
    if f"{key}_least" not in order:
        return ["", ""]
    return [size(order[f"{key}_least"], units), size(order[f"{key}_most"], units)]


def _received(row: Mapping[str, Any] | None, units: Units) -> html.Section | str:
    """What came back from the plater, place by place."""
    if row is None:
        return ""
    keys = ("stripped", "plated", "thickness", "stock", "left")
    rows = [
        [
            word("unknown") if each["z"] is None else f"{place(each['z'], units)}, {each['angle'] or 0:g}°",
            *(size(each[key], units) for key in keys),
        ]
        for each in row["places"]
    ]
    head = [word("plan.at"), *(word(f"received.{key}") for key in keys)]
    title = word("received.title")
    state = {"yes": "good", "no": "bad"}.get(row["reachable"], "open")
    answer = html.P(word(f"received.is-{row['reachable']}"), className=f"lead {state}", role="status")
    said = html.Ul([html.Li(one) for one in row["said"]])
    return box(title, answer, said, grid(title, head, rows, numbers=1))


def _parallel(row: Mapping[str, float] | None, units: Units) -> html.Section:
    if row is None:
        return box(word("plan.parallel"), html.P(word("plan.parallel-none")))
    said = word(
        "plan.parallel-is",
        aim=size(row["aim"], units),
        least=size(row["least"], units),
        most=size(row["most"], units),
        tightest=small(row["tightest"], units),
        loosest=small(row["loosest"], units),
    )
    return box(word("plan.parallel"), html.P(said))


def _needs(found: Mapping[str, Any], units: Units) -> list[html.Section]:
    head = [word(f"plan.{one}") for one in ("at", "bore", "aim", "least", "most")]
    boxes = []
    for part in ("bore", "shaft"):
        rows = [
            [_at(row["z"], units), *(size(row[key], units) for key in ("bore", "aim", "least", "most"))]
            for row in found[f"{part}_stations"]
        ]
        if rows:
            title = word(f"plan.needs-{part}")
            boxes.append(box(title, grid(title, head, rows, numbers=1)))
    follow = [
        [_at(row["z"], units), *(size(row[key], units) for key in ("strip", "plated", "finished"))]
        for row in found["stations"]
    ]
    if follow:
        title = word("plan.follow")
        names = [word(f"plan.{one}") for one in ("at", "strip", "plated", "finished")]
        boxes.append(box(title, grid(title, names, follow, numbers=1)))
    return boxes


def _at(z: float | None, units: Units) -> str:
    return word("unknown") if z is None else place(z, units)


def _cautions(found: Mapping[str, Any]) -> html.Section | str:
    if not found["cautions"]:
        return ""
    lines = [
        html.Li(word("plan.caution", what=one["key"], text=one["text"], source=one["source"]))
        for one in found["cautions"]
    ]
    return box(word("plan.cautions"), html.Ul(lines))


def on_sheet(job: Job, units: Units) -> dict[str, str]:
    """What the sheet has of what may be tried, as a person would type it."""
    plated = None if job.shaft is None else job.shaft.plating
    known = {} if plated is None else {key: getattr(plated, key) for key in TRIED if key != "aim"}
    if job.fit is not None:
        known["aim"] = job.fit.clearance.aim
    return {key: f"{from_mm(value, units):.6f}".rstrip("0").rstrip(".") for key, value in known.items()}


def tried(job: Job, typed: Mapping[str, str], units: Units) -> tuple[Job, dict[str, str]]:
    """*job* with what was typed, and what is wrong with each field; an empty field is as on the sheet.

    With a fault the job comes back as it was.
    """
    values, faults = _numbers(typed, units)
    plated = None if job.shaft is None else job.shaft.plating
    whole: dict[str, float] = {} if plated is None else {key: getattr(plated, key) for key in TRIED[:-1]}
    whole |= {key: value for key, value in values.items() if key != "aim"}
    faults |= _together(job, whole, values, units)
    if faults or job.fit is None or job.shaft is None:
        return job, faults
    aim = values.get("aim", job.fit.clearance.aim)
    fit = replace(job.fit, clearance=replace(job.fit.clearance, aim=aim))
    asked = Plating(**whole) if {"least", "most", "stock"} <= whole.keys() else UNSET
    shaft = job.shaft if asked is UNSET else replace(job.shaft, plating=asked)
    return replace(job, fit=fit, shaft=shaft), {}


def _numbers(typed: Mapping[str, str], units: Units) -> tuple[dict[str, float], dict[str, str]]:
    values, faults = {}, {}
    for key in TRIED:
        text = typed.get(key, "").strip()
        if not text:
            continue
        try:
            value = to_mm(float(text.replace(",", ".")), units)
        except ValueError:
            value = -1.0
        if 0 <= value < 1000:
            values[key] = value
        else:
            faults[key] = word("plan.bad-number", came=text)
    return values, faults


def _together(
    job: Job, whole: Mapping[str, float], values: Mapping[str, float], units: Units
) -> dict[str, str]:
    """Faults that no single field shows."""
    faults = {}
    if "most" in whole and whole.get("least", 0.0) > whole["most"]:
        faults["least"] = word("plan.bad-order", most=size(whole["most"], units))
    if job.fit is not None and "aim" in values:
        low, high = job.fit.clearance.least, job.fit.clearance.most
        if not low - 1e-9 <= values["aim"] <= high + 1e-9:
            faults["aim"] = word("plan.bad-aim", least=size(low, units), most=size(high, units))
    return faults


def fields() -> Sequence[str]:
    """The fields of what may be tried, in order."""
    return TRIED
