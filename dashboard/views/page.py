"""The layout of the operator's page: fixed elements with ids; the live script fills them."""

from __future__ import annotations

import json
from typing import Any

from dash import dcc, html

from dashboard import theme
from dashboard.views.figure import figures
from dashboard.words import word

STAGES = ("as found", "lapped", "stripped", "plated", "grind", "finish")
"""Offered for the stage; any other may be written."""


def page(*, token: str, run: str, replay: bool) -> html.Div:
    """The whole page; *token* lets it speak, *run* tells one start of the dashboard from another."""
    data: dict[str, Any] = {
        "data-token": token,
        "data-run": run,
        "data-mode": "replay" if replay else "live",
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
            _transport() if replay else _asking(),
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
                    html.Button(word("page.units"), id="units", type="button", **_plain(data_units="mm")),
                    html.Button(word("page.theme"), id="theme", type="button"),
                    html.Button(word("page.keys"), id="keys", type="button", **_plain(aria_pressed="true")),
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
        **_plain(data_state="none"),
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
        **_plain(data_state="none"),
    )


def _middle(*, replay: bool) -> html.Div:
    return html.Div(
        [
            html.Div([_trend()], className="column"),
            html.Div(
                [
                    _table("passes", ("number", "infeed", "removed", "size", "come")),
                    _table("gauges", ("name", "link", "value", "age", "garbled", "battery")),
                    *([] if replay else [_writing()]),
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
        html.Ul([], id=name, **_plain(aria_labelledby=f"{name}-title")),
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
                **_plain(aria_labelledby=f"{name}-title"),
            ),
            html.P("", id=f"{name}-none", className="empty"),
        ],
        id=f"{name}-box",
    )


def _asking() -> html.Section:
    return html.Section(
        [
            html.P("", id="ack", role="status"),
            html.P("", id="closed"),
            html.Div(
                [
                    html.Label("", id="infeed-label", htmlFor="infeed"),
                    _button("less", "−", **_plain(aria_label=word("ask.less"))),
                    dcc.Input(id="infeed", type="text", autoComplete="off"),
                    _button("more-infeed", "+", **_plain(aria_label=word("ask.more"))),
                ],
                className="infeed",
            ),
            _button("pass", word("ask.pass"), key="p", className="strong"),
            _button("spark", word("ask.spark"), key="o", className="strong"),
            _button("undo", word("ask.undo"), key="u"),
            _button("reject", word("ask.reject"), key="r"),
        ],
        id="ask",
        **_plain(data_state="closed", aria_label=word("ask.title")),
    )


def _writing() -> html.Section:
    return html.Section(
        [
            html.H2(html.Label(word("ask.text"), htmlFor="text")),
            html.Div(
                [
                    dcc.Input(id="text", type="text", maxLength=500, autoComplete="off", list="stages"),
                    html.Datalist([html.Option(value=stage) for stage in STAGES], id="stages"),
                    _button("stage-say", word("ask.stage"), key="g"),
                    _button("note-say", word("ask.note"), key="n"),
                ],
                className="written",
            ),
        ],
        id="write",
    )


def _transport() -> html.Section:
    return html.Section(
        [
            _button("pass-back", word("play.back"), key="j", shape="◀"),
            _button("play", word("play.play"), key="k", shape="▶❚❚", **_plain(aria_pressed="false")),
            _button("pass-on", word("play.on"), key="l", shape="▶"),
            html.Div(
                [
                    html.Ul([], id="marks", **_plain(aria_hidden="true")),
                    dcc.Input(id="scrub", type="range", min=0, max=1000, step=1, value=0),
                    html.Label(word("play.scrub"), htmlFor="scrub", className="hidden"),
                ],
                className="scrub",
            ),
            _button("slower", word("play.slower"), shape="−"),
            html.Output("", id="speed"),
            _button("faster", word("play.faster"), shape="+"),
            _button("afresh", word("play.afresh"), key="f", **_plain(aria_pressed="false")),
            html.P("", id="where"),
        ],
        id="ask",
        className="transport",
        **_plain(data_state="closed", aria_label=word("play.title")),
    )


def _button(name: str, text: str, key: str = "", shape: str = "", **more: Any) -> html.Button:
    """A button; one with a *shape* may lose its words where there is no room for them."""
    children: list[Any] = [text]
    if shape:
        children = [html.Span(shape, **_plain(aria_hidden="true")), html.Span(text, className="word")]
    if key:
        children.append(html.Kbd(key.upper()))
        more = {**more, "data-key": key, "aria-keyshortcuts": key.upper()}
    return html.Button(children, id=name, type="button", **more)


def _plain(**attributes: str) -> dict[str, Any]:
    """Attributes whose names have a hyphen, which Python's have not."""
    return {name.replace("_", "-"): value for name, value in attributes.items()}


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
