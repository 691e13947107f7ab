"""Passes as rows of text for terminal and papers: no finer than the gauge, each following from the last.

What came off is the difference of two sizes as they are shown, and what is to come that of the size and the
predicted one, so that a person who subtracts finds the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from capture.sheet.job import Units
from capture.text.lengths import short, size, small, within
from capture.text.rounded import rounded

HEAD: Final = ("pass", "infeed", "size at 20 °C", "came off", "to come", "predicted", "verdict")

PLATED_BETWEEN: Final = 0.05
"""mm by which no warm part grows from pass to pass: 55 mm of steel by 80 °C (common practice, no source)."""


def shown_passes(rows: Sequence[Mapping[str, Any]], units: Units) -> list[tuple[str, ...]]:
    """The passes of `capture.analysis.summary.summary`, a cell for each word of `HEAD`; "*" was found."""
    made: list[tuple[str, ...]] = []
    before = None
    for row in rows:
        step = row["step"]
        whole, end = _at(row["value_20c"], step, units), _at(row["predicted"], step, units)
        off = came_off(before, whole, row["removed"])
        come = None if whole is None or end is None or row["to_come"] is None else max(whole - end, 0.0)
        u = within(2 * (row["u_predicted"] or 0.0), units, step)
        made.append(
            (
                str(row["number"]) + ("*" if row["found"] else ""),
                _infeed(row["infeed"], units),
                size(whole, units, step=step),
                small(off, units, step=step),
                small(come, units, step=step),
                "–" if end is None else f"{size(end, units, step=step)} ± {u}",
                row["called"],
            )
        )
        before = whole
    return made


def came_off(before: float | None, here: float | None, removed: float | None) -> float | None:
    """What a pass took off, mm: of two sizes as they are shown, where both are of one setting of the part.

    A part that was plated between two passes is larger after the second by more than heat makes it; then, and
    where a size is missing, it is what the model knows of the pass itself, or not known.

    >>> round(came_off(55.010, 55.006, 0.0042), 6), came_off(54.708, 55.109, None), came_off(None, 55.1, 0.02)
    (0.004, None, 0.02)
    """
    if before is None or here is None or here - before > PLATED_BETWEEN:
        return removed
    return before - here


def _at(value: float | None, step: float | None, units: Units) -> float | None:
    return None if value is None else rounded(value, step, units)


def _infeed(value: float | None, units: Units) -> str:
    if value is None:
        return "not known"
    return short(value, units) if value else "none"
