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

    assert "the disk does not answer" in troubles[0]
