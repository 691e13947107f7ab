"""Lapping between stages: what came off, what to do next, and where the bore is still tight."""

from __future__ import annotations

from typing import Any

from capture.metrology.bore.lap_choice import LapChoice
from capture.metrology.bore.lapping import COVERAGE, Guidance
from capture.metrology.message import message
from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.session import State
from capture.text.catalogue import sentence, sentences
from dashboard.text.screen import word
from dashboard.views.bore.shape import bore_of, words_of
from dashboard.views.lengths import fine, fine_unit, place, size, small, within
from dashboard.views.size import K95


def lap(state: State, units: Units) -> dict[str, Any]:
    """What the newest lap did, what to do next, and where the bore is still tight."""
    bore = bore_of(state)
    found = bore.guidance
    if found is None:
        return {
            "bore-advice": word("bore.lap-none"),
            "bore-advice@data-state": None,
            "bore-lap[]": [],
            "bore-tight[]": [],
            "bore-tight-none": word("bore.tight-none"),
            "bore-caution": "",
            "bore-cautions[]": [],
        }
    tight = sorted(found.stocks, key=lambda stock: -stock.tight)[:6]
    cautions = [sentence(caution.text, units) for caution in found.cautions]
    most = max((stock.tight for stock in tight), default=0.0) or 1.0
    return {
        "bore-advice": " ".join(sentences(found.said, units, bore.step)),
        "bore-advice@data-state": "stop" if found.stop else None,
        "bore-lap[]": [*_lapped(found, units, bore.step), *_which(bore.lap, units)],
        "bore-tight[]": [
            [
                [words_of(PlannedPlace(*stock.spot), units)],
                [
                    small(max(stock.tight, 0.0), units, bore.step),
                    "bar",
                    f"{max(stock.tight, 0.0) / most:.3f}",
                ],
                [""]
                if stock.removed is None
                else [word("bore.tight-off", removed=small(stock.removed, units, bore.step))],
            ]
            for stock in tight
        ],
        "bore-tight-none": "",
        "bore-caution": cautions[0] if cautions else "",
        "bore-cautions[]": [[[one]] for one in cautions[1:]],
    }


def _lapped(found: Guidance, units: Units, step: float | None) -> list[list[list[str]]]:
    rows: list[list[list[str]]] = []
    if found.removed is not None:
        u = within(K95 * (found.u_removed or 0.0), units, step)
        by = word("bore.lap-removed-by", removed=small(found.removed, units, step), u=u)
        rows.append([[word("bore.lap-removed")], [by]])
    rates = [
        word(f"bore.lap-{name}", rate=_rate(value, units))
        for name, value in (("stroke", found.per_stroke), ("minute", found.per_minute))
        if value is not None
    ]
    if rates:
        rows.append([[word("bore.lap-rate")], [", ".join(rates)]])
    if found.strokes_left is not None and not found.stop:
        u = f"{COVERAGE * (found.u_strokes_left or 0.0):.0f}"
        by = word("bore.lap-strokes-by", strokes=f"{found.strokes_left:.0f}", u=u)
        rows.append([[word("bore.lap-strokes")], [by]])
    if found.minutes_left is not None and not found.stop:
        rows.append([[word("bore.lap-minutes")], [f"{found.minutes_left:.1f}"]])
    if found.stop_at is not None:
        by = word("bore.lap-limit-by", limit=size(found.stop_at, units))
        rows.append([[word("bore.lap-limit")], [by]])
    return rows


def _which(chosen: LapChoice | None, units: Units) -> list[list[list[str]]]:
    """The lap for what is left: which, how far opened, how long, and where to stroke."""
    if chosen is None:
        return []
    low, high = (small(one, units) for one in chosen.grain)
    short, long = (place(round(one), units) for one in chosen.length)
    start, end = size(chosen.start, units), size(chosen.end, units)
    return [
        [[word("bore.lap-which")], [word("bore.lap-which-by", lap=chosen.lap, low=low, high=high)]],
        [
            [word("bore.lap-open")],
            [word("bore.lap-open-by", start=start, end=end, step=small(chosen.step, units))],
        ],
        [[word("bore.lap-long")], [word("bore.lap-long-by", short=short, long=long)]],
        [[word("bore.lap-form", form=chosen.form)], [sentence(message(chosen.pattern), units)]],
        [[word("bore.lap-basis")], [chosen.basis]],
    ]


def _rate(value: float, units: Units) -> str:
    """A rate is small: three significant figures."""
    return f"{fine(value, units) or 0.0:.3g} {fine_unit(units)}"
