"""The long session that is measured is one that a capture could have written."""

from __future__ import annotations

from pathlib import Path

import pytest

from capture.benchmarks import sessions
from capture.events import Pass, Reading, Taken
from capture.recording.reader import read
from capture.recording.repair import check
from capture.state import decisions, replay, session


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sessions, "PASS_EVERY", 5000)


@pytest.mark.usefixtures("few")
def test_it_is_whole_and_its_decisions_were_made_by_the_desk(tmp_path: Path):
    path = tmp_path / "long.jsonl"
    sessions.record(path, 20_000)

    assert check(path) == []
    events = list(read(path))
    assert sum(isinstance(event.fact, Pass) and event.source == "person" for event in events) == 4
    assert sum(isinstance(event.fact, Taken) for event in events) == 12
    assert sum(isinstance(event.fact, Reading) for event in events) > 19_000
    state = replay.state_at_end(sessions.job(), events)
    assert [row.number for row in state.grind.passes] == [1, 2, 3, 4]
    assert all(row.outlook is not None for row in state.grind.passes)


def test_every_size_of_a_streaming_micrometer_is_taken():
    state = session.start(sessions.job())
    for event in sessions.sized(50):
        state, _ = decisions.step_and_decide(state, event)

    assert len(state.stations.taken) == 50
