"""The steps beside the measuring as text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from capture.report.terminal.tables import table
from capture.sheet.job import Units
from capture.text.lengths import place, size, small, thickness

WORK_HEAD: Final = ("figure", "is", "usual", "so it is", "from")


def steps_text(found: Mapping[str, Any], units: Units) -> str:
    """What `capture.analysis.steps.job_steps.steps_of` found, as a person reads it."""
    parts = [
        "\n".join(f"Open: {one}" + ("" if one.endswith("?") else ".") for one in found["open"])
        or "Nothing is open."
    ]
    parts += [_checks(found), runout_text(found["runout"], units), work_text(found["work"], units)]
    parts.append(treatment_text(found["treatment"]))
    parts += [lap_text(found["lap"], units), "\n".join(one for row in found["tries"] for one in row["said"])]
    parts.append("\n".join(f"picture {one['file']}: {one['text']}".rstrip(": ") for one in found["pictures"]))
    parts += [f"{one['key']}: {one['text']} [{one['source']}; {one['basis']}]"
              for one in found["work"]["cautions"]]  # fmt: skip
    return "\n\n".join(part for part in parts if part)


def _checks(found: Mapping[str, Any]) -> str:
    rows = [(one["what"], one["result"], one["text"]) for one in found["checks"] if one["result"]]
    return f"Checked:\n{table(('what', 'result', ''), rows)}" if rows else ""


def runout_text(found: Mapping[str, Any], units: Units) -> str:
    """Run-out of the set-up, and what it costs in chromium."""
    if not found["rows"]:
        return ""
    rows = [
        (
            place(one["z"], units),
            one["of"],
            small(one["full"], units),
            "–" if one["angle"] is None else f"{one['angle']:.0f}°",
            "by eye" if one["by"] == "eye" else "turned under a gauge",
        )
        for one in found["rows"]
    ]
    lines = ["Run-out:", table(("at", "surface", "full movement", "highest at", "read"), rows)]
    if found["costs"]:
        costs = [
            (
                place(one["z"], units),
                size(one["even"], units),
                small(one["takes"], units),
                size(one["left"], units),
                size(one["opposite"], units),
            )
            for one in found["costs"]
        ]
        lines.append(table(("at", "chromium, per side", "taken", "left on the thin side", "opposite"), costs))
    return "\n".join([*lines, *found["said"]])


def figure_text(value: float | None, unit: str, units: Units) -> str:
    """A figure of wheel and work in the person's units; speeds stay as the handbook's metric columns.

    >>> figure_text(0.0254, "mm", "in"), figure_text(31.4159, "m/s", "mm"), figure_text(None, "1", "mm")
    ('0.001 in', '31.4 m/s', '–')
    """
    if value is None:
        return "–"
    if unit == "mm":
        return thickness(value, units)
    return f"{value:.1f}" if unit == "1" else f"{value:.1f} {unit}"


def usual_text(row: Mapping[str, Any], units: Units) -> str:
    """The usual range of a figure in words."""
    usual = row["usual"]
    if usual is None:
        return ""
    low, high = (figure_text(usual[key], row["unit"], units) for key in ("low", "high"))
    if usual["low"] is None:
        return f"up to {high}"
    return f"{low} or more" if usual["high"] is None else f"{low} to {high}"


def work_rows(found: Mapping[str, Any], units: Units) -> list[tuple[str, ...]]:
    """Each figure beside what is usual and its source, a cell for each word of `WORK_HEAD`."""
    return [
        (
            one["name"],
            figure_text(one["value"], one["unit"], units),
            usual_text(one, units),
            one["verdict"],
            "" if one["usual"] is None else f"[{one['usual']['source']}; {one['usual']['basis']}]",
        )
        for one in found["figures"]
    ]


def work_text(found: Mapping[str, Any], units: Units) -> str:
    """Wheel and work beside what is usual."""
    assumed = ", assumed: the sheet does not say how hard it is" if found["material_assumed"] else ""
    wheel, to_set = found["wheel"], found["set"]
    lines = [f"Wheel and work for {found['material']}{assumed}, {found['cut']}:"]
    lines.append(table(WORK_HEAD, work_rows(found, units)))
    lines.append(
        f"A wheel to begin with: {wheel['marking']} ({wheel['why']}; common practice, no source; marking as "
        "ISO 525). The wheel's own marking and its maker's word go first."
    )
    if wheel["marking_on_sheet"]:
        lines.append(f"The wheel on the sheet: {wheel['marking_on_sheet']}.")
    if to_set["work_rpm"] is not None:
        most = to_set["table_speed_most"]
        speed = "" if most is None else f", table at most {size(most, units, 1)} a minute"
        lines.append(f"To set: work {to_set['work_rpm']:.0f} rpm{speed}.")
    slender = found["slender"]
    if slender is not None:
        lines.append(
            f"Between centres {slender['ratio']:.1f} diameters long; 1 N in its middle bends it by "
            f"{small(slender['bends'], units, 3)} (a beam on two supports); a steady rest is usual over "
            f"{slender['limit']:g} ({slender['basis']})."
        )
    return "\n".join(lines)


def treatment_text(found: Mapping[str, Any] | None) -> str:
    """Relief and bake of the base."""
    if found is None:
        return "Heat treatment: neither hardness nor strength of the shaft is on the sheet."
    if found["bake"] is None:
        return f"Heat treatment: a base of about {found['strength']:.0f} MPa asks for none by its strength."
    lines = [f"Heat treatment of a base of about {found['strength']:.0f} MPa (floors; the plater sets them):"]
    for name, when in (("relief", "before plating"), ("bake", f"within {found['bake_within']:g} h of it")):
        one = found[name]
        lines.append(
            f"- {name} {when}: {one['hours']:g} h at least at {one['coolest']:g} to {one['hottest']:g} °C "
            f"[{one['source']}; {one['basis']}]"
        )
    return "\n".join(lines)


def lap_text(found: Mapping[str, Any] | None, units: Units) -> str:
    """The lap for what is left of the bore."""
    if found is None:
        return ""
    low, high = (small(each, units) for each in found["grain"])
    start, end = size(found["start"], units), size(found["end"], units)
    short, long = (size(each, units, 0) for each in found["length"])
    return (
        f"Lap ({found['basis']}): {found['lap']}, grain {low} to {high}; from {start} to {end}, opened by "
        f"{small(found['step'], units)} at a time at rest; {short} to {long} long. "
        f"Form: {found['form']}; {found['strokes']}."
    )
