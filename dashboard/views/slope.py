"""The shaft's taper and what to do at the swivel table, by the newest round of stations."""

from __future__ import annotations

from functools import partial
from typing import Any, get_args

from capture.folds.desk import State
from capture.folds.taper import taper_of
from capture.sheet import Units
from dashboard.remember import remember_by
from dashboard.views.lengths import small
from dashboard.views.size import K95
from dashboard.words import word

SPAN = {"mm": 100.0, "in": 25.4}
"""Length over which a slope is told, mm."""

_FOUND = {
    units: remember_by(lambda state: (state.stations, state.job), partial(taper_of, units=units))
    for units in get_args(Units)
}
"""What rests on the readings taken alone; its advice names lengths, so there is one for each unit."""


def slope(state: State, units: Units) -> dict[str, Any]:
    """Rows of slope, table, what the table can't take out, and stock left; and the advice as a sentence."""
    found = _FOUND[units](state)
    rows = [] if found["slope"] is None else _rows(found, units)
    return {
        "taper[]": rows,
        "taper-advice": found["advice"],
        "taper-advice@data-state": found["verdict"],
    }


def _rows(found: dict[str, Any], units: Units) -> list[list[list[str]]]:
    over = word(f"taper.over-{units}")
    told = f"{small(abs(found['slope']) * SPAN[units], units)} {over}"
    if found["u_slope"] is not None:
        told += f" ± {small(K95 * found['u_slope'] * SPAN[units], units)}"
    end = word("taper.tailstock" if found["slope"] > 0 else "taper.headstock")
    rows = [[[word("taper.slope")], [told], [end]]]
    for key in ("adjust", "residual", "stock_left"):
        if found[key] is not None:
            sign = "+" if key == "adjust" and found[key] > 0 else ""
            rows.append([[word(f"taper.{key}")], [sign + small(found[key], units)], [""]])
    return rows
