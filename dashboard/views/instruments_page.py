"""The gauges' page: fixed elements with ids; the live script fills them."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard.words import word

COMMANDS = {"ports": "tenths gauges", "teach": "tenths teach"}
"""What a terminal does for gauges: the screen itself opens no port."""


def instruments_page() -> list[Component]:
    """The elements of the page."""
    told = [
        html.Li([html.Span(word(f"gauge.more-{name}")), html.Code(command)])
        for name, command in COMMANDS.items()
    ]
    return [
        html.H1(word("gauge.heading"), className="heading", id="gauges-heading"),
        html.Ul([], id="gauges-cards"),
        html.P("", id="gauges-cards-none", className="empty"),
        html.Section(
            [html.H2(word("gauge.more")), html.Ul([*told, html.Li(html.Span(word("gauge.more-job")))])],
            id="gauges-more",
        ),
    ]
