"""The document: head, links to the pages, notices, a place for each page, and the bar at the foot.

The first page's elements come with the document; those of another when a person first opens it (`opened`):
a browser that had all of them to build at the start had a quarter more work before the first picture.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, Final

from dash import Dash, Input, Output, html
from dash.development.base_component import Component

from dashboard.text.screen import word
from dashboard.views.elements import theme
from dashboard.views.elements.controls import plain, saying, transport
from dashboard.views.elements.figure import figures
from dashboard.views.registry import PAGES, Page
from dashboard.web.documents.installed import installed_head
from dashboard.web.documents.packaged import drawer, head

PLAIN: Final = ("home", "gauges", "plan", "job", "record", "steps", "share")
"""Pages without a figure: opened first, they do not fetch the library that draws."""
NAMED: Final = ("job", "gauges")
"""Pages by whose name an element is there already."""
HEADED: Final = ("grinding", "bore", "gauges")
"""Pages that show a heading of the first level themselves."""


def page(*, token: str, run: str, replay: bool) -> html.Div:
    """The whole document; *token* lets it speak, *run* tells one start of the dashboard from another."""
    data: dict[str, Any] = {
        "data-token": token,
        "data-run": run,
        "data-figures": json.dumps(figures()),
    }
    spoken: dict[str, Any] = {
        "data-sending": word("ask.sending"),
        "data-done": word("ask.done", said="{said}"),
        "data-refused": word("ask.refused", why="{why}"),
        "data-failed": word("ask.failed"),
        "data-nothing": word("ask.nothing"),
        "data-why": word("ask.why"),
    }
    return html.Div(
        [
            _head(),
            _links(),
            _notices(),
            html.Main([part for one in PAGES for part in (_named(one), _page(one))]),
            html.Section(_foot(replay=replay), id="ask", **_bar(replay=replay)),
            html.Footer(word("page.caution"), id="caution"),
        ],
        id="page",
        **data,
        **spoken,
    )


def opened(app: Dash) -> None:
    """Adds what answers a browser that opens a page for the first time: the page's elements."""
    for one in PAGES:
        place = f"page-{one.name}"
        app.callback(Output(place, "children"), Input(place, "data-open"), prevent_initial_call=True)(
            _elements(one)
        )


def _elements(one: Page) -> Callable[[Any], list[Component]]:
    """The page's elements under a heading that who hears the page can go to."""
    if one.name in HEADED:
        return lambda _asked: one.layout()
    return lambda _asked: [html.H1(word(f"page.{one.name}"), className="hidden"), *one.layout()]


def _head() -> html.Header:
    return html.Header(
        [
            html.Strong("", id="job"),
            html.Span("", id="recording"),
            html.Span("", id="status", className="chip"),
            html.Span("", id="simulated", className="chip"),
            html.Span("", id="stage", className="chip"),
            html.Span("", id="settings", className="chip"),
            html.Span("", id="last-reading"),
            html.Div(
                [
                    html.Button(word("page.units"), id="units", type="button", **plain(data_units="mm")),
                    html.Button(word("page.theme"), id="theme", type="button"),
                    html.Button(word("page.keys"), id="keys", type="button", **plain(aria_pressed="true")),
                ],
                className="switches",
            ),
        ]
    )


def _links() -> html.Nav:
    """The way to each page; the live script marks the one that is shown."""
    links = [
        html.A(
            word(f"page.{one.name}"), href=f"#{one.name}", **plain(data_page=one.name), className="page-link"
        )
        for one in PAGES
    ]
    return html.Nav(links, id="links", **plain(aria_label=word("page.links")))


def _named(one: Page) -> html.Span | None:
    """Where the link of a page leads by its address alone, so that no checker finds it broken."""
    return None if one.name in NAMED else html.Span(id=one.name, hidden=True)


def _page(one: Page) -> html.Div:
    """A page's place; but for the first it is filled when the address first names it."""
    first = one is PAGES[0]
    elements = _elements(one)(None) if first else []
    return html.Div(elements, id=f"page-{one.name}", className="page", hidden=not first)


def _foot(*, replay: bool) -> list[Any]:
    """What the bar at the foot holds: of a live page its own words, of a replay the player's."""
    if replay:
        return transport()
    said = [html.P("", id="ack", role="status"), html.P("", id="closed")]
    groups = [html.Div(one.words(), **plain(data_of=one.name), className="words") for one in PAGES]
    return [*said, *groups]


def _bar(*, replay: bool) -> dict[str, Any]:
    kind = {"className": "transport"} if replay else {}
    return {**kind, **plain(data_state="closed", aria_label=word("play.title" if replay else "ask.title"))}


def _notices() -> html.Div:
    newer = [html.Span("", id="newer"), html.Button(word("notice.newer-do"), id="show-newer", type="button")]
    question = [
        html.Span("", id="question", role="status"),
        saying("question-yes", word("notice.yes"), ["yes"], key="y"),
        saying("question-no", word("notice.no"), ["no"], key="x"),
    ]
    return html.Div(
        [
            html.P(question, id="question-line"),
            html.Div(
                [
                    html.P(word("notice.lost"), id="lost", hidden=True),
                    html.P("", id="trouble"),
                    html.P("", id="render-error"),
                    html.P("", id="down"),
                ],
                role="alert",
            ),
            html.P("", id="quiet"),
            html.P(newer, id="newer-line"),
        ],
        id="notices",
    )


def index_string() -> str:
    """The document around the page, with the palette in it and the theme chosen before the first paint."""
    return f"""<!DOCTYPE html>
<html lang="en" data-theme="light">
    <head>
        {{%metas%}}
        <title>{{%title%}}</title>
        {installed_head()}
        {head()}
        {{%css%}}
        <style>{theme.stylesheet()}</style>
    </head>
    <body>
        {{%app_entry%}}
        <footer>{{%config%}}<script>{drawer(PLAIN, "shown")}</script>{{%scripts%}}{{%renderer%}}</footer>
    </body>
</html>"""
