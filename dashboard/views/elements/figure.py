"""Figures without numbers, in both themes; the live script puts the numbers in."""

from __future__ import annotations

from typing import Any, Final

from dashboard.text.screen import word
from dashboard.views.elements.theme import PAPER, Theme

FONT = "tenths, system-ui, sans-serif"
BLANK: Final[dict[str, Any]] = {
    "data": [],
    "layout": {"xaxis": {"visible": False}, "yaxis": {"visible": False}},
}
"""What stands in a figure's place until the live script puts it in."""


def figures() -> dict[Theme, dict[str, Any]]:
    """For each theme the figures by the id of their graph."""
    return {"light": _figures("light"), "dark": _figures("dark")}


def _figures(theme: Theme) -> dict[str, Any]:
    return {
        "trend": trend(theme),
        "ride": ride(theme),
        "bore-section": section(theme),
        "bore-profile": profile(theme),
    }


def trend(theme: Theme) -> dict[str, Any]:
    """The trend of a grind; its traces in order: band, aim, predicted, sizes."""
    paper = PAPER[theme]
    band, size, predicted = paper["band"], paper["size"], paper["predicted"]
    traces = [
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
            "error_y": _bars(predicted),
        },
        {
            "name": word("trend.sizes"),
            "mode": "lines+markers",
            "marker": {"color": size, "size": 11, "symbol": "circle"},
            "line": {"color": size, "width": 3},
        },
    ]
    return {"data": traces, "layout": _layout(theme, word("trend.pass"))}


def ride(theme: Theme) -> dict[str, Any]:
    """Size against time; its traces in order: each second, as it is sent, passes, where it goes."""
    paper = PAPER[theme]
    traces = [
        {"name": word("ride.size"), "mode": "lines", "line": {"color": paper["size"], "width": 4}},
        {"mode": "lines", "line": {"color": paper["faint"], "width": 1}, "showlegend": False},
        {
            "name": word("ride.passes"),
            "mode": "markers",
            "marker": {"color": paper["ink"], "size": 13, "symbol": "triangle-down"},
        },
        {
            "name": word("ride.end"),
            "mode": "lines",
            "line": {"color": paper["predicted"], "width": 3, "dash": "dash"},
        },
    ]
    return {"data": traces, "layout": _layout(theme, "")}


def section(theme: Theme) -> dict[str, Any]:
    """The bore cut along its axis.

    Its traces in order: both bodies, limits, axis, the walls in six directions, stations still open,
    the gauge, the newest place, the smallest.
    """
    paper = PAPER[theme]
    layout = _layout(theme, "")
    layout["yaxis"] = {**layout["yaxis"], "showgrid": False}
    return {"data": [*_cut(paper), *_walls(paper), *_places(paper)], "layout": layout}


def _cut(paper: dict[str, str]) -> list[dict[str, Any]]:
    """Both bodies, limits, and the axis as a drawing has it: long dash, short dash."""
    body = {
        "mode": "lines",
        "fill": "toself",
        "fillcolor": _faded(paper["rule"]),
        "fillpattern": {"shape": "/", "fgcolor": paper["rule"], "bgcolor": _faded(paper["rule"]), "size": 9},
        "line": {"color": paper["faint"], "width": 1},
        "showlegend": False,
    }
    limits = {
        "name": word("bore.section-goal"),
        "mode": "lines",
        "line": {"color": paper["band"], "width": 3, "dash": "dash"},
    }
    axis = {
        "mode": "lines",
        "line": {"color": paper["faint"], "width": 1, "dash": "20px,4px,4px,4px"},
        "showlegend": False,
    }
    return [body, body, limits, axis]


def _walls(paper: dict[str, str]) -> list[dict[str, Any]]:
    """One look for each direction: a colour, a dash and a marker."""
    looks = (
        (paper["size"], "solid", "circle"),
        (paper["predicted"], "dash", "square"),
        (paper["ink"], "dot", "triangle-up"),
        (paper["band"], "longdash", "cross"),
        (paper["faint"], "dashdot", "star"),
        (paper["size"], "longdashdot", "hexagon"),
    )
    return [
        {
            "mode": "lines+markers",
            "line": {"color": colour, "width": 4, "dash": dash},
            "marker": {"color": colour, "size": 10, "symbol": symbol},
        }
        for colour, dash, symbol in looks
    ]


def _places(paper: dict[str, str]) -> list[dict[str, Any]]:
    """Stations still open, the gauge, the newest place, the smallest."""
    ink = paper["ink"]
    text = {"size": 24, "weight": 700, "color": ink}
    still = {
        "name": word("bore.section-open"),
        "mode": "markers",
        "marker": {"color": paper["faint"], "size": 11, "symbol": "circle-open", "line": {"width": 2}},
    }
    gauge = {
        "mode": "lines+markers+text",
        "line": {"color": ink, "width": 5},
        "marker": {"color": ink, "size": [16, 0, 16], "symbol": "diamond-wide"},
        "textfont": text,
        "showlegend": False,
    }
    marked = [
        {
            "mode": "markers+text",
            "marker": {"color": ink, "size": 22, "symbol": symbol, "line": {"color": ink, "width": 4}},
            "textfont": text,
            "showlegend": False,
        }
        for symbol in ("circle-open", "diamond-open")
    ]
    return [still, gauge, *marked]


def profile(theme: Theme) -> dict[str, Any]:
    """The bore along its length; its traces in order: three older stages, the newest, its smallest place."""
    paper = PAPER[theme]
    faint, size, predicted = paper["faint"], paper["size"], paper["predicted"]
    older = [
        {
            "mode": "lines+markers",
            "line": {"color": faint, "width": 2, "dash": dash},
            "marker": {"color": faint, "size": 8, "symbol": symbol},
        }
        for dash, symbol in (("dot", "triangle-up"), ("dashdot", "square"), ("dash", "diamond"))
    ]
    newest = {
        "mode": "lines+markers",
        "line": {"color": size, "width": 4},
        "marker": {"color": size, "size": 11, "symbol": "circle"},
        "error_y": _bars(size),
    }
    smallest = {
        "name": word("bore.profile-smallest"),
        "mode": "markers",
        "marker": {"color": predicted, "size": 17, "symbol": "diamond-open", "line": _line(predicted)},
    }
    return {"data": [*older, newest, smallest], "layout": _layout(theme, "")}


def _bars(colour: str) -> dict[str, Any]:
    return {"type": "data", "color": colour, "thickness": 2, "width": 5}


def _line(colour: str) -> dict[str, Any]:
    return {"color": colour, "width": 3}


def _layout(theme: Theme, along: str) -> dict[str, Any]:
    """Fixed margins and axes, so that a redraw costs little; *along* is said below the x axis."""
    paper = PAPER[theme]
    axis = {
        "color": paper["ink"],
        "gridcolor": _faded(paper["rule"]),
        "linecolor": paper["rule"],
        "zeroline": False,
        "automargin": False,
        "tickfont": {"size": 16},
        "title": {"text": "", "font": {"size": 16}},
    }
    return {
        "template": {},
        "paper_bgcolor": paper["sheet"],
        "plot_bgcolor": paper["sheet"],
        "font": {"family": FONT, "size": 16, "color": paper["ink"]},
        "margin": {"l": 70, "r": 12, "t": 34, "b": 68},
        "showlegend": True,
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "font": {"size": 14}},
        "xaxis": {**axis, "dtick": None, "title": {"text": along, "standoff": 4}},
        "yaxis": axis,
        "uirevision": "same",
        "hovermode": False,
    }


def _faded(colour: str) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.25)"
