"""The trend as a figure without numbers, in both themes; the live script puts the numbers in."""

from __future__ import annotations

from typing import Any

from dashboard.theme import PAPER, Theme
from dashboard.words import word

FONT = "system-ui, sans-serif"


def figures() -> dict[Theme, dict[str, Any]]:
    """For each theme the figures by the id of their graph."""
    return {"light": {"trend": trend("light")}, "dark": {"trend": trend("dark")}}


def trend(theme: Theme) -> dict[str, Any]:
    """The trend of a grind; its traces in order: band, aim, predicted, sizes.

    Traces have their look and the layout fixed margins, so that a redraw costs little.
    """
    paper = PAPER[theme]
    band, size, predicted, ink = paper["band"], paper["size"], paper["predicted"], paper["ink"]
    axis = {
        "color": ink,
        "gridcolor": _faded(paper["rule"]),
        "linecolor": paper["rule"],
        "zeroline": False,
        "automargin": False,
        "tickfont": {"size": 16},
        "title": {"text": "", "font": {"size": 16}},
    }
    return {
        "data": [
            {
                "name": word("trend.band"),
                "mode": "lines",
                "fill": "toself",
                "fillcolor": _faded(band),
                "line": {"color": band, "width": 2},
                "hoverinfo": "skip",
            },
            {"name": word("trend.aim"), "mode": "lines", "line": {"color": band, "width": 3, "dash": "dash"}},
            {
                "name": word("trend.predicted"),
                "mode": "markers",
                "marker": {"color": predicted, "size": 11, "symbol": "diamond-open", "line": {"width": 3}},
                "error_y": {"type": "data", "color": predicted, "thickness": 2, "width": 5},
            },
            {
                "name": word("trend.sizes"),
                "mode": "lines+markers",
                "marker": {"color": size, "size": 11, "symbol": "circle"},
                "line": {"color": size, "width": 3},
            },
        ],
        "layout": {
            "template": {},
            "paper_bgcolor": paper["sheet"],
            "plot_bgcolor": paper["sheet"],
            "font": {"family": FONT, "size": 16, "color": ink},
            "margin": {"l": 70, "r": 12, "t": 34, "b": 48},
            "showlegend": True,
            "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": 14}},
            "xaxis": {**axis, "dtick": None, "title": {"text": word("trend.pass")}},
            "yaxis": axis,
            "uirevision": "trend",
            "hovermode": False,
        },
    }


def _faded(colour: str) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.25)"
