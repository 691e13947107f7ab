"""The findings of a session as text for a terminal, in the job's own units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from capture.analysis.grind.shaft_taper import taper_of
from capture.report.shown_passes import HEAD, shown_passes
from capture.report.terminal.coach_text import coach_text
from capture.report.terminal.what_if_text import what_if_text
from capture.sheet.job import Units
from capture.state.session import State
from capture.text.lengths import size, small
from capture.text.rounded import shown

NEWEST = 40
"""Station readings that are listed; ``--json`` has all."""


def summary_text(found: dict[str, Any], state: State) -> str:
    """What `capture.analysis.summary.summary` found, as a person reads it."""
    units = state.job.units
    step = found["headline"]["step"]
    parts = [_head(found["recording"]), *_target(found["target"], units, step)]
    if found["passes"]:
        parts.append(_table(HEAD, shown_passes(found["passes"], units)))
    if found["coach"] is not None:
        parts.append(coach_text(found["coach"], units))
    if (game := found.get("beside", {}).get("played")) is not None:
        parts.append(what_if_text(game, units))
    if found["stations"]:
        rows = [_station(row, units) for row in found["stations"][-NEWEST:]]
        parts.append(_table(("part", "station", "angle", "stage", "pass", "size 20 °C", "u"), rows))
    if found["taper"]["slope"] is not None:
        parts.append(f"By the newest round alone: {taper_of(state, units)['advice']}.")
    flags = [f"{row['t']:9.1f} s  pass {row['pass']:3d}  {row['what']}{_said(row)}" for row in found["flags"]]
    parts.append("\n".join(flags))
    if any(row["assumed_20c"] for row in found["stations"]):
        parts.append("No probe measured the part at some readings: it is taken to be at 20 °C there.")
    return "\n\n".join(part for part in parts if part)


def _head(about: dict[str, Any]) -> str:
    whole = "the recording is whole" if about["whole"] else f"the recording is damaged: {about['damage']}"
    unread = "none" if about["garbled"] == 0 else about["garbled"]
    return f"{about['job']} — {about['path']}\n{about['readings']} readings, {unread} unreadable; {whole}"


def _target(target: dict[str, Any] | None, units: Units, step: float | None) -> Iterable[str]:
    if target is None:
        return
    source = {
        "measured": "as measured",
        "sheet": "by the sheet",
        "nominal": "NOT MEASURED: the nominal size is assumed",
    }[target["bore_from"]]
    aimed = "strip the shaft to" if target["of"] == "stripped" else "shaft to aim at"
    yield f"Bore {size(target['bore'], units)} ({source}); {aimed}: {size(target['aim'], units, step=step)}"
    if target["band"] is None:
        yield "No band is left after guarding: these gauges cannot prove this fit."
    else:
        rounded = shown(
            size=None, aim=target["aim"], band=tuple(target["band"]), predicted=None, step=step, units=units
        )
        if rounded.low is None:
            width = small(target["band"][1] - target["band"][0], units)
            yield f"After guarding {width} is left for the shaft: less than a step of the gauge."
        else:
            low, high = size(rounded.low, units, step=step), size(rounded.high, units, step=step)
            yield f"After guarding, {low} to {high} is left for the shaft."


def _station(row: dict[str, Any], units: Units) -> tuple[str, ...]:
    return (
        row["part"],
        size(row["z"], units, 1),
        "–" if row["angle"] is None else f"{row['angle']:g}°",
        row["stage"] or "–",
        str(row["pass"]),
        size(row["value_20c"], units, step=row["step"]) + ("?" if row["assumed_20c"] else ""),
        small(row["u"], units),
    )


def _said(row: dict[str, Any]) -> str:
    return f": {row['text']}" if row["text"] else ""


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    lines = [
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in [head, *rows]
    ]
    return "\n".join(lines)
