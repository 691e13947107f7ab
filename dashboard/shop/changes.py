"""What has changed over the months, in words and as a figure."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import plotly.graph_objects as go
from dash import dcc, html
from dash.development.base_component import Component

from capture.shop.history.findings import HistoryFinding, JudgedChanges, Series
from capture.shop.history.trends import MONTH
from capture.text.lengths import percent
from dashboard.text.screen import word
from dashboard.views.elements.theme import PAPER
from dashboard.views.lengths import small

MOST = 20
"""Findings that are shown."""
_LENGTHS = frozenset({"gauge-drifts", "machine-warms"})


def change_sentences(judged: JudgedChanges, series: list[Series]) -> Component:
    """The findings as sentences, each with its figure under it; or that there are none.

    What cannot be told yet from lots, calibrations and seasons is named behind them, without a figure.
    """
    found = judged.found
    names = ", ".join(one.of for one in judged.undecided[:MOST])
    waiting = [html.P(word("shop.changes-undecided", names=names), className="note")] if names else []
    if not found:
        none = html.P(word("shop.changes-none", series=len(series)), className="empty")
        return html.Div([none, *waiting]) if waiting else none
    by_thing = {(one.what, one.of): one for one in series}
    items = [
        html.Details([html.Summary(sentence(one)), _figure(one, by_thing[one.what, one.of])])
        for one in found[:MOST]
    ]
    return html.Div([*items, *waiting, html.P(word("shop.changes-rule"), className="note")])


def sentence(one: HistoryFinding) -> str:
    """A finding in words, with its interval."""
    trend = one.trend
    return word(
        f"shop.{one.what}",
        of=one.of,
        change=_amount(one, trend.change),
        low=_amount(one, trend.low),
        high=_amount(one, trend.high),
        months=f"{trend.months:.0f}",
        jobs=trend.jobs,
    )


def _amount(one: HistoryFinding, value: float) -> str:
    sign = "+" if value > 0 else ""
    if one.what in _LENGTHS:
        text = small(value, "mm")
        return text if text.startswith(("+", "-", "−")) else sign + text
    return sign + (percent(value) if abs(value) >= 0.01 else f"{value * 100:.2f} %")


def _figure(one: HistoryFinding, series: Series) -> dcc.Graph:
    """The jobs as points, the line through them and its interval."""
    trend = one.trend
    scale = 1000.0 if one.what in _LENGTHS else 100.0
    begin = datetime(1970, 1, 1, tzinfo=UTC)
    last = max(series.days)
    first = min(series.days)
    ends = [begin + timedelta(days=day) for day in (first, last)]

    def line(slope: float) -> list[float]:
        middle = trend.now - trend.slope * trend.months / 2.0
        half = slope * (last - first) / MONTH / 2.0
        return [(middle - half) * scale, (middle + half) * scale]

    colours = PAPER["light"]
    drawn = colours["predicted"]
    dates = [begin + timedelta(days=day) for day in series.days]
    traces: list[Any] = [
        go.Scatter(
            x=dates, y=[value * scale for value in series.values], mode="markers",
            marker={"color": colours["size"], "size": 6}, hoverinfo="x+y",
        ),
        *(
            go.Scatter(x=ends, y=line(slope), mode="lines", line={"color": drawn, "dash": kind})
            for slope, kind in ((trend.slope, "solid"), (trend.low, "dot"), (trend.high, "dot"))
        ),
    ]  # fmt: skip
    figure = go.Figure(traces)
    figure.update_layout(
        height=260, margin={"l": 60, "r": 20, "t": 10, "b": 30}, showlegend=False,
        paper_bgcolor=colours["sheet"], plot_bgcolor=colours["sheet"], font={"color": colours["ink"]},
        yaxis={"title": "µm" if one.what in _LENGTHS else "%"},
    )  # fmt: skip
    return dcc.Graph(figure=figure, config={"displayModeBar": False})
