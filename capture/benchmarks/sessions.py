"""Long sessions, made by the program itself: probes that stream, and a part ground between them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from capture.events import Beat, Event, Instant, Reading
from capture.host.clock import Clock
from capture.ingest.sequencer import CommandText, EventSequencer, PendingEvent, engine_of
from capture.recording.opening import create
from capture.sheet.job import Job
from capture.sheet.reader import read_sheet

SHEET = """\
[job]
name = "benchmark"
simulated = true
[fit]
nominal = 55.0
clearance = { aim = 0.005, least = 0.003, most = 0.008 }
bore = 55.0021
[shaft]
material = "steel 4140"
stations = [30, 140, 250]
[grinder]
dial = "diameter"
[[gauge]]
name = "mike"
measures = "diameter"
stream = false
link = { serial = "/dev/mike" }
resolution = 0.001
[[gauge]]
name = "probe"
measures = "temperature"
part = "shaft"
link = { serial = "/dev/probe" }
[[gauge]]
name = "room"
measures = "temperature"
part = "room"
link = { serial = "/dev/room" }
"""

STEP = 10_000_000
"""Nanoseconds between two events: the probes stream at 50 Hz each."""
PASS_EVERY = 50_000
"""Events from one pass to the next; a size is read at three stations after each."""


def job() -> Job:
    """The job of these sessions."""
    return read_sheet(SHEET, "benchmark")[0]


def pending(count: int) -> Iterator[PendingEvent]:
    """What is received in a session of *count* events, the program's own left out."""
    for number in range(count):
        stamp, place = number * STEP, number % PASS_EVERY
        yes = number // PASS_EVERY
        if place == 0:
            yield PendingEvent(stamp, "person", CommandText(("pass", "0.002" if yes % 20 < 12 else "0")))
        elif place in {3000, 3800, 4600}:
            value = 55.040 - 0.002 * min(yes % 20, 12)
            yield PendingEvent(stamp, "mike", Reading(value, "mm", 3, f"{value:+09.3f} mm\r\n"))
        elif number % 100 == 99:
            yield PendingEvent(stamp, "daemon", Beat())
        else:
            value = 20.0 + number % 7 / 100
            name = "probe" if number % 2 else "room"
            yield PendingEvent(stamp, name, Reading(value, "degC", 2, f"{value:+07.2f} C\r\n"))


def streaming(count: int, first: int = 0) -> Iterator[Event]:
    """Events of probes that stream, without end and without a size."""
    for number in range(first, first + count):
        at = Instant(number * STEP, number * STEP)
        value = 20.0 + number % 7 / 100
        yield Event(number, at, "probe", Reading(value, "degC", 2, f"{value:+07.2f} C\r\n"))


def sized(count: int, first: int = 0) -> Iterator[Event]:
    """Events of a micrometer that streams, so that the program takes every one of them."""
    for number in range(first, first + count):
        at = Instant(number * STEP, number * STEP)
        value = 55.0 + number % 3 / 1000
        yield Event(number, at, "mike", Reading(value, "mm", 3, f"{value:+09.3f} mm\r\n"))


def record(path: Path, count: int) -> None:
    """Writes a recording of about *count* events, as a capture would have written it."""
    wanted, plain = read_sheet(SHEET, "benchmark")
    time = [0]
    clock = Clock.start(monotonic=lambda: time[0], wall=lambda: time[0])
    sequencer = EventSequencer(create(path, plain, clock), clock, engine_of(wanted))
    batch: list[PendingEvent] = []
    for each in pending(count):
        batch.append(each)
        if len(batch) == 5000:
            time[0] = each.stamp
            sequencer.commit(batch)
            batch = []
    sequencer.commit(batch)
    sequencer.recorder.close()
