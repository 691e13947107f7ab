"""A riding gauge through a whole shift: whether its hours cost the same, and what they leave in memory."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator

from capture.benchmarks.reading import resident
from capture.benchmarks.rows import Row
from capture.benchmarks.trials.riding.rides import sheet
from capture.events import Event, Instant, Pass, Reading, Stage
from capture.simulator.rider import Ride, ride_seconds, samples_of
from capture.state import decisions, session

RATE = 50.0
"""Readings a second."""
HOURS = 8
AGAIN = 1.25
"""Times as much as the first hours, that the last ones may cost: nothing grows with the readings."""
KEPT = 40.0
"""Bytes that a reading may leave in memory, all sizes, passes and flags of the shift among them."""
LIFTED, LIFTED_SHOWS = 15.0, 1.5
"""Seconds off the part from one to the next, and what the gauge shows meanwhile, mm."""
FIRST = 2
"""Hours at the beginning, and as many at the end, that are set against each other."""


def shift_rows(*, minutes: float) -> Iterator[Row]:
    """Work and memory of one gauge that rides for eight times *minutes*, a part after the other."""
    words = [sys.executable, "-m", "capture.benchmarks.shift", str(minutes)]
    said = subprocess.run(words, check=True, capture_output=True, text=True).stdout.split()
    took, kept = [float(word) for word in said[:HOURS]], [float(word) for word in said[HOURS : 2 * HOURS]]
    readings = HOURS * minutes * 60.0 * RATE
    share = 100.0 * sum(took) / (HOURS * minutes * 60.0)
    note = f"{readings:,.0f} readings, {said[-1]} passes"
    yield Row(f"riding at {RATE:g} Hz: of one core", share, "%", most=10.0, note=note)
    yield Row(
        "riding: work of the last hours", sum(took[-FIRST:]), "s", "the first", sum(took[:FIRST]), most=AGAIN
    )
    grown = (kept[-1] - kept[FIRST - 1]) * 1e6 / (readings * (HOURS - FIRST) / HOURS)
    marks = " → ".join(f"{mark:.0f}" for mark in kept)
    yield Row("riding: kept of each reading", grown, "bytes", most=KEPT, note=f"{marks} MB")


def parts(seconds: float) -> Iterator[tuple[float, float, bool]]:
    """When, what the gauge shows, and whether a part begins, for *seconds*: one sleeve after the other."""
    ride = Ride(offset=-55.0, resolution=0.0001, noise=0.0002, runout=0.001, rate=RATE)
    shown = [(sample.at, sample.value) for sample in samples_of(ride, 0)]
    begun = 0.0
    while begun < seconds:
        for at, value in shown:
            yield begun + at, value, at == 0.0
        begun += ride_seconds(ride)
        for number in range(int(LIFTED * RATE)):
            yield begun + number / RATE, LIFTED_SHOWS, False
        begun += LIFTED


def main(minutes: float) -> None:
    """Prints the seconds that each eighth took, the memory after it, MB, and the passes found."""
    took, kept, made = [0.0] * HOURS, [0.0] * HOURS, 0
    state = session.start(sheet(0.0001))
    for at, value, fresh in parts(HOURS * minutes * 60.0):
        hour = int(at / (minutes * 60.0))
        if hour >= HOURS:
            break
        now = Instant(int(at * 1e9), int(at * 1e9))
        facts: list[tuple[str, Reading | Stage]] = [("person", Stage("grind"))] if fresh else []
        facts.append(("rider", Reading(value, "mm", 4, f"{value:.4f}\r\n")))
        begun = time.process_time()
        for source, fact in facts:
            state, own = decisions.step_and_decide(state, Event(state.seq + 1, now, source, fact))
            made += sum(isinstance(event.fact, Pass) for event in own)
        took[hour] += time.process_time() - begun
        if state.seq % 1000 < 2:
            kept[hour] = resident()
    marks = (*(f"{one:.3f}" for one in took), *(f"{one:.1f}" for one in kept))
    sys.stdout.write(" ".join((*marks, str(made))) + "\n")


if __name__ == "__main__":
    main(float(sys.argv[1]))
