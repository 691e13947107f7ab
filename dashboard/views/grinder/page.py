"""The operator's page: fixed elements with ids; the live script fills them."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.text.screen import word
from dashboard.views.elements.controls import plain, walking, writing
from dashboard.views.elements.figure import BLANK
from dashboard.views.elements.parts import listed, table
from dashboard.views.elements.sound import sound_switch
from dashboard.views.grinder.safety import safety_section


def grinding_page() -> list[Component]:
    """The elements of the page."""
    return [html.Div([_board(), _coach()], className="head"), _figures(), _way(), _middle()]


def _board() -> html.Section:
    return html.Section(
        [
            html.H1(word("say.waiting"), id="say", className="sentence"),
            html.P("", id="more", className="under"),
            html.P("", id="spoken", className="hidden", role="status"),
        ],
        id="banner",
        className="banner",
        **plain(data_state="none"),
    )


def _coach() -> html.Section:
    return html.Section(
        [
            html.H2(word("coach.title")),
            html.P("", id="coach-say"),
            html.Ul([], id="coach-ask"),
            html.Ul([], id="coach-more"),
            html.P("", id="coach-caution", className="empty"),
        ],
        id="coach",
        tabIndex=0,  # its lesser lines are scrolled where they are long
        **plain(data_state="none", aria_label=word("coach.title")),
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
        className="figures",
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
                    html.Ul([], id="way-scale"),
                ],
                className="track",
            ),
            html.P(word("way.none"), className="way-none"),
        ],
        id="way",
        **plain(data_state="none"),
    )


def _middle() -> html.Div:
    stations = word("places.title", part=word("part.shaft"))
    return html.Div(
        [
            html.Div([_ride(), _trend()], className="column", tabIndex=0),
            html.Div(
                [
                    table("passes", ("number", "infeed", "removed", "size", "come"), scrolls=True),
                    table("gauges", ("name", "link", "value", "age", "garbled", "battery")),
                    writing(),
                ],
                className="column",
                tabIndex=0,
            ),
            html.Div(
                [
                    sound_switch("grinding-", html.P("", id="grinding-said", className="spoken")),
                    safety_section(),
                    listed("places", stations, html.P("", id="here"), walking()),
                    _taper(),
                    listed("lately", word("lately.title")),
                    listed("heat", word("heat.title")),
                ],
                className="column",
                tabIndex=0,
            ),
        ],
        className="middle",
    )


def _taper() -> html.Section:
    return html.Section(
        [
            html.H2(word("taper.title")),
            html.P("", id="taper-advice"),
            html.Ul([], id="taper", className="pairs"),
        ],
        id="taper-box",
    )


def _ride() -> html.Section:
    """Size against time by a gauge that rides on the part; hidden where none does."""
    graph = dcc.Graph(
        id="ride",
        figure=BLANK,
        config={"displayModeBar": False, "staticPlot": True},
        responsive=True,
        className="graph",
    )
    under = html.P("", id="ride-now", className="note")
    return html.Section(
        [html.H2(word("ride.title")), graph, under], id="ride-box", **plain(data_state="none")
    )


def _trend() -> html.Section:
    graph = dcc.Graph(
        id="trend",
        figure=BLANK,
        config={"displayModeBar": False, "staticPlot": True},
        responsive=True,
        className="graph",
    )
    under = html.P("", id="power-now", **plain(data_state="none"))
    none = html.P("", id="trend-none", className="empty")
    return html.Section([html.H2(word("trend.title")), none, graph, under], id="trend-box")
