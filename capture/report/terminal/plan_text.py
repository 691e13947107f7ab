"""The plan as text: a table that a person can take to the plater."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from capture.report.terminal.tables import table
from capture.sheet.job import Units
from capture.text.lengths import size, small

SOURCES = {
    "measured": "as measured",
    "sheet": "by the sheet",
    "nominal": "NOT MEASURED: the nominal size is assumed",
}


def plan_text(found: Mapping[str, Any], units: Units) -> str:
    """What `capture.analysis.steps.plating_plan.plan` found, as a person reads it."""
    parts = [str(found["job"]), *(f"Warning: {one}." for one in found["warnings"])]
    parts += [f"Not proven: {one}." for one in found["blocks"]]
    if found["bore"] is not None:
        bore = found["bore"]
        parts.append(f"Bore {size(bore['size'], units)} at its smallest ({SOURCES[bore['from']]}).")
    parts += [_needs("bore", found["bore_stations"], units), _needs("shaft", found["shaft_stations"], units)]
    parts += [_parallel(found["parallel"], units), order_text(found["order"], units), _stations(found, units)]
    parts.append(received_text(found["received"], units))
    parts += ["\n".join(f"Condition: {one}." for one in found["conditions"]), _stock(found["stock"], units)]
    parts.append("\n".join(f"{one['key']}: {one['text']} [{one['source']}; {one['basis']}]"
                           for one in found["cautions"]))  # fmt: skip
    return "\n\n".join(part for part in parts if part)


def _needs(part: str, rows: list[dict[str, Any]], units: Units) -> str:
    if not rows:
        return ""
    cells = [
        (
            size(row["z"], units, 1),
            size(row["bore"], units),
            size(row["aim"], units),
            size(row["least"], units),
            size(row["most"], units),
        )
        for row in rows
    ]
    what = "of the bore needs" if part == "bore" else "of the shaft needs over the travel"
    head = (f"{part} at", "bore", "shaft to aim at", "least", "most")
    return f"Finished diameter that each station {what}, at 20 °C:\n{table(head, cells)}"


def _parallel(row: Mapping[str, float] | None, units: Units) -> str:
    if row is None:
        return ""
    return (
        f"One diameter for a parallel shaft: {size(row['aim'], units)} ({size(row['least'], units)} to "
        f"{size(row['most'], units)}); clearance then {small(row['tightest'], units)} to "
        f"{small(row['loosest'], units)}."
    )


def order_text(row: Mapping[str, float] | None, units: Units) -> str:
    """The order to the plater."""
    if row is None:
        return ""
    cells = [
        ("finished, after grinding", size(row["finished"], units)),
        ("strip to", _within(row, "strip", units)),
        *_stripped(row, units),
        ("plate to", _within(row, "plated", units)),
        ("chromium to deposit, per side", size(row["deposit"], units)),
        ("left after grinding, per side", size(row["thickness"], units)),
        ("to grind off, per side", size(row["stock"], units)),
        ("least left where runout is worst, per side", size(row["least_left"], units)),
        ("least wanted, per side", size(row["least_wanted"], units)),
        ("runout allowed for", size(row["runout"], units)),
    ]
    return "For the plater (diameters at 20 °C):\n" + table(("what", "how much"), cells)


def _stripped(row: Mapping[str, Any], units: Units) -> list[tuple[str, str]]:
    if row["stripped_smallest"] is None:
        return []
    low, high = size(row["stripped_smallest"], units), size(row["stripped_largest"], units)
    return [("stripped, as measured", f"{low} to {high}")]


def _within(row: Mapping[str, float | None], key: str, units: Units) -> str:
    low, high = size(row[f"{key}_least"], units), size(row[f"{key}_most"], units)
    return f"{size(row[key], units)}  ({low} to {high})"


ANSWERS = {
    "yes": "The finish can still be reached.",
    "no": "The finish CANNOT be reached as it is.",
    "not sure": "It is not sure that the finish can be reached.",
}


def received_text(row: Mapping[str, Any] | None, units: Units) -> str:
    """What came back from the plater, against the order."""
    if row is None:
        return ""
    cells = [
        (
            "–" if each["z"] is None else f"{size(each['z'], units, 1)} {each['angle'] or 0:g}°",
            size(each["stripped"], units),
            size(each["plated"], units),
            size(each["thickness"], units),
            size(each["stock"], units),
            size(each["left"], units),
        )
        for each in row["places"]
    ]
    head = ("shaft at", "stripped", "plated", "chromium", "to grind", "then left")
    said = "\n".join(f"- {one}" for one in row["said"])
    return f"What came back. {ANSWERS[row['reachable']]}\n{said}\nPer side, runout off:\n{table(head, cells)}"


def _stations(found: Mapping[str, Any], units: Units) -> str:
    if not found["stations"]:
        return ""
    cells = [
        (
            size(row["z"], units, 1),
            size(row["strip"], units),
            size(row["plated"], units),
            size(row["finished"], units),
        )
        for row in found["stations"]
    ]
    head = ("shaft at", "strip to", "plate to", "finished")
    return "Where the shaft is to follow the bore instead:\n" + table(head, cells)


def _stock(row: Mapping[str, float], units: Units) -> str:
    return (
        f"Stock to grind: {row['times_taper']:g} × a taper of {small(row['taper'], units)}, spring "
        f"{small(row['spring'], units)}, margin {small(row['margin'], units)} make "
        f"{size(row['due_per_side'], units)} per side (common practice, no source; settings plan.…)."
    )
