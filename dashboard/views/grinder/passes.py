"""What each pass took off, and the diameter after it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from capture.report.shown_passes import came_off
from capture.sheet.job import Units
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.text.lengths import short
from capture.text.rounded import rounded
from dashboard.text.screen import word
from dashboard.views.lengths import fine, fine_unit, size, small
from dashboard.views.size import K95, head

LAST = 8
"""Passes in the table."""
TREND = 60
"""Passes in the trend: with more, each is too narrow to see."""


def passes(state: State, units: Units) -> dict[str, Any]:
    """Rows of the table, newest first; a cell is its text, its state, and the share its bar fills.

    Sizes are rounded as the headline's are, and what came off is the difference of two of them, so that a
    person who subtracts finds the same.
    """
    step = head(state).step
    rows = state.grind.passes[-LAST - 1 :]
    sizes = [_size(row, step, units) for row in rows]
    off = [_off(rows, sizes, i) for i in range(len(rows))]
    largest = max((abs(value) for value in off if value is not None), default=0.0) or 1.0
    table = [
        [
            [str(row.number)],
            [_infeed(row, units)],
            [small(value, units, step), "bar", f"{max(value or 0.0, 0.0) / largest:.3f}"],
            [size(whole, units, step)],
            [small(_come(row, whole, step, units), units, step)],
        ]
        for row, value, whole in zip(rows, off, sizes, strict=True)
    ][-LAST:]
    under = word("passes.found-note") if any(row.found for row in rows[-LAST:]) else ""
    return {"passes[]": table[::-1], "passes-none": under if table else word("passes.none")}


def _size(row: PassRow, step: float | None, units: Units) -> float | None:
    value = None if row.outlook is None else row.outlook.size
    return None if value is None else rounded(value, step, units)


def _off(rows: list[PassRow], sizes: list[float | None], index: int) -> float | None:
    """What the pass took off: of the first of a stage as the model has it, else by the sizes shown."""
    found = rows[index].outlook
    removed = None if found is None else found.removed
    return came_off(sizes[index - 1] if index else None, sizes[index], removed)


def _come(row: PassRow, whole: float | None, step: float | None, units: Units) -> float | None:
    found = row.outlook
    if found is None or found.to_come is None or found.predicted is None or whole is None:
        return None
    return max(whole - rounded(found.predicted, step, units), 0.0)


def _infeed(row: PassRow, units: Units) -> str:
    if row.infeed is None:
        return word("passes.not-known")
    text = short(row.infeed, units) if row.infeed else word("passes.no-infeed")
    return f"{text} {word('passes.found')}" if row.found else text


def trend(state: State, units: Units) -> dict[str, Any]:
    """Numbers of the trend: deviations from the aim (or the newest size) in µm or tenths.

    ``traces`` fill those of the figure in order: band, aim, predicted, sizes.
    """
    rows = [row for row in state.grind.passes if row.number > state.grind.first][-TREND:]
    sized = [(row, row.outlook) for row in rows if row.outlook is not None and row.outlook.size is not None]
    found = head(state)
    aim, step = found.aim, found.step
    if not sized and aim is None:
        return {"trend#figure": None, "trend-none": _none_yet(state)}
    reference = aim.aim if aim is not None else round(sized[-1][1].size or 0.0, 3)

    def at(value: float | None) -> float | None:
        number = fine(None if value is None else value - reference, units)
        return None if number is None else round(number, 2)

    numbers = [row.number for row, _ in sized]
    sizes = [at(outlook.size) for _, outlook in sized]
    ends = [
        (row.number, at(outlook.predicted), fine(K95 * (outlook.u_predicted or 0.0), units))
        for row, outlook in sized
    ]
    known = [(n, end, round(u or 0.0, 2)) for n, end, u in ends if end is not None]
    band = None if aim is None else (aim.band or (aim.least, aim.most))
    low, high = (None, None) if band is None else (at(band[0]), at(band[1]))
    first, last = (numbers[0], numbers[-1]) if numbers else (0, 0)
    x = [first - 0.6, max(last, first + 5) + 0.6]
    none: dict[str, Any] = {"x": [], "y": []}
    return {
        "trend-none": "" if sized else _none_yet(state),
        "trend#figure": {
            "x": x,
            "y": _range([*sizes, low, high, 0.0 if aim else None], known[-5:]),
            "title": word("trend.axis", unit=fine_unit(units), reference=size(reference, units, step)),
            "traces": [
                {"x": [*x, *x[::-1]], "y": [low, low, high, high]} if band else none,
                {"x": x, "y": [0.0, 0.0]} if aim else none,
                {
                    "x": [n for n, _, _ in known],
                    "y": [end for _, end, _ in known],
                    "error": [u for _, _, u in known],
                },
                {"x": numbers, "y": sizes},
            ],
        },
    }


def _none_yet(state: State) -> str:
    """What will appear where no pass has been measured."""
    return word("trend.none-power" if state.powers else "trend.none")


def _range(values: Sequence[float | None], predicted: Sequence[tuple[int, float, float]]) -> list[float]:
    """The range of the vertical axis: all *values*, and the newest predictions with their intervals."""
    shown = [value for value in values if value is not None]
    shown += [end + sign * u for _, end, u in predicted for sign in (1, -1)]
    margin = max(0.08 * (max(shown) - min(shown)), 0.5)
    return [round(min(shown) - margin, 2), round(max(shown) + margin, 2)]
