"""How well grinds are followed by a gauge that rides on the part, with nothing entered."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial

import numpy as np

from capture.benchmarks.rows import Row
from capture.benchmarks.trials.riding.plunges import Plunged, plunge_apart, plunge_plain
from capture.benchmarks.trials.riding.rides import (
    LIMIT,
    Ridden,
    ridden,
    ridden_apart,
    ridden_stiff,
    ridden_with_head,
)
from capture.benchmarks.trials.riding.rides_powered import Seen, powered

RATES = (10.0, 50.0)
"""Readings a second."""
SEED = 70_000
"""Away from the seeds that the program was made with."""


def measures(*, quick: bool, progress: Callable[[str], None]) -> dict[str, Callable[[], Iterator[Row]]]:
    """What there is to measure, by name; *progress* gets how far it is."""
    jobs = 5 if quick else 500
    return {
        "rides": partial(ride_rows, "riding", ridden, jobs=jobs, progress=progress),
        "rides-apart": partial(ride_rows, "riding, apart", ridden_apart, jobs=jobs, progress=progress),
        "rides-stiff": partial(ride_rows, "riding, stiff", ridden_stiff, jobs=jobs, progress=progress),
        "plunges": partial(plunge_rows, "plunges", plunge_plain, jobs=jobs, progress=progress),
        "plunges-apart": partial(plunge_rows, "plunges, apart", plunge_apart, jobs=jobs, progress=progress),
        "rides-power": partial(powered_rows, jobs=jobs, progress=progress),
        "rides-head": partial(ride_rows, "riding and head", ridden_with_head, jobs=jobs, progress=progress),
    }


def ride_rows(
    kind: str, grind: Callable[[int, float], Ridden], *, jobs: int, progress: Callable[[str], None]
) -> Iterator[Row]:
    """By rate: passes found, rests named, spark-out called, and the size predicted at the call."""
    for rate in RATES:
        progress(f"{kind}: {rate:g} Hz")
        yield from rows_of(f"{kind}, {rate:g} Hz", [grind(SEED + number, rate) for number in range(jobs)])


def rows_of(name: str, found: Sequence[Ridden]) -> Iterator[Row]:
    """The rows of grinds of one kind."""
    passes, clear = sum(one.passes for one in found), sum(one.clear for one in found)
    extra, seen = sum(one.extra for one in found), sum(one.clear_right for one in found)
    note = f"{len(found)} grinds, {passes} passes, {extra} found that were none"
    yield Row(f"{name}: passes found", 100.0 * sum(one.right for one in found) / passes, "%", note=note)
    yield Row(f"{name}: passes of more than 0.3 µm found", 100.0 * seen / clear, "%")
    yield Row(f"{name}: rests and feeds of them", 100.0 * sum(one.named for one in found) / seen, "%")
    missed = sum(one.missed for one in found)
    yield Row(f"{name}: not called within three passes of it", float(missed), "grinds")
    called = [one for one in found if one.delay is not None]
    if not called:
        return
    come, delays = np.array([one.come for one in called]), [one.delay or 0 for one in called]
    yield Row(f"{name}: called late by, median", float(np.median(delays)), "passes")
    yield Row(f"{name}: called late by, p90", float(np.percentile(delays, 90)), "passes")
    note = f"{len(called)} calls"
    yield Row(f"{name}: called early", 100.0 * float(np.mean(come >= LIMIT)), "%", most=5.0, note=note)
    yield Row(f"{name}: called at twice the limit", float(np.sum(come > 2.0 * LIMIT)), "", most=0.0)
    known = [(one.error, one.u) for one in called if one.error is not None and one.u]
    held = 100.0 * float(np.mean([abs(error) < 1.96 * u for error, u in known]))
    yield Row(f"{name}: 95 % held at the call", held, "%", note="93 to 97 is right")
    rms = 1000.0 * float(np.sqrt(np.mean([error**2 for error, _ in known])))
    yield Row(f"{name}: error at the call, rms", rms, "µm")


def powered_rows(*, jobs: int, progress: Callable[[str], None]) -> Iterator[Row]:
    """Passes found by a gauge on the part, by the power of the drive, and by both."""
    kinds: tuple[Seen, ...] = ("part", "power", "both")
    for seen in kinds:
        progress(f"riding and power: {seen}")
        found = [powered(SEED + number, seen) for number in range(jobs)]
        passes, extra = sum(one.passes for one in found), sum(one.extra for one in found)
        note = f"{len(found)} grinds, {passes} passes, {extra} found that were none"
        right = 100.0 * sum(one.right for one in found) / passes
        yield Row(f"riding and power, by {seen}: passes found", right, "%", note=note)


def plunge_rows(
    kind: str, plunge: Callable[[int, float], Plunged], *, jobs: int, progress: Callable[[str], None]
) -> Iterator[Row]:
    """By rate: infeeds and dwells found, the end of the decay said, spark-out called, cold size predicted."""
    for rate in RATES:
        progress(f"{kind}: {rate:g} Hz")
        found = [plunge(SEED + number, rate) for number in range(jobs)]
        yield from rows_of_plunges(f"{kind}, {rate:g} Hz", found)


def rows_of_plunges(name: str, found: Sequence[Plunged]) -> Iterator[Row]:
    """The rows of plunges of one kind."""
    note = f"{len(found)} plunges, {sum(one.extra for one in found)} passes found that were none"
    right = 50.0 * sum(one.right for one in found) / len(found)
    yield Row(f"{name}: infeeds and dwells found", right, "%", note=note)
    missed = sum(one.due and one.decayed is None for one in found)
    yield Row(f"{name}: end of the decay not said", float(missed), "plunges")
    decayed = [one for one in found if one.decayed is not None]
    if not decayed:
        return
    come, late = np.array([one.come for one in decayed]), [one.decayed or 0.0 for one in decayed]
    yield Row(f"{name}: said late by, median", float(np.median(late)), "s")
    yield Row(f"{name}: said late by, p90", float(np.percentile(late, 90)), "s")
    early = 100.0 * float(np.mean(come >= LIMIT))
    yield Row(f"{name}: said early", early, "%", most=5.0, note=f"{len(decayed)} plunges")
    yield Row(f"{name}: said at twice the limit", float(np.sum(come > 2.0 * LIMIT)), "", most=0.0)
    called = [one for one in found if one.delay is not None]
    yield Row(f"{name}: called cold before the wheel left", float(len(called)), "plunges")
    known = [(one.error, one.u) for one in called if one.error is not None and one.u]
    if known:
        held = 100.0 * float(np.mean([abs(error) < 1.96 * u for error, u in known]))
        yield Row(f"{name}: 95 % held at the call", held, "%", note="93 to 97 is right")
