"""The clearance over the travel: smallest and largest as lines, and every place as a shaded table."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from typing import Any

from dash import dcc, html

from capture.metrology.units import from_mm
from capture.sheet.job import Units
from dashboard.text.screen import word
from dashboard.views.analysis.figure import axis, blank, faded
from dashboard.views.elements.boxes import box
from dashboard.views.elements.controls import plain
from dashboard.views.elements.theme import PAPER, Theme
from dashboard.views.lengths import fine, fine_unit, place, small_parts

ACROSS = 13
"""Most columns of the table; with more, every so many are left out, never the smallest place."""
DOWN = 13
STIFF = ("tight", "binds")
"""Feels of a trial assembly that have a place in the bore."""

Row = tuple[float, list[tuple[float, float]]]


Tries = Sequence[Mapping[str, Any]]
"""Trial assemblies as `capture.analysis.steps.trial_assembly.tries_beside` gives them."""


def travel(found: Mapping[str, Any], units: Units, theme: Theme, tries: Tries = ()) -> list[Any]:
    """The section with both drawings; says what is missing where the travel is not known.

    What was tried by hand is laid over both: each try at its place of the shaft, and where it was tight or
    bound, the tightest place of the bore there.
    """
    positions = found["clearance"]["positions"]
    if not positions:
        return [box(word("fit.map"), html.P(word("fit.map-none"), className="empty"))]
    graph = dcc.Graph(
        figure=figure(found, units, theme, tries),
        config={"displayModeBar": False, "staticPlot": True},
        responsive=True,
    )
    unit = fine_unit(units)
    note = html.P(word("fit.map-note", unit=unit), className="note-line")
    drawn = html.Div(graph, className="drawn", role="img", **plain(aria_label=word("fit.map")))
    said = [html.Ul([html.Li(line) for one in tries for line in one["said"]])] if tries else []
    return [box(word("fit.map"), drawn, _table(found, units, tries), note, *said)]


def figure(found: Mapping[str, Any], units: Units, theme: Theme, tries: Tries = ()) -> dict[str, Any]:
    """Smallest and largest clearance by where the shaft stands, between the limits."""
    positions, paper = found["clearance"]["positions"], PAPER[theme]
    along = [round(from_mm(each["offset"], units), 4) for each in positions]
    ends = [along[0], along[-1]] if along[0] != along[-1] else [along[0] - 1, along[0] + 1]
    band, limits = found["decision"]["band"], found["decision"]["limits"]
    filled = {"fill": "toself", "fillcolor": faded(paper["band"])}
    data = [_between("travel-band", limits, ends, units, {"color": paper["band"], "width": 2}) | filled]
    if band is not None:
        line = {"color": paper["band"], "width": 2, "dash": "dash"}
        data.append(_between("travel-guarded", band, ends, units, line))
    looks = (("most", paper["predicted"], "diamond-open"), ("least", paper["size"], "circle"))
    data += [
        {
            "name": word(f"fit.travel-{name}"),
            "mode": "lines+markers",
            "x": along,
            "y": [fine(each[name], units) for each in positions],
            "marker": {"color": colour, "size": 9, "symbol": symbol},
            "line": {"color": colour, "width": 3},
        }
        for name, colour, symbol in looks
    ]
    known = [one for one in tries if one["offset"] is not None]
    if known:
        data.append(_tried(known, units, paper["ink"]))
    layout = blank(theme)
    layout["xaxis"] = axis(theme, f"{word('fit.travel')}, {word(f'unit.{units}')}")
    layout["yaxis"] = axis(theme, fine_unit(units)) | {"rangemode": "tozero"}
    return {"data": data, "layout": layout}


def _between(
    name: str, limits: Sequence[float], ends: Sequence[float], units: Units, line: Mapping[str, Any]
) -> dict[str, Any]:
    """The outline of a band of clearance over the whole travel."""
    low, high = (fine(one, units) for one in limits)
    return {
        "name": word(f"fit.{name}"),
        "mode": "lines",
        "x": [*ends, *ends[::-1], ends[0]],
        "y": [low, low, high, high, low],
        "line": line,
    }


def _tried(known: Tries, units: Units, ink: str) -> dict[str, Any]:
    """Trial assemblies at their depths, each with its feel."""
    return {
        "name": word("fit.tried"),
        "mode": "markers+text",
        "x": [round(from_mm(one["depth"], units), 4) for one in known],
        "y": [fine(one["least"], units) for one in known],
        "text": [word(f"feel.{one['feel']}") for one in known],
        "textposition": "top center",
        "textfont": {"color": ink, "size": 14},
        "marker": {"color": ink, "size": 16, "symbol": "star-triangle-down"},
    }


def _table(found: Mapping[str, Any], units: Units, tries: Tries) -> html.Div:
    clearance, limits = found["clearance"], found["decision"]["limits"]
    columns, rows = lattice(clearance["positions"], tries)
    stiff = {(one["offset"], one["bore"]): one["feel"] for one in tries if one["feel"] in STIFF}
    tightest = min((value, offset, z) for offset, known in rows for z, value in known)
    head = [html.Th(word("fit.offset"), scope="col")]
    head += [html.Th(place(round(z, 2), units), scope="col") for z in columns]
    body = []
    for offset, known in rows:
        felt = [word(f"feel.{one['feel']}") for one in tries if one["offset"] == offset]
        at = " ▼ ".join([place(round(offset, 2), units), *dict.fromkeys(felt)])
        cells: list[Any] = [html.Th(at, scope="row")]
        for z in columns:
            value = between(known, z)
            mark = " ◆" if (value, offset, z) == tightest else ""
            feel = stiff.get((offset, z))
            mark += f" ▼ {word(f'feel.{feel}')}" if feel else ""
            cells.append(_cell(value, limits, units, mark, felt=feel is not None, step=clearance["step"]))
        body.append(html.Tr(cells))
    caption = word("fit.map-caption", unit=fine_unit(units))
    table = html.Table(
        [html.Caption(caption, className="hidden"), html.Thead(html.Tr(head)), html.Tbody(body)],
        className="map",
    )
    return html.Div(table, className="grid", tabIndex="0", role="region", **plain(aria_label=caption))


def _cell(
    value: float | None,
    limits: Sequence[float],
    units: Units,
    mark: str,
    *,
    felt: bool,
    step: float | None = None,
) -> html.Td:
    if value is None:
        return html.Td("")
    low, high = limits
    outside = not low <= value <= high
    share = min(max((high - value) / (high - low), 0.0), 1.0)
    text = small_parts(value, units, step)[0]
    mark += " ✕" if outside else ""
    more = {"data_state": "out" if outside else "in"} | ({"data_felt": "yes"} if felt else {})
    return html.Td(text + mark, style={"--share": f"{share:.2f}"}, **plain(**more))


def lattice(positions: Sequence[Mapping[str, Any]], tries: Tries = ()) -> tuple[list[float], list[Row]]:
    """Columns and rows of the table: places in the bore, and positions with what is known at each.

    The places are where any position bends; the smallest one keeps its column and its row, and so does
    what was tried by hand.
    """
    rows: list[Row] = [
        (each["offset"], sorted((one["bore"], one["value"]) for one in each["places"])) for each in positions
    ]
    _, row, column = min((value, index, z) for index, (_, known) in enumerate(rows) for z, value in known)
    columns = sorted({z for _, known in rows for z, _ in known})
    columns = thinned(columns, {column, *(one["bore"] for one in tries if one["bore"] in columns)}, ACROSS)
    felt = {one["offset"] for one in tries}
    tried = {index for index, (offset, _) in enumerate(rows) if offset in felt}
    kept = thinned(list(range(len(rows))), {row, *tried}, DOWN)
    return columns, [rows[index] for index in kept]


def thinned(values: list[Any], kept: Collection[Any], most: int) -> list[Any]:
    """At most about *most* of the values, evenly; the ends and all of *kept* are always among them.

    >>> thinned([0, 1, 2, 3, 4, 5, 6, 7, 8], {5}, 4)
    [0, 3, 5, 6, 8]
    """
    if len(values) <= most:
        return values
    step = -(-(len(values) - 1) // (most - 1))
    chosen = {*range(0, len(values), step), len(values) - 1, *(values.index(one) for one in kept)}
    return [values[index] for index in sorted(chosen)]


def between(known: Sequence[tuple[float, float]], z: float) -> float | None:
    """The clearance at z: straight between the places worked out; None beyond them."""
    for at, value in known:
        if at == z:
            return value
    for (low, first), (high, second) in pairwise(known):
        if low < z < high:
            return first + (second - first) * (z - low) / (high - low)
    return None
