"""How well the judge of a grind does, over simulated sessions with the truth beside each judgement."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from capture.benchmarks.rows import Row
from capture.simulator.trials import KINDS, run


def accuracy_rows(*, sessions: int, told: Callable[[int], None] | None = None) -> Iterator[Row]:
    """By kind of session: delay of the spark-out, false calls, error and calibration of the prediction."""
    for kind, what in KINDS.items():
        found = run(sessions, kind, told=told)
        note = f"{what}; {found.sessions} sessions"
        naive = "two small differences in a row"
        yield Row(
            f"{kind}: delay, median", found.delay_median, "passes", naive, found.naive_median, note=note
        )
        yield Row(f"{kind}: delay, p90", found.delay_p90, "passes", naive, found.naive_p90)
        yield Row(f"{kind}: false calls", 100 * found.false, "%", naive, 100 * found.naive_false)
        yield Row(f"{kind}: error at the last infeed", 1000 * found.error_at_stop, "µm")
        yield Row(f"{kind}: held by the stated 95 %", 100 * found.held_at_stop, "%")
