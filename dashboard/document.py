"""The document: head, links to the pages, notices, the pages themselves, and the bar at the foot."""

from __future__ import annotations

import json
from typing import Any

from dash import html

from dashboard import theme
from dashboard.pages import PAGES, Page
from dashboard.views.controls import plain, transport
from dashboard.views.figure import figures
from dashboard.words import word


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
            html.Main([_page(one) for one in PAGES]),
            html.Section(_foot(replay=replay), id="ask", **_bar(replay=replay)),
            html.Footer(word("page.caution"), id="caution"),
        ],
        id="page",
        **data,
        **spoken,
    )


def _head() -> html.Header:
    return html.Header(
        [
            html.Strong("", id="job"),
            html.Span("", id="recording"),
            html.Span("", id="standing", className="chip"),
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


def _page(one: Page) -> html.Div:
    """A page's elements; it is shown when the address names it."""
    first = one is PAGES[0]
    return html.Div(one.layout(), id=f"page-{one.name}", className="page", hidden=not first)


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
    return html.Div(
        [
            html.Div(
                [
                    html.P(word("notice.lost"), id="lost", hidden=True),
                    html.P("", id="trouble"),
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
        {{%favicon%}}
        {{%css%}}
        <style>{theme.stylesheet()}</style>
    </head>
    <body>
        {{%app_entry%}}
        <footer>{{%config%}}{{%scripts%}}{{%renderer%}}</footer>
    </body>
</html>"""
