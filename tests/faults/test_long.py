"""A long day: shop time at speed, with memory and file handles watched, and hosts that go to sleep.

`TENTHS_HOURS` sets the hours of shop time (1 unless told; 8 by hand).
"""

from __future__ import annotations

import gc
import os
from pathlib import Path

import pytest

from capture.events import AnyFact, Beat, Reading
from capture.host.clock import Clock
from capture.ingest.sequencer import CommandText, EventSequencer, PendingEvent, engine_of
from capture.recording import writer
from capture.recording.opening import create
from capture.recording.reader import read
from capture.recording.repair import check
from capture.sheet.reader import job_of, read_sheet
from capture.simulator import shop
from capture.simulator.golden import Virtual
from capture.state import replay, session

HOURS = float(os.environ.get("TENTHS_HOURS", "1"))
BYTES_AN_EVENT = 400
"""Of memory, at the most, for each event of a day: beats and probes leave none, sizes taken about 800."""


@pytest.fixture
def no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a sync does is tried elsewhere; a hundred thousand of them would take the day."""
    monkeypatch.setattr(writer, "sync", lambda _file: None)


def resident() -> int:
    gc.collect()
    return int(Path("/proc/self/statm").read_text("ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")


def files() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def work(capture: Virtual, seed: int) -> float:
    """One part ground from start to end; the shop seconds that it took."""
    grinder, took = shop.sleeve_grinder(seed=seed), 0.0
    for step in shop.good_session(grinder):
        if step.words:
            capture.say(*step.words)
        if step.measure is not None:
            capture.receive("mike", shop.diameter_line(grinder.measure(step.measure)))
        for _ in range(int(step.seconds)):
            capture.receive("probe", shop.temperature_line(grinder.probe()))
            capture.wait(1.0)
        took += step.seconds
    return took


@pytest.mark.timeout(120 + 120 * HOURS)
@pytest.mark.usefixtures("no_waiting_for_the_disk")
def test_a_day_s_work_keeps_memory_and_files_within_bounds(tmp_path: Path) -> None:
    path = tmp_path / "day.jsonl"
    capture = Virtual(path, shop.SLEEVE.format(mike="/dev/mike", probe="/dev/probe"))
    hours = work(capture, 1) / 3600
    first, opened, begun = resident(), files(), path.stat().st_size
    parts = 1
    while hours < HOURS:
        parts += 1
        hours += work(capture, parts) / 3600
    grown, written = resident() - first, path.stat().st_size - begun
    still = files()
    capture.close()

    assert still == opened
    assert check(path) == []
    recording = read(path)
    events = list(recording)
    assert grown < (8 << 20) + BYTES_AN_EVENT * len(events)
    assert written > 0
    state = replay.state_at_end(job_of(recording.header.job), events)
    said = [event.fact for event in state.flags]
    assert sum(getattr(flag, "what", "") == "sparked-out" for flag in said) >= parts


class Asleep:
    """A capture on a host whose clocks a test sets by hand."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.mono = self.wall = 1_772_442_847_000_000_000
        sheet = shop.SLEEVE.format(mike="/dev/mike", probe="/dev/probe") + "silence = 60\n"
        job, plain = read_sheet(sheet, "sleeve.toml")
        self.job = job
        self._clock = Clock.start(monotonic=lambda: self.mono, wall=lambda: self.wall)
        self._sequencer = EventSequencer(create(path, plain, self._clock), self._clock, engine_of(job))

    def sleep(self, seconds: float, *, monotonic: bool) -> None:
        """The host sleeps; its monotonic clock stands still meanwhile, or does not."""
        self.wall += int(seconds * 1e9)
        self.mono += int(seconds * 1e9) if monotonic else 0

    def tell(self, source: str, what: AnyFact | CommandText) -> None:
        self.mono += 1_000_000_000
        self.wall += 1_000_000_000
        self._sequencer.commit([PendingEvent(self.mono, source, what)])

    def close(self) -> session.State:
        self._sequencer.recorder.close()
        assert check(self.path) == []
        return replay.state_at_end(self.job, list(read(self.path)))


def size(value: float) -> Reading:
    return Reading(value, "mm", 3, f"{value:.3f} mm\r\n")


@pytest.mark.parametrize("monotonic", [True, False], ids=["clock goes on", "clock stands still"])
def test_after_a_suspend_order_holds_and_what_went_stale_is_said(tmp_path: Path, monotonic: bool) -> None:
    """Linux stops its monotonic clock in a suspend, other systems do not: both are honest, neither harms."""
    host = Asleep(tmp_path / "night.jsonl")
    host.tell("probe", Reading(23.0, "degC", 2, "23.00 C\r\n"))
    host.tell("mike", size(55.010))
    host.sleep(7200, monotonic=monotonic)
    host.tell("daemon", Beat())
    host.tell("mike", size(55.004))
    state = host.close()

    events = list(read(host.path))
    monos = [event.at.mono for event in events]
    assert monos == sorted(monos)
    assert (monos[-1] > 7200 * 10**9) is monotonic
    assert events[-1].at.wall - events[0].at.wall > 7200 * 10**9
    before, after = state.stations.taken
    assert before.warmth is not None
    assert (after.warmth is None) is monotonic, "a temperature two hours old speaks for no part"
    silent = [event for event in state.flags if getattr(event.fact, "what", "") == "silent"]
    assert bool(silent) is monotonic
