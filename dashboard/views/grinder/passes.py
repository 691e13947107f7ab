"""What each pass took off, and the diameter after it."""

from __future__ import annotations

from typing import Any

from capture.sheet.job import Units
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from dashboard.text.screen import word
from dashboard.views.lengths import fine, fine_unit, size, small
from dashboard.views.size import K95, target

LAST = 8
"""Passes in the table."""
TREND = 60
"""Passes in the trend: with more, each is too narrow to see."""


def removed(rows: list[PassRow], index: int) -> float | None:
    """What the pass took off, mm: as the model has it, else the difference of the sizes."""
    found = rows[index].outlook
    if found is None:
        return None
    if found.removed is not None or index == 0:
        return found.removed
    before = rows[index - 1].outlook
    return (
        before.size - found.size
        if before is not None and before.size is not None and found.size is not None
        else None
    )


def passes(state: State, units: Units) -> dict[str, Any]:
    """Rows of the table, newest first; a cell is its text, its state, and the share its bar fills."""
    rows = state.grind.passes[-LAST - 1 :]
    off = [removed(rows, i) for i in range(len(rows))]
    largest = max((abs(value) for value in off if value is not None), default=0.0) or 1.0
    table = [
        [
            [str(row.number)],
            [_infeed(row, units)],
            [small(value, units), "bar", f"{max(value or 0.0, 0.0) / largest:.3f}"],
            [size(row.outlook.size if row.outlook else None, units)],
            [small(row.outlook.to_come if row.outlook else None, units)],
        ]
        for row, value in zip(rows, off, strict=True)
    ][-LAST:]
    return {"passes[]": table[::-1], "passes-none": "" if table else word("passes.none")}


def _infeed(row: PassRow, units: Units) -> str:
    if row.infeed is None:
        return word("passes.not-known")
    text = small(row.infeed, units) if row.infeed else word("passes.no-infeed")
    return f"{text} ({word('passes.found')})" if row.found else text


def trend(state: State, units: Units) -> dict[str, Any]:
    """Numbers of the trend: deviations from the aim (or the newest size) in µm or tenths.

    ``traces`` fill those of the figure in order: band, aim, predicted, sizes.
    """
    rows = [row for row in state.grind.passes if row.number > state.grind.first][-TREND:]
    sized = [(row, row.outlook) for row in rows if row.outlook is not None and row.outlook.size is not None]
    aim = target(state.job, state.stations)
    if not sized and aim is None:
        return {"trend#figure": None}
    reference = aim.aim if aim is not None else round(sized[-1][1].size or 0.0, 3)

    def at(value: float | None) -> float | None:
        number = fine(None if value is None else value - reference, units)
        return None if number is None else round(number, 2)

    numbers = [row.number for row, _ in sized]
    sizes = [at(found.size) for _, found in sized]
    ends = [
        (row.number, at(found.predicted), fine(K95 * (found.u_predicted or 0.0), units))
        for row, found in sized
    ]
    known = [(n, end, round(u or 0.0, 2)) for n, end, u in ends if end is not None]
    band = None if aim is None else (aim.band or (aim.least, aim.most))
    low, high = (None, None) if band is None else (at(band[0]), at(band[1]))
    first, last = (numbers[0], numbers[-1]) if numbers else (0, 0)
    x = [first - 0.6, max(last, first + 5) + 0.6]
    values = [v for v in [*sizes, low, high, 0.0 if aim else None] if v is not None]
    values += [end + sign * u for _, end, u in known[-5:] for sign in (1, -1)]
    margin = max(0.08 * (max(values) - min(values)), 0.5)
    return {
        "trend#figure": {
            "x": x,
            "y": [round(min(values) - margin, 2), round(max(values) + margin, 2)],
            "title": word("trend.axis", unit=fine_unit(units), reference=size(reference, units)),
            "traces": [
                {"x": [*x, *x[::-1]], "y": [low, low, high, high]} if band else {"x": [], "y": []},
                {"x": x, "y": [0.0, 0.0]} if aim else {"x": [], "y": []},
                {
                    "x": [n for n, _, _ in known],
                    "y": [end for _, end, _ in known],
                    "error": [u for _, _, u in known],
                },
                {"x": numbers, "y": sizes},
            ],
        }
    }
