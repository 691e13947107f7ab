"""The page Certificates: every calibration of the folder's sheets, and a certificate to be read."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from capture.report.terminal.calibrations_text import calibration_cells
from capture.sheet.job import Units
from dashboard.text.screen import WORDS, word
from dashboard.views.elements.boxes import box, grid, offered
from dashboard.views.elements.controls import plain

SAID = ("choose", "failed", "keep", "due", "place", "which", "no-place")
"""Words that the script needs."""
COLUMNS = ("of", "size", "expanded", "limits", "certificate", "calibrated", "due", "status")


def certificates_page() -> list[Component]:
    """A button that takes a certificate; its script shows what it says and where it may be written."""
    said = json.dumps({key: WORDS[f"certificates.{key}"] for key in SAID})
    return [
        box(
            word("certificates.read"),
            html.P(word("certificates.note"), className="note-line"),
            html.Div(
                html.Button(word("certificates.choose"), id="certificates-choose", type="button"),
                className="fields",
            ),
            html.Div(id="certificates-read", **plain(data_words=said)),
            html.P("", id="certificates-said", role="status"),
            name="certificates-form",
        )
    ]


def certificates_body(
    sheets: Sequence[tuple[str, Units, Sequence[Mapping[str, Any]]]], units: Units | None
) -> list[Any]:
    """The calibrations of each sheet, by its name; overdue ones are said first.

    Args:
        sheets: Name, units and `capture.analysis.calibrations.calibration_rows` of each.
        units: Those of the page; None: each sheet's own.
    """
    if not sheets:
        return [offered(word("certificates.none"), "home")]
    late = [
        html.Li(word("certificates.overdue", sheet=name, **_cells(row, units or own)))
        for name, own, rows in sheets
        for row in rows
        if row["state"] == "overdue"
    ]
    first = [box(word("certificates.late-title"), html.Ul(late))] if late else []
    return [*first, *(_sheet(name, rows, units or own) for name, own, rows in sheets)]


def _cells(row: Mapping[str, Any], units: Units) -> dict[str, str]:
    cells = calibration_cells(row, units)
    return {"what": cells[0], "due": cells[6], "status": cells[7]}


def _sheet(name: str, rows: Sequence[Mapping[str, Any]], units: Units) -> html.Section:
    head = [word(f"certificates.{one}") for one in COLUMNS]
    cells: list[list[str | tuple[str, str]]] = []
    for row in rows:
        *plain_cells, status = calibration_cells(row, units)
        cells.append([*plain_cells, (status, "bad" if row["state"] == "overdue" else "")])
    link = html.Div(html.A(word("certificates.by-hand"), href="#job", className="button"), className="links")
    return box(word("certificates.sheet", sheet=name), grid(name, head, cells), link)
