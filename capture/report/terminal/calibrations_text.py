"""The calibrations of a job as lines for a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from capture.report.terminal.tables import table
from capture.sheet.job import Units
from capture.text.lengths import size, small

FINE = 6
"""Decimals of a certified length."""


def calibrations_text(rows: Sequence[Mapping[str, Any]], units: Units) -> str:
    """One line for each gauge and each master."""
    if not rows:
        return "no gauge is on the sheet"
    head = ["of", "size", "U (k)", "largest error", "certificate", "calibrated", "due", ""]
    return table(head, [calibration_cells(row, units) for row in rows])


def calibration_cells(row: Mapping[str, Any], units: Units) -> list[str]:
    """What, size, U and its factor, limits, certificate, calibrated, due, and how it stands."""
    what = row["gauge"] if row["of"] == "gauge" else f"master of {row['gauge']}"
    known = row["expanded"] is not None
    expanded = f"{length_of(row, 'expanded', units)} ({row['coverage']:g})" if known else "–"
    return [
        what,
        "–" if row["value"] is None else size(row["value"], units, FINE),
        expanded,
        length_of(row, "limits", units),
        row["certificate"] or "–",
        row["calibrated"] or "–",
        row["due"] or "–",
        standing(row),
    ]


def length_of(row: Mapping[str, Any], key: str, units: Units) -> str:
    """A figure of the row in the unit of what its gauge measures."""
    if row[key] is None:
        return "–"
    return f"{row[key]:g} K" if row["measures"] == "temperature" else small(row[key], units)


def standing(row: Mapping[str, Any]) -> str:
    """How a calibration stands, for a person."""
    match row["state"]:
        case "overdue":
            return f"OVERDUE by {-row['days']} days"
        case "valid":
            return f"due in {row['days']} days"
        case "no day":
            return "no due day"
        case _:
            return "no certificate"
