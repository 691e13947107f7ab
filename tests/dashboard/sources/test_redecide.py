"""A recording decided again in the background: it ends as a replay would, is watched, and is stopped."""

from __future__ import annotations

import threading

import pytest
from msgspec.structs import replace

from capture.recording.reader import BadRecording
from capture.state import replay
from dashboard.sources import redecide
from dashboard.sources.feed import with_settings
from dashboard.sources.redecide import Redecisions


@pytest.fixture
def held(monkeypatch):
    """Work that waits at its first event until it is let go."""
    go, reached, again = threading.Event(), threading.Event(), replay.again

    def waiting(state, event, trail):
        reached.set()
        go.wait(10)
        return again(state, event, trail)

    monkeypatch.setattr(redecide.replay, "again", waiting)
    yield go, reached
    go.set()


def test_it_ends_as_the_recording_was_made_and_as_it_is_decided_now(recording, ground):
    settings = {"spark_out.limit": "0.0000001"}
    work = Redecisions().begin(recording, settings)
    assert work.over(20)
    made, fresh = work.states

    assert work.phase == "done"
    assert work.events == len(ground.events)
    assert made == ground.state
    assert fresh == replay.redecided_state(with_settings(ground.job, settings), ground.events)


def test_a_recording_without_decisions_gets_them_on_both_sides(recording, ground):
    one = type(ground)(ground.header.job)
    told = [event for event in ground.events if event.source != "desk"]
    one.events = [replace(event, seq=seq) for seq, event in enumerate(told)]
    recording.write_bytes(one.text())
    work = Redecisions().begin(recording, {})
    assert work.over(20)
    made, fresh = work.states

    assert made.kinds["taken"] == fresh.kinds["taken"] > 0


def test_the_same_is_not_worked_out_twice_and_a_recording_that_grew_is(recording, ground):
    works = Redecisions()
    first = works.begin(recording, {})
    assert first.over(20)
    same = works.begin(recording, {})
    with recording.open("ab") as file:
        file.write(b"\n")
    other = works.begin(recording, {})
    assert other.over(20)

    assert same is first
    assert works.of(recording, {}) is other is not first


def test_it_is_stopped_at_once_and_begins_again_only_when_told(recording, held):
    go, reached = held
    works = Redecisions()
    work = works.begin(recording, {})
    assert reached.wait(10)
    works.stop(recording, {})
    go.set()
    assert work.over(10)
    left = works.begin(recording, {})
    anew = works.begin(recording, {}, anew=True)
    assert anew.over(20)

    assert (work.phase, work.states) == ("stopped", None)
    assert left is work
    assert anew.phase == "done"


def test_a_request_that_comes_late_stops_no_other(recording, held):
    go, reached = held
    works = Redecisions()
    newer = works.begin(recording, {"warm.limit": "0.001"})
    assert reached.wait(10)
    older = works.begin(recording, {})
    go.set()
    assert newer.over(20)
    assert older.over(20)

    assert (newer.phase, older.phase) == ("done", "done")


def test_works_take_turns_and_one_that_waits_is_stopped_as_one_that_works(recording, held):
    go, reached = held
    works = Redecisions()
    first = works.begin(recording, {})
    assert reached.wait(10)
    second = works.begin(recording, {"warm.limit": "0.001"})
    assert not second.over(0.1)
    works.stop(recording, {"warm.limit": "0.001"})
    go.set()
    assert first.over(20)
    assert second.over(20)

    assert (first.phase, second.phase, second.events) == ("done", "stopped", 1)


def test_what_was_asked_for_longest_ago_is_stopped_when_too_many_are_under_way(recording, held):
    go, reached = held
    works = Redecisions()
    begun = [works.begin(recording, {"warm.limit": f"0.00{n}"}) for n in range(1, redecide.KEPT + 2)]
    assert reached.wait(10)
    go.set()

    assert all(work.over(20) for work in begun)
    assert [work.phase for work in begun] == ["stopped", *["done"] * redecide.KEPT]


def test_how_far_it_is_is_seen_while_it_goes_on(recording, monkeypatch):
    monkeypatch.setattr(redecide, "SPELL", 0.0)
    seen = []
    monkeypatch.setattr(redecide.time, "sleep", lambda _seconds: seen.append(work.share))
    begin = redecide.Redecision.begin
    monkeypatch.setattr(redecide.Redecision, "begin", lambda _work: None)
    work = Redecisions().begin(recording, {})
    begin(work)
    assert work.over(20)

    assert seen == sorted(seen)
    assert 0 < seen[0] < seen[-1] <= 1


def test_a_setting_that_there_is_not_and_a_recording_that_is_none_are_refused(recording):
    works = Redecisions()
    with pytest.raises(ValueError, match=r"did you mean spark_out\.limit"):
        works.begin(recording, {"spark_out.limt": "1"})
    recording.write_bytes(b"no recording\n")
    with pytest.raises(BadRecording):
        works.begin(recording, {})
