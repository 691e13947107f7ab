"""How well passes are found that nobody tells, and what is then said of spark-out and size."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.passes.other_slides import SLIDES
from capture.benchmarks.trials.passes.untold import KINDS, untold_job
from capture.benchmarks.trials.passes.untold_figures import called, run

SEED = 10_000
"""Away from the seeds that the program was made with."""


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name; *progress* gets how far it is."""
    jobs = 3 if quick else 100
    return {
        "untold": partial(pass_rows, jobs=jobs, progress=progress),
        "untold-calls": partial(call_rows, jobs=jobs, progress=progress),
    }


def pass_rows(*, jobs: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """By kind of job: passes found with their infeed, rests included."""
    for kind in (*KINDS, *SLIDES):
        progress(f"untold: {kind}")
        found = run(jobs, kind, seed=SEED)
        note = f"{found.passes} passes, step 1 or 0.5 µm, infeed within 1 µm"
        yield Row(f"{kind}: right", 100.0 * found.right, "%", note=note)
        yield Row(f"{kind}: infeed, p95", 1000.0 * found.infeed_p95, "µm", most=1.0)


def call_rows(*, jobs: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """Spark-out and predicted size by passes found and by passes entered, the same jobs."""
    for kind in ("plain", "before"):
        progress(f"untold-calls: {kind}")
        each = [called(untold_job(SEED + number, kind)) for number in range(jobs)]
        calls = [one for one in each if one is not None]
        if not calls:
            continue
        note = f"{len(calls)} calls in {jobs} jobs"
        yield Row(
            f"{kind}: delay, p90", float(np.percentile([one.delay for one in calls], 90)), "sizes", note=note
        )
        yield Row(f"{kind}: false", float(sum(one.false for one in calls)), "calls", most=0.0)
        yield Row(f"{kind}: 95 % held", 100.0 * float(np.mean([one.held for one in calls])), "%")
        error = 1000.0 * float(np.sqrt(np.mean(np.square([one.error for one in calls]))))
        yield Row(f"{kind}: error at the call, rms", error, "µm")
