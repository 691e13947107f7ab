"""The layout of the operator's page: fixed elements with ids; the live script fills them."""

from __future__ import annotations

import json
from typing import Any

from dash import dcc, html

from dashboard import theme
from dashboard.views.controls import asking, plain, transport, writing
from dashboard.views.figure import figures
from dashboard.words import word


def page(*, token: str, run: str, replay: bool) -> html.Div:
    """The whole page; *token* lets it speak, *run* tells one start of the dashboard from another."""
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
            _notices(),
            html.Main([_board(), _figures(), _way(), _middle(replay=replay)]),
            transport() if replay else asking(),
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


def _board() -> html.Section:
    return html.Section(
        [
            html.H1(word("say.waiting"), id="say"),
            html.P("", id="more"),
            html.P("", id="spoken", className="hidden", role="status"),
        ],
        id="board",
        className="board",
        **plain(data_state="none"),
    )


def _figures() -> html.Section:
    names = ("size", "togo", "cold", "come")
    return html.Section(
        [
            html.Div(
                [
                    html.H2(word(f"figure.{name}")),
                    html.P(
                        [html.Span(word("unknown"), id=name), html.Small("", id=f"{name}-unit")],
                        className="figure",
                    ),
                    html.P("", id=f"{name}-note", className="note"),
                ]
            )
            for name in names
        ],
        id="figures-row",
    )


def _way() -> html.Section:
    return html.Section(
        [
            html.H2(word("way.title")),
            html.P("", id="way-band"),
            html.Div(
                [
                    html.Div(className="way-band"),
                    html.Div(className="way-aim"),
                    html.Div(className="way-interval"),
                    html.Span("▼", className="way-now"),
                    html.Span(word("way.now"), className="way-now label"),
                    html.Span("◆", className="way-cold"),
                    html.Span(word("way.cold"), className="way-cold label"),
                ],
                className="track",
            ),
            html.P(word("way.none"), className="way-none"),
        ],
        id="way",
        **plain(data_state="none"),
    )


def _middle(*, replay: bool) -> html.Div:
    return html.Div(
        [
            html.Div([_trend()], className="column"),
            html.Div(
                [
                    _table("passes", ("number", "infeed", "removed", "size", "come")),
                    _table("gauges", ("name", "link", "value", "age", "garbled", "battery")),
                    *([] if replay else [writing()]),
                ],
                className="column",
            ),
            html.Div(
                [
                    _list("places", "", html.P("", id="here")),
                    _list("lately", word("lately.title")),
                    _list("heat", word("heat.title")),
                ],
                className="column",
            ),
        ],
        className="middle",
    )


def _trend() -> html.Section:
    graph = dcc.Graph(
        id="trend",
        figure=figures()["light"],
        config={"displayModeBar": False, "staticPlot": True},
        responsive=True,
    )
    return html.Section([html.H2(word("trend.title")), graph], id="trend-box")


def _list(name: str, title: str, *more: Any) -> html.Section:
    parts = [
        html.H2(title, id=f"{name}-title"),
        *more,
        html.Ul([], id=name, **plain(aria_labelledby=f"{name}-title")),
        html.P("", id=f"{name}-none", className="empty"),
    ]
    return html.Section(parts, id=f"{name}-box")


def _table(name: str, columns: tuple[str, ...]) -> html.Section:
    return html.Section(
        [
            html.H2(word(f"{name}.title"), id=f"{name}-title"),
            html.Table(
                [
                    html.Thead(
                        html.Tr([html.Th(word(f"{name}.{column}"), scope="col") for column in columns])
                    ),
                    html.Tbody([], id=name),
                ],
                **plain(aria_labelledby=f"{name}-title"),
            ),
            html.P("", id=f"{name}-none", className="empty"),
        ],
        id=f"{name}-box",
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
