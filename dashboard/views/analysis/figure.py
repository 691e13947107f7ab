"""Axes and layout of the figures that are worked out on request, in the look of the theme."""

from __future__ import annotations

from typing import Any

from dashboard.views.elements.figure import FONT
from dashboard.views.elements.theme import PAPER, Theme


def axis(theme: Theme, title: str) -> dict[str, Any]:
    """One axis with its title."""
    paper = PAPER[theme]
    return {
        "color": paper["ink"],
        "gridcolor": faded(paper["rule"]),
        "linecolor": paper["rule"],
        "zeroline": False,
        "tickfont": {"size": 14},
        "title": {"text": title, "font": {"size": 14}},
    }


def blank(theme: Theme) -> dict[str, Any]:
    """A layout without axes."""
    paper = PAPER[theme]
    return {
        "template": {},
        "paper_bgcolor": paper["sheet"],
        "plot_bgcolor": paper["sheet"],
        "font": {"family": FONT, "size": 14, "color": paper["ink"]},
        "margin": {"l": 66, "r": 12, "t": 40, "b": 48},
        "showlegend": True,
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": 14}},
        "hovermode": False,
    }


def faded(colour: str) -> str:
    """A colour ``#rrggbb`` as a quarter of it on what lies under it."""
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.25)"
