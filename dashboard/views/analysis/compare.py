"""Two recordings overlaid, and decisions as they were made beside those made again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component
from msgspec import Struct

from capture.analysis.grind.headline import called_of, step_of
from capture.analysis.grind.what_if import by_name, played
from capture.events import Flag
from capture.report.terminal.what_if_text import what_if_text
from capture.sheet.job import Units
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.state.target import target
from capture.text.lengths import percent
from dashboard.text.screen import WORDS, word
from dashboard.views.analysis.figure import axis, blank
from dashboard.views.elements.boxes import box, grid
from dashboard.views.elements.controls import plain
from dashboard.views.elements.theme import PAPER, Theme
from dashboard.views.lengths import fine, fine_unit, size, small

TICK = 500
"""Milliseconds between two looks at how far the decisions are."""


class OverlaidRecording(Struct, frozen=True):
    """A recording that is overlaid."""

    name: str
    state: State


def compare_page() -> list[Component]:
    """Fields for the other recording and for settings, and places for what comes of them."""
    other = _field("compare-with", word("compare.with"), "compare-with-fault", list="compare-names")
    settings = _field("compare-settings", word("compare.settings"), "compare-settings-fault")
    names = html.Datalist([], id="compare-names")
    return [
        box(
            word("compare.overlaid"),
            html.Div([other, names], className="fields wide"),
            html.Div("", id="compare-overlay"),
        ),
        box(
            word("compare.decided"),
            html.P(word("compare.note"), className="note-line"),
            html.Div([settings], className="fields wide"),
            html.Div(
                [
                    html.Button(word("compare.stop"), id="compare-stop", type="button", hidden=True),
                    html.Button(word("compare.begin"), id="compare-begin", type="button", hidden=True),
                ],
                className="fields",
            ),
            html.Div(html.P(word("request.working"), className="empty"), id="compare-decisions"),
            dcc.Interval(id="compare-tick", interval=TICK, disabled=True),
        ),
    ]


def _field(name: str, label: str, fault: str, **more: Any) -> html.Div:
    entry = dcc.Input(id=name, type="text", autoComplete="off", debounce=0.5, **more)
    text = html.Label([html.Span(label), html.Span("", id=fault, className="fault")], htmlFor=name)
    return html.Div([text, entry], className="field")


def overlay(overlaid: Sequence[OverlaidRecording], units: Units, theme: Theme) -> list[Any]:
    """Size at 20 °C after each pass, from each recording's own aim, one over the other."""
    paper = PAPER[theme]
    looks = ((paper["size"], "circle", "solid"), (paper["predicted"], "diamond-open", "dash"))
    data: list[dict[str, Any]] = []
    for one, (colour, symbol, dash) in zip(overlaid, looks, strict=False):
        numbers, values = _sizes(one.state, units)
        data.append(
            {
                "name": one.name,
                "mode": "lines+markers",
                "x": numbers,
                "y": values,
                "marker": {"color": colour, "size": 10, "symbol": symbol},
                "line": {"color": colour, "width": 3, "dash": dash},
            }
        )
    layout = blank(theme)
    layout["xaxis"] = axis(theme, word("trend.pass"))
    layout["yaxis"] = axis(theme, word("compare.axis", unit=fine_unit(units)))
    graph = dcc.Graph(
        figure={"data": data, "layout": layout},
        config={"displayModeBar": False, "staticPlot": True},
        responsive=True,
    )
    return [html.Div(graph, className="drawn", role="img", **plain(aria_label=word("compare.overlaid")))]


def has_sizes(state: State) -> bool:
    """Whether there is anything of it to overlay."""
    return bool(_sizes(state, "mm")[0])


def _sizes(state: State, units: Units) -> tuple[list[int], list[float | None]]:
    """Passes since the stage began, and how far each left the part from the aim, or from its last size."""
    rows = [row for row in state.grind.passes if row.number > state.grind.first]
    sized = [
        (row.number - state.grind.first, row.outlook.size)
        for row in rows
        if row.outlook is not None and row.outlook.size is not None
    ]
    if not sized:
        return [], []
    aim = target(state.job, state.stations)
    reference = aim.aim if aim is not None else sized[-1][1]
    return [number for number, _ in sized], [fine(value - reference, units) for _, value in sized]


def progress(phase: str, share: float, events: int, why: str) -> list[Any]:
    """How far the decisions are; why there are none, where they were stopped or failed."""
    if phase != "working":
        return [html.P(why or word(f"compare.{phase}"), role="status")]
    bar = html.Progress(value=f"{share:.3f}", max="1", **plain(aria_label=word("compare.decided")))
    return [html.P(word("compare.working", share=percent(share), events=f"{events:,}")), bar]


def decisions(made: State, again: State, units: Units) -> list[Any]:
    """Passes and flags as they were decided, and again; what differs is marked ≠."""
    rows = _passes(made, again, units)
    head = ("pass", "verdict", "verdict-again", "size", "size-again", "come", "come-again", "same")
    flags = _flags(made, again)
    flag_head = ("pass", "flag", "flag-again", "same")
    changed = sum(1 for row in rows if row[-1][1] == "changed")
    return [
        html.P(word("compare.changed", changed=changed, whole=len(rows)), role="status"),
        grid(word("compare.passes"), [word(f"compare.{one}") for one in head], rows, numbers=1),
        html.H3(word("compare.flags")),
        grid(word("compare.flags"), [word(f"compare.{one}") for one in flag_head], flags)
        if flags
        else html.P(word("compare.no-flags")),
        *_whatif(again, units),
    ]


def _whatif(again: State, units: Units) -> list[Any]:
    """What the advice by these limits would have come to; nothing where nothing else was done."""
    game = played(again)
    return [] if game is None else [html.P(what_if_text(by_name(game, units), units), className="what-if")]


Cell = str | tuple[str, str]


def _passes(made: State, again: State, units: Units) -> list[list[Any]]:
    both = [{row.number: row for row in state.grind.passes} for state in (made, again)]
    called = [called_of(state) for state in (made, again)]
    step = step_of((), made.job)
    rows: list[list[Any]] = []
    for number in sorted({*both[0], *both[1]}):
        one, other = (
            _cells(each.get(number), said.get(number, ""), units, step)
            for each, said in zip(both, called, strict=True)
        )
        pairs = [cell for pair in zip(one, other, strict=True) for cell in pair]
        rows.append([str(number), *pairs, _same(one == other)])
    return rows


def _cells(row: PassRow | None, called: str, units: Units, step: float | None) -> tuple[str, str, str]:
    found = None if row is None else row.outlook
    if found is None:
        return (word("unknown"),) * 3
    verdict = WORDS.get(f"flag.{called}", called.capitalize())
    return verdict, size(found.size, units, step), small(found.to_come, units, step)


def _same(same: bool) -> Cell:
    return ("=", "") if same else ("≠", "changed")


def _flags(made: State, again: State) -> list[list[Any]]:
    """Flags by pass: what was raised then, and what is raised again."""
    both: list[Mapping[int, list[str]]] = [_raised(state) for state in (made, again)]
    rows: list[list[Any]] = []
    for number in sorted({*both[0], *both[1]}):
        one, other = (", ".join(each.get(number, [])) or word("unknown") for each in both)
        rows.append([str(number), one, other, _same(one == other)])
    return rows


def _raised(state: State) -> dict[int, list[str]]:
    found: dict[int, list[str]] = {}
    for event in state.flags:
        if isinstance(event.fact, Flag):
            what = event.fact.what
            found.setdefault(event.fact.pass_ or 0, []).append(WORDS.get(f"flag.{what}", what))
    return found
