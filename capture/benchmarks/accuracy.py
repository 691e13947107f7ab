"""How well the judge of a grind does, over simulated sessions with the truth beside each judgement."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.grinding import grind_apart
from capture.benchmarks.trials.grinding.grind import KINDS, run
from capture.benchmarks.trials.grinding.grind_figures import GrindFigures, IntervalsHeld

FALSE = 0.5
"""Per cent of the matched sessions that may be called with more than twice the limit still to come."""
CHUNK = 50
"""Sessions after which a person is shown how far it is."""


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name: a fiftieth of the work where *quick*; *progress* gets how far."""
    sessions = 10 if quick else 500
    own = {kind: partial(accuracy_rows, kind, sessions=sessions, progress=progress) for kind in KINDS}
    apart = {
        f"apart {kind}": partial(
            accuracy_rows, kind, sessions=sessions, progress=progress, trial=grind_apart.run, note=note
        )
        for kind, note in grind_apart.KINDS.items()
    }
    return {**own, **apart}


def accuracy_rows(
    kind: str,
    *,
    sessions: int,
    seed: int = 0,
    progress: Callable[[str], None] | None = None,
    trial: Callable[..., GrindFigures] = run,
    note: str = "",
) -> Iterator[Row]:
    """Delay of the spark-out, false calls, error and calibration of the prediction, in sessions of *kind*.

    Args:
        kind: One of `KINDS`, or of the trial's own.
        sessions: How many.
        seed: Of the first; the others count on from it.
        progress: Hears every `CHUNK` sessions how far it is.
        trial: Runs them; by the simulator's physics, or by others.
        note: What the kind is, where it is not one of `KINDS`.
    """

    def shown(number: int) -> None:
        if progress is not None and number % CHUNK == 0:
            progress(f"{kind}: {number} of {sessions} sessions")

    found = trial(sessions, kind, seed=seed, progress=shown)
    what = f"{note or KINDS[kind]}; {found.sessions} sessions"
    naive = "two small differences in a row"
    median = found.delay_median
    yield Row(f"{found.kind}: delay, median", median, "passes", naive, found.naive_median, note=what)
    yield Row(f"{found.kind}: delay, p90", found.delay_p90, "passes", naive, found.naive_p90)
    yield _false(found)
    yield Row(f"{found.kind}: error at the last infeed", 1000 * found.error_at_stop, "µm")
    for group in found.groups:
        yield from _held(found.kind, group)


def _false(found: GrindFigures) -> Row:
    most = FALSE if found.kind == "matched" else None
    note = f"two small differences in a row: {100 * found.naive_false:.1f} %"
    return Row(f"{found.kind}: false calls", 100 * found.false, "%", most=most, note=note)


def _held(kind: str, group: IntervalsHeld) -> Iterator[Row]:
    what = f"{kind}, {group.group}"
    if group.calls:
        note = f"{group.calls} calls, ± {100 * group.luck:.1f} by chance; 93 to 97 is right"
        yield Row(f"{what}: 95 % held at the call", 100 * group.at_call, "%", note=note)
        note = f"{group.ratio:.2f} of the stated standard uncertainty"
        yield Row(f"{what}: error at the call", 1000 * group.error, "µm", note=note)
    note = f"{group.judgements} judgements from the last infeed to the call"
    yield Row(f"{what}: 95 % held at every pass", 100 * group.always, "%", note=note)
