"""A gauge study as text for a terminal, in the job's own units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from capture.metrology.units import MM_PER_INCH
from capture.report.terminal.tables import table
from capture.sheet.job import Units
from capture.text.lengths import place, size, small

FIGURES = {
    "EV": "repeatability (equipment)",
    "AV": "reproducibility (people)",
    "GRR": "both",
    "PV": "between places",
    "TV": "total",
}


def study_text(found: Mapping[str, Any], units: Units) -> str:
    """What `capture.analysis.gauge_findings.study` found, as a person reads it."""
    parts = [str(found["job"]), *found["said"]]
    return "\n\n".join([*parts, *("\n".join(_gauge(row, units)) for row in found["gauges"])])


def _gauge(row: Mapping[str, Any], units: Units) -> Iterator[str]:
    yield f"{row['gauge']}: {row['readings']} readings taken"
    repeatability = row["repeatability"]
    if repeatability is not None:
        yield (
            f"Repeatability {small(repeatability['sd'], units)} (standard deviation, "
            f"{repeatability['dof']} degrees of freedom, {repeatability['places']} places)."
        )
    for one in row["masters"]:
        if one["bias"] is None:
            readings = f"{one['n']} reading{'' if one['n'] == 1 else 's'}"
            yield f"On {size(one['size'], units)}: {readings}."
            continue
        sure = "" if one["p"] is None else f", p = {one['p']:.3f}"
        yield (
            f"On {size(one['size'], units)}: bias {small(one['bias'], units, signed=True)} "
            f"± {small(one['u'] and 2 * one['u'], units)} from {one['n']} readings{sure}."
        )
    if row["linearity"] is not None:
        line = row["linearity"]
        sure = "" if line["p_slope"] is None else f", p = {line['p_slope']:.3f}"
        span = MM_PER_INCH if units == "in" else 10.0
        changes = small(line["slope"] * span, units, 2, signed=True)
        yield f"Linearity: bias changes by {changes} in {place(span, units)} of size{sure}."
    for run in row["drift"]:
        over = ": OVER its limit, readings in between do not stand" if run["exceeded"] else ""
        yield (
            f"Drift {small(run['drift'], units, signed=True)} from {run['start']:.0f} s to "
            f"{run['end']:.0f} s{over}."
        )
    if row["people"] is not None:
        yield _people(row["people"], units)
    if row["proof"] is not None:
        yield f"{row['gauge']}, {row['proof']['by']}: {row['proof']['said']}."
    for one in row["said"]:
        yield f"Not known: {one}."


def _people(people: Mapping[str, Any], units: Units) -> str:
    cells = [
        (FIGURES[key], small(people["variance"][key], units), small(people["range"][key], units))
        for key in FIGURES
    ]
    for key, name in (
        ("percent", "both, of total"),
        ("of_tolerance", "six times both, of the clearance's width"),
    ):
        cells.append((name, _percent(people["variance"][key]), _percent(people["range"][key])))
    head = (
        f"{people['variance']['people']} people, {people['variance']['parts']} places, "
        f"{people['variance']['trials']} trials"
    )
    return table((head, "analysis of variance", "averages and ranges"), cells)


def _percent(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f} %"
