"""How well passes are found by the power of the wheel's drive, alone and with a gauge on the head."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.passes.powers import run

SEED = 1_000
"""Away from the seeds that the program was made with."""


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name; *progress* gets how far it is."""
    return {"power": partial(pass_rows, jobs=3 if quick else 100, progress=progress)}


def pass_rows(*, jobs: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """Passes found and named, rests included."""
    for head in (False, True):
        what = "power and head" if head else "power alone"
        progress(f"power: {what}")
        found = run(jobs, head=head, seed=SEED)
        yield Row(f"{what}: right", 100.0 * found.right, "%", note=f"{found.passes} passes")
        yield Row(f"{what}: clear, right", 100.0 * found.clear_right, "%", note=f"{found.clear} passes")
        yield Row(f"{what}: fed or rest", 100.0 * found.named, "%", note="rightly, or left open")
        if head:
            yield Row(f"{what}: infeed, p95", 1000.0 * found.infeed_p95, "µm", most=1.0)
