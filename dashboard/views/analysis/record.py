"""The record as a page: which recordings there are, what may be kept of each, and a preview."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from dash import html
from dash.development.base_component import Component

from dashboard.text.screen import word
from dashboard.views.elements.boxes import box, offered
from dashboard.views.elements.controls import plain

KEPT = (
    ("report", "html"),
    ("report", "pdf"),
    ("order", "html"),
    ("package", "zip"),
    ("stations", "csv"),
    ("readings", "csv"),
    ("passes", "csv"),
    ("stations", "parquet"),
    ("readings", "parquet"),
    ("stations", "json"),
)
"""What is offered of each recording."""
FRAME = "record-frame"


def record_page() -> list[Component]:
    """The list, and a frame in which nothing runs."""
    preview = html.Iframe(
        id="record-preview",
        name=FRAME,
        title=word("record.preview"),
        sandbox="allow-same-origin allow-modals",
    )
    press = html.Button(word("record.print"), id="record-print", type="button")
    note = html.P(f"{word('record.preview-none')} {word('record.print-note')}", className="note-line")
    shown = box(word("record.preview"), html.Div([press, note], className="fields"), preview)
    return [html.Div(id="record-body", className="page-body"), shown]


def record_list(names: Sequence[str], shown: str) -> list[Any]:
    """The recordings of the folder, the one that is shown first; each with what may be kept of it."""
    if not names:
        return [offered(word("request.nothing"), "home")]
    order = sorted(names, key=lambda name: name != shown)
    return [box(word("record.title"), *(_row(name, here=name == shown) for name in order))]


def record_address(name: str) -> str:
    """Where the record of a recording is, to look at."""
    return f"/record/report.html?recording={quote(name, safe='')}"


def _row(name: str, *, here: bool) -> html.Div:
    asked = f"?recording={quote(name, safe='')}"
    see = html.A(
        word("record.see"),
        href=record_address(name),
        target=FRAME,
        className="button strong",
        **plain(aria_label=word("record.see-of", name=name)),
    )
    links = [
        html.A(
            word("record.keep", what=word(f"record.{what}"), ending=ending.upper()),
            href=f"/record/{what}.{ending}{asked}" + ("&keep=1" if ending == "html" else ""),
            download="",
            className="button",
            **plain(aria_label=word("record.keep-of", what=word(f"record.{what}"), ending=ending, name=name)),
        )
        for what, ending in KEPT
    ]
    title = html.H3(name + (word("record.here") if here else ""))
    return html.Div([title, html.Div([see, *links], className="links")], className="recording-row")
