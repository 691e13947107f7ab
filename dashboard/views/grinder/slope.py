"""The shaft's taper and what to do at the swivel table, by the newest round of stations."""

from __future__ import annotations

from functools import partial
from typing import Any, get_args

from capture.analysis.grind.shaft_taper import taper_of
from capture.sheet.job import Units
from capture.state.session import State
from capture.text.rounded import rounded
from dashboard.text.screen import word
from dashboard.views.grinder.coach import advised, begun
from dashboard.views.lengths import indicator, small
from dashboard.views.memo import remember_by
from dashboard.views.size import K95, head

SPAN = {"mm": 100.0, "in": 25.4}
"""Length over which a slope is stated, mm."""

_FOUND = {
    units: remember_by(lambda state: (state.stations, state.job), partial(taper_of, units=units))
    for units in get_args(Units)
}
"""What rests on the readings taken alone; its advice names lengths, so there is one for each unit."""


def slope(state: State, units: Units) -> dict[str, Any]:
    """Rows of slope, table, what the table can't take out, and stock left; and the advice as a sentence.

    The newest round alone gives the slope. What to do about it the coach says where it advises: it knows
    every round, and what the spring still hides; two advices about one table would help nobody.
    """
    found, advice = _FOUND[units](state), advised(state, units)
    table = None if advice is None else advice["table"]
    say, verdict = found["advice"], found["verdict"]
    if table is not None:
        say, verdict = table["say"], table["advice"]
        found = {**found, "adjust": table["indicator"] or None}
    return {
        "taper[]": [] if found["slope"] is None else _rows(found, _left(state, found, units), units),
        "taper-advice": begun(say),
        "taper-advice@data-state": verdict,
    }


def _rows(
    found: dict[str, Any], left: tuple[float | None, float | None], units: Units
) -> list[list[list[str]]]:
    over = word(f"taper.over-{units}")
    taper = f"{small(abs(found['slope']) * SPAN[units], units)} {over}"
    if found["u_slope"] is not None:
        taper += f" ± {small(K95 * found['u_slope'] * SPAN[units], units)}"
    end = word("taper.tailstock" if found["slope"] > 0 else "taper.headstock")
    rows = [[[word("taper.slope")], [taper], [end]]]
    if found["adjust"] is not None:
        rows.append([[word("taper.adjust")], [indicator(found["adjust"], units)], [""]])
    rest = [("residual", found["residual"], None), ("stock_left", *left)]
    return rows + [
        [[word(f"taper.{key}")], [small(value, units, step)], [""]]
        for key, value, step in rest
        if value is not None
    ]


def _left(state: State, found: dict[str, Any], units: Units) -> tuple[float | None, float | None]:
    """Stock left as the sizes on the page give it, mm, and the gauge's step."""
    headline = head(state)
    if found["stock_left"] is None or headline.aim is None:
        return found["stock_left"], headline.step
    aim = headline.aim.aim
    smallest = rounded(aim + found["stock_left"], headline.step, units)
    return smallest - rounded(aim, headline.step, units), headline.step
