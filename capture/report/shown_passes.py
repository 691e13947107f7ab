"""Passes as rows of text for terminal and papers: no finer than the gauge, each following from the last.

What came off is the difference of two sizes as they are shown, and what is to come that of the size and the
predicted one, so that a person who subtracts finds the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from capture.sheet.job import Units
from capture.text.lengths import size, small, within
from capture.text.rounded import rounded

HEAD: Final = ("pass", "infeed", "size at 20 °C", "came off", "to come", "predicted", "verdict")


def shown_passes(rows: Sequence[Mapping[str, Any]], units: Units) -> list[tuple[str, ...]]:
    """The passes of `capture.analysis.summary.summary`, a cell for each word of `HEAD`; "*" was found."""
    made: list[tuple[str, ...]] = []
    before = None
    for row in rows:
        step = row["step"]
        whole, end = _at(row["value_20c"], step, units), _at(row["predicted"], step, units)
        off = row["removed"] if whole is None or before is None else before - whole
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


def _at(value: float | None, step: float | None, units: Units) -> float | None:
    return None if value is None else rounded(value, step, units)


def _infeed(value: float | None, units: Units) -> str:
    if value is None:
        return "not known"
    return small(value, units) if value else "none"
