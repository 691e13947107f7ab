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
)
"""What is offered of each recording."""
TABLES = (
    ("stations", "csv"),
    ("readings", "csv"),
    ("passes", "csv"),
    ("stations", "parquet"),
    ("readings", "parquet"),
    ("stations", "json"),
)
"""What other programs read."""
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
    see = html.A(
        word("record.see"),
        href=record_address(name),
        target=FRAME,
        className="button strong",
        **plain(aria_label=word("record.see-of", name=name)),
    )
    links = [_kept(name, what, ending) for what, ending in KEPT]
    tables = html.Details(
        [
            html.Summary(word("record.tables"), **plain(aria_label=word("record.tables-of", name=name))),
            html.Div([_kept(name, what, ending) for what, ending in TABLES], className="links"),
        ]
    )
    title = html.H3(name + (word("record.here") if here else ""))
    return html.Div([title, html.Div([see, *links], className="links"), tables], className="recording-row")


def _kept(name: str, what: str, ending: str) -> html.A:
    """A link that keeps a file of the recording."""
    said = {"what": word(f"record.{what}"), "ending": ending.upper()}
    more = "&keep=1" if ending == "html" else ""
    return html.A(
        word("record.keep", **said),
        href=f"/record/{what}.{ending}?recording={quote(name, safe='')}{more}",
        download="",
        className="button",
        **plain(aria_label=word("record.keep-of", name=name, **said)),
    )
