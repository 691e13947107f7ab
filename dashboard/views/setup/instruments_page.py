"""The gauges' page: fixed elements with ids; the live script fills them."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.text.screen import word
from dashboard.views.setup.teach_page import teach_section

COMMANDS = {"ports": "tenths gauges", "teach": "tenths teach"}
"""What a terminal does for gauges."""


def typed_words() -> list[Component]:
    """For a live page: a field for a gauge that types like a keyboard."""
    return [
        html.Label(word("gauge.typed-gauge"), htmlFor="typed-gauge"),
        dcc.Input(id="typed-gauge", type="text", maxLength=40, autoComplete="off"),
        html.Label(word("gauge.typed"), htmlFor="typed"),
        dcc.Input(id="typed", type="text", maxLength=40, autoComplete="off"),
        html.Button(word("gauge.typed-say"), id="typed-say", type="button"),
    ]


def instruments_page() -> list[Component]:
    """The elements of the page."""
    entries = [
        html.Li([html.Span(word(f"gauge.more-{name}")), html.Code(command)])
        for name, command in COMMANDS.items()
    ]
    return [
        html.H1(word("gauge.heading"), className="heading", id="gauges-heading"),
        html.Ul([], id="gauges-cards"),
        html.P("", id="gauges-cards-none", className="empty"),
        teach_section(),
        html.Section(
            [html.H2(word("gauge.more")), html.Ul([*entries, html.Li(html.Span(word("gauge.more-job")))])],
            id="gauges-more",
        ),
    ]
