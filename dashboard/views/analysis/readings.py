"""Every gauge's raw readings one under another on one axis of time, as figure and page."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log10
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from capture.metrology.units import from_mm
from capture.sheet.job import Units
from dashboard.sources.raw_traces import RawTrace
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.analysis.figure import axis, blank
from dashboard.views.elements.boxes import box
from dashboard.views.elements.theme import PAPER, Theme
from dashboard.views.lengths import age
from dashboard.views.status_bar import clock

HIGH = 190
"""Pixels for each gauge."""
MOVES = ("whole", "closer", "wider", "earlier", "later")
MARKS = 5
"""At most, on the axis of a gauge."""
LEAST = 0.5
"""Seconds of the closest look."""


def readings_page() -> list[Component]:
    """Buttons, so that nothing need be dragged, and the figure."""
    pressed = [html.Button(word(f"readings.{move}"), id=f"readings-{move}", type="button") for move in MOVES]
    graph = dcc.Graph(
        id="readings-graph",
        figure=figure([], (0.0, 1.0), "mm", "light"),
        config={"displaylogo": False, "modeBarButtonsToRemove": ["toImage", "lasso2d", "select2d"]},
    )
    return [
        dcc.Store(id="readings-window"),
        dcc.Store(id="readings-drag"),
        box(
            word("readings.title"),
            html.Div(pressed, className="fields"),
            html.P("", id="readings-said", role="status"),
            html.Ul([], id="readings-marks", className="marks"),
            html.Div(
                [graph, html.Div(html.Div(id="readings-now"), className="playhead")], id="readings-drawn"
            ),
            name="readings-box",
        ),
    ]


def marks(scene: Scene) -> dict[str, Any]:
    """What the readings are not: live, of now, or of a gauge; and where a replay stands among them."""
    play, state = scene.transport, scene.state
    found = []
    if play is not None:
        found.append(word("readings.replayed", time=clock(play.position)))
    if scene.kind == "old":
        found.append(word("readings.old", age=age(scene.age)))
    if state is not None and state.job.simulated:
        found.append(word("readings.simulated"))
    return {
        "readings-marks[]": [[[text]] for text in found],
        "readings-now@hidden": "" if play is None else None,
        "readings-now@--now": f"{play.position / 60:.4f}" if play is not None else "0",
    }


def spanned(window: tuple[float, float]) -> dict[str, str]:
    """The window in minutes, for what is laid over the figure."""
    return {"--low": f"{window[0] / 60:.6f}", "--high": f"{window[1] / 60:.6f}"}


def figure(
    traces: Sequence[RawTrace], window: tuple[float, float], units: Units, theme: Theme
) -> dict[str, Any]:
    """A row for each gauge over the same time, which is in minutes."""
    layout = blank(theme) | {"showlegend": False, "height": HIGH * max(len(traces), 1) + 60}
    layout["margin"] = {"l": 90, "r": 12, "t": 24, "b": 48}
    layout["xaxis"] = axis(theme, word("readings.time")) | {"range": [one / 60 for one in window]}
    layout["uirevision"] = f"{window}"
    data = []
    share = 1.0 / max(len(traces), 1)
    for row, trace in enumerate(traces):
        number = "" if row == 0 else str(row + 1)
        top = 1.0 - row * share
        unit = units if trace.unit == "mm" else {"degC": "°C"}.get(trace.unit, trace.unit)
        scale = from_mm(1.0, units) if trace.unit == "mm" else 1.0
        values = (trace.values * scale).tolist()
        layout[f"yaxis{number}"] = axis(theme, f"{trace.gauge}, {unit}") | {
            "domain": [top - share * 0.86, top],
            "anchor": "x",
            "fixedrange": True,
            "nticks": MARKS,
            "tickformat": f".{_decimals(values)}f",
        }
        data.append(
            {
                "type": "scatter",
                "mode": "lines" if len(values) > 60 else "lines+markers",
                "x": (trace.times / 60).round(6).tolist(),
                "y": values,
                "name": trace.gauge,
                "yaxis": f"y{number}",
                "line": {"color": PAPER[theme]["size"], "width": 1.5},
            }
        )
    layout["xaxis"]["anchor"] = f"y{len(traces)}" if len(traces) > 1 else "y"
    return {"data": data, "layout": layout}


def _decimals(values: Sequence[float]) -> int:
    """Decimals of the marks on an axis of *values*, so that all have as many: steps of 1, 2 or 5.

    >>> _decimals([54.997, 55.036]), _decimals([19.9, 20.5]), _decimals([0.0, 120.0]), _decimals([])
    (2, 1, 0, 0)
    """
    span = max(values, default=0.0) - min(values, default=0.0)
    if span <= 0.0:
        return 0
    least = span / MARKS
    power = 10.0 ** floor(log10(least))
    step = next(power * by for by in (1.0, 2.0, 5.0, 10.0) if power * by >= least * (1.0 - 1e-9))
    return max(0, -floor(log10(step) + 1e-9))


def moved(window: tuple[float, float], move: str, end: float) -> tuple[float, float]:
    """The window after a button: never beyond the recording, never under `LEAST` seconds.

    >>> moved((0.0, 100.0), "closer", 100.0), moved((25.0, 75.0), "later", 100.0)
    ((25.0, 75.0), (50.0, 100.0))
    """
    low, high = window
    wide = max(high - low, LEAST)
    middle = (low + high) / 2
    match move:
        case "closer":
            wide = max(wide / 2, LEAST)
        case "wider":
            wide *= 2
        case "earlier":
            middle -= wide / 2
        case "later":
            middle += wide / 2
        case _:
            return (0.0, max(end, LEAST))
    wide = min(wide, max(end, LEAST))
    low = min(max(middle - wide / 2, 0.0), max(end, LEAST) - wide)
    return (low, low + wide)


def asked(relayout: Any) -> tuple[float, float] | None:
    """The window in seconds that a drag or a double press asks for; None for anything else."""
    if not isinstance(relayout, dict):
        return None
    low, high = relayout.get("xaxis.range[0]"), relayout.get("xaxis.range[1]")
    if isinstance(low, int | float) and isinstance(high, int | float) and low < high:
        return (low * 60.0, high * 60.0)
    return None


def said(traces: Sequence[RawTrace], window: tuple[float, float]) -> str:
    """What is drawn, in words."""
    if not traces:
        return word("readings.none")
    low, high = (f"{one / 60:.2f}" for one in window)
    whole, drawn = sum(one.readings for one in traces), sum(len(one.values) for one in traces)
    if drawn == whole:
        return word("readings.said-all", low=low, high=high, whole=f"{whole:,}")
    return word("readings.said", low=low, high=high, whole=f"{whole:,}", drawn=f"{drawn:,}")
