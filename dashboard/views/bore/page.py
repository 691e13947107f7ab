"""The bore's page: fixed elements with ids; the live script fills them."""

from __future__ import annotations

from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.text.screen import word
from dashboard.views.bore.section import DIRECTIONS, FIRST
from dashboard.views.elements.controls import plain, saying
from dashboard.views.elements.figure import BLANK
from dashboard.views.elements.parts import listed
from dashboard.views.elements.sound import sound_switch


def bore_page() -> list[Component]:
    """The elements of the page."""
    said = html.P("", id="bore-said", className="spoken")
    spoken = html.P("", id="bore-spoken", className="hidden", role="status")
    return [_banner(), sound_switch("", said, spoken), _figures(), _middle()]


def bore_words() -> list[Component]:
    """The buttons of a live page."""
    return [
        saying("bore-back", word("bore.back"), ["back", "bore"], key="b", className="strong"),
        saying("bore-skip", word("bore.skip"), ["skip", "bore"], key="s", className="strong"),
        saying("bore-undo", word("bore.undo"), ["undo"], key="u"),
        saying(
            "bore-pause",
            html.Span(word("bore.pause"), id="bore-pause-text"),
            ["pause"],
            key="h",
            **plain(aria_pressed="false"),
        ),
        saying("bore-stage", html.Span("", id="bore-stage-text"), ["stage"], key="g"),
    ]


def _banner() -> html.Section:
    return html.Section(
        [
            html.H1(word("bore.say-waiting"), id="bore-say", className="sentence"),
            html.P("", id="bore-more", className="under"),
            html.P(
                [
                    html.A(word("page.gauges"), href="#gauges", className="button"),
                    html.A(word("page.job"), href="#job", className="button"),
                ],
                id="bore-offer",
            ),
        ],
        id="bore-banner",
        className="banner",
        **plain(data_state="none"),
    )


def _figures() -> html.Section:
    return html.Section(
        [_figure("here"), _figure("points"), _figure("last", unit=True), _figure("smallest", unit=True)],
        className="figures",
    )


def _figure(name: str, *, unit: bool = False) -> html.Div:
    number: list[Any] = [html.Span(word("unknown"), id=f"bore-{name}")]
    if unit:
        number.append(html.Small("", id=f"bore-{name}-unit"))
    return html.Div(
        [
            html.H2(word(f"bore.{name}")),
            html.P(number, className="figure" if unit else "figure place"),
            html.P("", id=f"bore-{name}-note", className="note"),
        ]
    )


def _middle() -> html.Div:
    columns = [
        [_section()],
        [_rock(), _profile()],
        [
            _map(),
            listed("bore-shape", word("bore.shape"), scrolls=True),
            listed("bore-tight", word("bore.tight"), scrolls=True),
        ],
        [_lapping()],
    ]
    return html.Div([html.Div(each, className="column", tabIndex=0) for each in columns], className="middle")


def _lapping() -> html.Section:
    """The advice, and the caution of the moment; the others are looked up."""
    cautions = [html.Summary(word("bore.cautions")), html.Ul([], id="bore-cautions")]
    return html.Section(
        [
            html.H2(word("bore.lap")),
            html.P("", id="bore-advice"),
            html.P("", id="bore-caution"),
            html.Details(cautions),
            html.Ul([], id="bore-lap", className="pairs"),
        ],
        id="bore-lap-box",
    )


def _section() -> html.Section:
    title = html.H2(word("bore.section"), id="bore-section-title")
    note = html.P("", id="bore-section-none", className="empty")
    return html.Section([title, note, _directions(), _drawing("bore-section")], id="bore-section-box")


def _directions() -> html.Div:
    """Which directions are drawn, one button each; the live script leaves out what is not pressed."""
    buttons = [
        html.Button(
            "",
            id=f"bore-section-direction-{n}",
            type="button",
            hidden=True,
            **plain(aria_pressed="true", data_figure="bore-section", data_trace=str(FIRST + n)),
        )
        for n in range(DIRECTIONS)
    ]
    label = plain(aria_label=word("bore.section-directions"))
    return html.Div(buttons, id="bore-section-directions", role="group", hidden=True, **label)


def _profile() -> html.Section:
    return html.Section([html.H2(word("bore.profile")), _drawing("bore-profile")], id="bore-profile-box")


def _rock() -> html.Section:
    """The live curve, which a script of its own draws, with what its lines and points are."""
    looks = [
        html.Li(word(f"bore.rock-{name}"), **plain(data_look=name))
        for name in ("value", "curve", "kept", "aside")
    ]
    data: dict[str, Any] = {"data-time": word("bore.rock-time"), "aria-label": word("bore.rock")}
    parts = [
        html.H2(word("bore.rock")),
        html.Ul(looks, className="looks"),
        html.P("", id="bore-rock-axis"),
        html.Canvas(id="bore-rock", role="img", **data),
    ]
    return html.Section(parts, id="bore-rock-box", hidden=True)


def _drawing(name: str) -> dcc.Graph:
    return dcc.Graph(
        id=name,
        figure=BLANK,
        config={"displayModeBar": False, "staticPlot": True},
        responsive=True,
        className="graph",
    )


def _map() -> html.Section:
    table = html.Table(
        [html.Thead([], id="bore-map-head"), html.Tbody([], id="bore-map")],
        **plain(aria_labelledby="bore-map-title"),
    )
    return html.Section(
        [html.H2("", id="bore-map-title"), table, html.P("", id="bore-map-none", className="empty")],
        id="bore-map-box",
    )
