"""The writer: what the loop sees of its thread."""

from __future__ import annotations

import asyncio
from pathlib import Path
from types import SimpleNamespace

import pytest

from capture.events import Beat
from capture.host.clock import Clock
from capture.ingest.sequencer import DecisionEngine, EventSequencer
from capture.ingest.writer_thread import WriterThread
from capture.recording.opening import create
from capture.recording.writer import BOUND, Recorder

JOB = {"job": {"name": "sleeve"}}
PROGRAM = DecisionEngine((), lambda state, _: state, lambda state, _: (state, []), lambda *_: Beat(), str)


@pytest.fixture
def recorder(tmp_path: Path):
    recorder = create(tmp_path / "session.jsonl", JOB, Clock.start())
    yield recorder
    recorder.close()


def test_a_write_that_ends_while_somebody_looks_at_the_disk_stops_no_capture(
    recorder: Recorder, monkeypatch: pytest.MonkeyPatch
) -> None:
    troubles: list[str] = []

    async def look() -> None:
        clock = Clock.start()
        writer = WriterThread(EventSequencer(recorder, clock, PROGRAM), clock, troubles.append, BOUND)
        writer._busy_since = 0.0

        def ended() -> float:
            writer._busy_since = None  # what the thread does when the disk has answered
            return 9.0

        monkeypatch.setattr("capture.ingest.writer_thread.time", SimpleNamespace(monotonic=ended))
        writer.look_at_disk()

    asyncio.run(look())

    assert "0 more lines wait in memory" in troubles[0]


@pytest.mark.parametrize(
    ("slow", "due"), [("disk", "the disk does not answer"), ("program", "this computer is too busy")]
)
def test_what_a_write_waits_for_is_said_as_it_is(
    recorder: Recorder, monkeypatch: pytest.MonkeyPatch, slow: str, due: str
) -> None:
    """On a computer that gave the capture a thirtieth of itself the disk was named, which answered."""
    now, troubles = [0.0], list[str]()

    async def write() -> None:
        def waits(name: str) -> None:
            now[0] += 9.0 if name == slow else 0.1
            writer.look_at_disk()

        def step(state: object, _: object) -> object:
            waits("program")
            return state

        def flush() -> bool:
            waits("disk")
            return flushed()

        flushed = recorder.flush
        monkeypatch.setattr(recorder, "flush", flush)
        monkeypatch.setattr("capture.ingest.writer_thread.time", SimpleNamespace(monotonic=lambda: now[0]))
        clock = Clock.start(monotonic=lambda: int(now[0] * 1e9))
        program = DecisionEngine((), step, lambda state, _: (state, []), lambda *_: Beat(), str)
        writer = WriterThread(EventSequencer(recorder, clock, program), clock, troubles.append, BOUND)
        for _ in range(3):
            writer.tell("daemon", Beat())
        writer.close()
        writer._write()

    asyncio.run(write())

    assert troubles
    assert {trouble.partition(": ")[2].partition(";")[0] for trouble in troubles if trouble} == {due}
