"""How well grinds are followed by a gauge that rides on the part, with nothing told."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.rides import LIMIT, ridden

RATES = (10.0, 50.0)
"""Readings a second."""
SEED = 70_000
"""Away from the seeds that the program was made with."""


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name; *progress* hears how far it is."""
    return {"rides": partial(ride_rows, jobs=5 if quick else 500, progress=progress)}


def ride_rows(*, jobs: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """By rate: passes found, rests named, spark-out called, and the size predicted at the call."""
    for rate in RATES:
        progress(f"rides: {rate:g} Hz")
        found = [ridden(SEED + number, rate) for number in range(jobs)]
        passes, clear = sum(one.passes for one in found), sum(one.clear for one in found)
        extra, seen = sum(one.extra for one in found), sum(one.clear_right for one in found)
        name, note = f"riding, {rate:g} Hz", f"{jobs} grinds, {passes} passes, {extra} found that were none"
        yield Row(f"{name}: passes found", 100.0 * sum(one.right for one in found) / passes, "%", note=note)
        yield Row(f"{name}: passes of more than 0.3 µm found", 100.0 * seen / clear, "%")
        yield Row(f"{name}: rests and feeds of them", 100.0 * sum(one.named for one in found) / seen, "%")
        called = [one for one in found if one.delay is not None]
        if not called:
            continue
        come = np.array([one.come for one in called])
        yield Row(
            f"{name}: called late by, p90", float(np.percentile([one.delay or 0 for one in called], 90)), ""
        )
        yield Row(
            f"{name}: called right", 100.0 * float(np.mean(come < LIMIT)), "%", note=f"{len(called)} calls"
        )
        yield Row(f"{name}: called at twice the limit", float(np.sum(come > 2.0 * LIMIT)), "", most=0.0)
        held = [abs(one.error) < 1.96 * one.u for one in called if one.error is not None and one.u]
        yield Row(f"{name}: 95 % held", 100.0 * float(np.mean(held)), "%")
