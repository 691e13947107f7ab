"""Roundness as a page: the indicator over the turns, the lobes with their uncertainty, and those not seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html
from msgspec import to_builtins

from capture.analysis.roundness.roundness_findings import PlaceRuns, row_of
from capture.analysis.roundness.turned_runs import GaugeRun
from capture.report.terminal.roundness_text import run_text, setup_text
from capture.sheet.job import Units
from capture.text.lengths import small
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.analysis.figure import axis, blank
from dashboard.views.elements.boxes import box, bullets, grid
from dashboard.views.elements.controls import plain
from dashboard.views.elements.theme import PAPER, Theme
from dashboard.views.elements.typed_fields import says, typed_field
from dashboard.views.lengths import fine, fine_unit, place

COLUMNS = ("lobes", "amplitude", "u", "top", "factor", "seen")


def roundness_page() -> list[Any]:
    """What is typed stands outside of what is worked out anew."""
    asked = [
        *typed_field("roundness-words", "roundness.begin-words", "round"),
        *typed_field("mask-words", "roundness.mask-words", "mask"),
        says(word("roundness.turn"), ["turn"]),
        says(word("roundness.done"), ["round", "done"]),
    ]
    note = html.P(word("roundness.begin-note"), className="note-line")
    return [
        box(word("roundness.begin"), note, html.Div(asked, className="fields"), name="roundness-begin"),
    ]


def turned(scene: Scene) -> str:
    """Changes when a run begins or ends or is set aside: to read one takes seconds."""
    state = scene.state
    if state is None:
        return f"{scene.name} {scene.newer}"
    runs = " ".join(f"{run.seq} {run.done} {len(run.masks)}" for run in state.rounds.runs)
    return f"{scene.name} {scene.newer} {runs} {len(state.aside)}"


def roundness_body(
    places: Sequence[PlaceRuns], under_way: int | None, units: Units, theme: Theme
) -> list[Any]:
    """Every place that turned, the newest first; *under_way* is the number of readings of a run not done."""
    beginning = [] if under_way is None else [html.P(word("roundness.under-way", readings=f"{under_way:,}"))]
    if not places and not beginning:
        return [html.P(word("roundness.none"), className="empty")]
    return [*beginning, *(_place(one, units, theme) for one in reversed(places))]


def _place(found: PlaceRuns, units: Units, theme: Theme) -> Any:
    row = row_of(found, units)
    title = word("roundness.place", part=word(f"roundness.{found.part}"), place=place(found.z, units))
    title += word("roundness.stage", stage=found.stage) if found.stage else ""
    title += word("roundness.pass", number=found.pass_) if found.pass_ else ""
    said = [f"{one[0].upper()}{one[1:]}." for one in row["said"]]
    inside: list[Any] = [html.P(said[0], className="lead")] if said else []
    if found.runs:
        inside += [
            grid(word("roundness.sum"), ("", "", ""), _sums(row, units)),
            grid(
                word("roundness.lobes"),
                [word(f"roundness.column-{one}") for one in COLUMNS],
                [_lobe(one, units) for one in row["lobes"]],
                numbers=1,
            ),
            *_form(found, units, theme),
            *(_turns(one, units, theme) for one in found.runs if one.drawn),
            bullets(word("roundness.runs"), [run_text(one, units) for one in row["runs"]]),
        ]
    inside.append(bullets(word("roundness.know"), said[1:]))
    return box(title, *inside)


def _sums(row: Mapping[str, Any], units: Units) -> list[list[str]]:
    def line(name: str, value: float, u: float) -> list[str]:
        return [
            word(f"roundness.{name}"),
            small(value, units, 2),
            word("roundness.u", u=small(2.0 * u, units, 2)),
        ]

    rows = [line("sum", row["roundness"], row["u_roundness"]), line("odd", row["odd"], row["u_odd"])]
    out = row["run_out"]
    return rows if out is None else [*rows, [word("roundness.run-out"), small(out["full"], units), ""]]


def _lobe(one: Mapping[str, Any], units: Units) -> list[str | tuple[str, str]]:
    unknown = word("unknown")
    if one["unseen"]:
        seen = word("roundness.not-seen", why=word(f"roundness.{one['unseen']}"))
    else:
        seen = word("roundness.seen" if one["clear"] else "roundness.not-clear")
    return [
        str(one["lobes"]),
        unknown if one["amplitude"] is None else small(one["amplitude"], units, 2),
        unknown if one["u"] is None else small(2.0 * one["u"], units, 2),
        unknown if one["phase"] is None else f"{one['phase']:.0f}°",
        f"{one['factor']:.2f}",
        (seen, "bad" if one["unseen"] else "good" if one["clear"] else ""),
    ]


def _turns(run: GaugeRun, units: Units, theme: Theme) -> Any:
    """Readings by turn, those that count apart from those left out."""
    paper = PAPER[theme]
    looks = ((True, "counted", paper["size"], "circle"), (False, "left-out", paper["faint"], "x"))
    data = []
    kept = [fine(one.value, units) or 0.0 for one in run.drawn if one.counts] or [0.0]
    for counts, name, colour, symbol in looks:
        shown = [one for one in run.drawn if one.counts is counts]
        data.append(
            {
                "name": word(f"roundness.{name}"),
                "mode": "markers",
                "x": [round(one.turn, 4) for one in shown],
                "y": [round(fine(one.value, units) or 0.0, 3) for one in shown],
                "marker": {"color": colour, "size": 4, "symbol": symbol},
            }
        )
    # a keyway is hundreds of micrometres deep: the surface alone sets the scale
    margin = max(0.15 * (max(kept) - min(kept)), 0.5)
    layout = blank(theme)
    layout["xaxis"] = axis(theme, word("roundness.turns-axis"))
    layout["yaxis"] = axis(theme, fine_unit(units)) | {"range": [min(kept) - margin, max(kept) + margin]}
    named = f"{run.gauge}, {setup_text(to_builtins(run.setup))}"
    return _drawn({"data": data, "layout": layout}, word("roundness.turns", gauge=named))


def _form(found: PlaceRuns, units: Units, theme: Theme) -> list[Any]:
    profile = found.form.profile
    if not profile:
        return [html.P(word("roundness.profile-none"), className="empty")]
    line = {
        "name": word("roundness.profile-line"),
        "mode": "lines",
        "x": list(range(len(profile) + 1)),
        "y": [round(fine(one, units) or 0.0, 3) for one in (*profile, profile[0])],
        "line": {"color": PAPER[theme]["size"], "width": 3},
    }
    layout = blank(theme)
    layout["xaxis"] = axis(theme, word("roundness.profile-axis")) | {"range": [0, 360], "dtick": 45}
    layout["yaxis"] = axis(theme, fine_unit(units))
    return [_drawn({"data": [line], "layout": layout}, word("roundness.profile"))]


def _drawn(figure: dict[str, Any], title: str) -> html.Div:
    graph = dcc.Graph(figure=figure, config={"displayModeBar": False, "staticPlot": True}, responsive=True)
    drawn = html.Div(graph, className="drawn", role="img", **plain(aria_label=title))
    return html.Div([html.H3(title), drawn])
