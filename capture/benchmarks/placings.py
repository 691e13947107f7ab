"""How well sizes are taken from diameter gauges that stream in a hand or on a bench, and how truly."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.placing.placings import placed
from capture.simulator.hand import KINDS

RATES = (10.0, 50.0)
"""Readings a second."""
FALSE = 0.1
"""Sizes an hour that were none."""
SEED = 50_000
"""Away from the seeds that the program was made with."""


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name; *progress* gets how far it is."""
    return {"placings": partial(placing_rows, jobs=5 if quick else 100, progress=progress)}


def placing_rows(*, jobs: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """By kind of gauge and rate: places taken, their error, intervals that held, and false sizes an hour."""
    for kind in KINDS:
        for rate in RATES:
            progress(f"placings: {kind}, {rate:g} Hz")
            found = [placed(kind, rate, SEED + number, minutes=3.0) for number in range(jobs)]
            errors = 1000.0 * np.abs([error for one in found for error in one.errors])
            us = 1000.0 * np.array([u for one in found for u in one.us])
            due, missed = sum(one.due for one in found), sum(one.missed for one in found)
            hours = sum(one.hours for one in found)
            name, note = (
                f"{kind}, {rate:g} Hz",
                f"{due} places, {hours:.1f} h, step 1 µm, noise to 0.6 µm",
            )
            yield Row(f"{name}: taken", 100.0 * (due - missed) / due, "%", note=note)
            yield Row(f"{name}: error, p95", float(np.percentile(errors, 95)), "µm", most=1.5)
            yield Row(f"{name}: 95 % held", 100.0 * float(np.mean(errors < 1.96 * us)), "%")
            yield Row(f"{name}: false", sum(one.false for one in found) / hours, "/h", most=FALSE)
