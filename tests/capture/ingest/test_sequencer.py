"""Numbers, times and decisions: in order, in one write, acknowledged only on disk."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.events import Beat, Event, Instant, Note, Pass, Reading
from capture.host.clock import Clock
from capture.ingest.sequencer import CommandText, DecisionEngine, EventSequencer, PendingEvent
from capture.links.inbox.endpoint import Reply
from capture.recording.opening import create, resume
from capture.recording.reader import read
from capture.state.words.commands import CommandRejected

JOB = {"job": {"name": "Jig-borer spindle sleeve"}}


def step(state: Any, event: Event):
    return (*state, event)


def settled(state: Any, at: Instant):
    """Remarks on every reading, once."""
    newest = state[-1]
    if not isinstance(newest.fact, Reading):
        return state, []
    own = Event(newest.seq + 1, at, "desk", Note(f"saw {newest.seq}"))
    return step(state, own), [own]


def mark(words: Any, state: Any):
    if words[0] != "pass":
        raise CommandRejected(f"came {words[0]!r}")
    return Pass(float(len(state)))


PROGRAM = DecisionEngine((), step, settled, mark, lambda fact: f"pass {fact.infeed}")


def reading(value: float):
    return Reading(value, "mm", 3, f"{value:.3f}\r\n")


@pytest.fixture
def path(tmp_path: Path):
    return tmp_path / "session.jsonl"


@pytest.fixture
def clock(hands: Any):
    return hands.clock()


@pytest.fixture
def sequencer(path: Path, clock: Clock):
    recorder = create(path, JOB, clock)
    yield EventSequencer(recorder, clock, PROGRAM)
    recorder.close()


def test_the_desk_s_words_follow_the_event_that_they_rest_on(
    sequencer: EventSequencer[Any], path: Path, hands: Any
) -> None:
    sequencer.commit(
        [PendingEvent(hands.mono, "mike", reading(55.0)), PendingEvent(hands.mono, "daemon", Beat())]
    )
    events = list(read(path))

    assert [(event.seq, event.source) for event in events] == [(0, "mike"), (1, "desk"), (2, "daemon")]
    assert events[1].at == events[0].at


def test_words_are_understood_in_the_state_in_which_they_came(
    sequencer: EventSequencer[Any], path: Path, hands: Any
) -> None:
    good: list[Reply] = []
    bad: list[Reply] = []
    sequencer.commit(
        [
            PendingEvent(hands.mono + 2, "person", CommandText(("pass",)), good.append),
            PendingEvent(hands.mono + 1, "mike", reading(55.0)),
            PendingEvent(hands.mono + 3, "person", CommandText(("jump",)), bad.append),
        ]
    )

    assert good == [Reply(ok=True, seq=2, said="pass 2.0")]
    assert bad == [Reply(ok=False, refused="came 'jump'")]
    assert [event.fact for event in read(path)][2] == Pass(2.0)


class Watched:
    """A desk that looks at the recording each time that it has to think, and takes its time over it."""

    def __init__(self, path: Path, hands: Any) -> None:
        self.saw: list[list[int]] = []
        self._path = path
        self._hands = hands

    def settled(self, state: Any, at: Instant):
        self.saw.append([event.seq for event in read(self._path)])
        self._hands.mono += 50_000_000
        return settled(state, at)


@pytest.fixture
def slow_disk(hands: Any, monkeypatch: pytest.MonkeyPatch):
    """A disk whose every answer takes 2 ms."""

    def sync(file: int) -> None:
        hands.mono += 2_000_000

    monkeypatch.setattr("capture.recording.writer.sync", sync)


@pytest.mark.usefixtures("slow_disk")
def test_what_is_heard_is_on_disk_before_the_desk_thinks_about_it(
    path: Path, clock: Clock, hands: Any
) -> None:
    watched = Watched(path, hands)
    recorder = create(path, JOB, clock)
    sequencer = EventSequencer(recorder, clock, DecisionEngine((), step, watched.settled, mark, str))
    sequencer.commit([PendingEvent(hands.mono, "mike", reading(55.0 + n)) for n in range(3)])
    recorder.close()

    assert watched.saw == [[0], [0, 1, 2], [0, 1, 2, 3, 4]]
    assert [event.source for event in read(path)] == ["mike", "desk"] * 3


@pytest.mark.usefixtures("slow_disk")
def test_a_word_is_acknowledged_before_the_desk_thinks_about_it(path: Path, clock: Clock, hands: Any) -> None:
    answers: list[Reply] = []

    def thinks(state: Any, at: Instant):
        assert [answer.ok for answer in answers] == [True]
        return state, []

    recorder = create(path, JOB, clock)
    EventSequencer(recorder, clock, DecisionEngine((), step, thinks, mark, str)).commit(
        [PendingEvent(hands.mono, "person", CommandText(("pass",)), answers.append)]
    )
    recorder.close()


@pytest.mark.usefixtures("slow_disk")
def test_what_comes_faster_than_the_disk_answers_is_written_together(
    path: Path, clock: Clock, hands: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    writes: list[int] = []
    write = os.write

    def counted(file: int, data: bytes) -> int:
        writes.append(len(data))
        return write(file, data)

    recorder = create(path, JOB, clock)
    sequencer = EventSequencer(recorder, clock, PROGRAM)
    monkeypatch.setattr(os, "write", counted)
    sequencer.commit([PendingEvent(hands.mono, "mike", reading(55.0 + n)) for n in range(100)])
    recorder.close()

    assert len(writes) == 2, "the first by itself, and the rest with what the desk said of them"
    assert len(list(read(path))) == 200


def test_whatever_order_stamps_come_in_time_never_goes_back(
    tmp_path_factory: pytest.TempPathFactory, hands: Any
) -> None:
    folder = tmp_path_factory.mktemp("recordings")

    @given(st.lists(st.lists(st.integers(-(10**9), 10**9), max_size=5), max_size=4))
    def law(batches: Any) -> None:
        path = folder / "session.jsonl"
        path.unlink(missing_ok=True)
        recorder = create(path, JOB, hands.clock())
        sequencer = EventSequencer(recorder, hands.clock(), PROGRAM)
        for batch in batches:
            sequencer.commit([PendingEvent(hands.mono + stamp, "mike", reading(1.0)) for stamp in batch])
        recorder.close()
        recording = read(path)
        monos = [event.at.mono for event in recording]
        assert monos == sorted(monos)
        assert len(monos) == 2 * sum(map(len, batches))
        assert recording.whole

    law()


def test_words_that_did_not_reach_the_disk_are_not_acknowledged(
    sequencer: EventSequencer[Any], path: Path, hands: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(file: int, data: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    replies: list[Reply] = []
    sequencer.commit([PendingEvent(hands.mono, "person", CommandText(("pass",)), replies.append)])
    monkeypatch.undo()

    (reply,) = replies
    assert not reply.ok
    assert (
        "No space left on device; it is written when the disk is back: do not say it again" in reply.refused
    )
    sequencer.commit([])
    assert [event.fact for event in read(path)] == [Pass(0.0)]


def test_what_was_heard_is_kept_although_the_desk_fails(path: Path, clock: Clock, hands: Any) -> None:
    def fails(state: Any, at: Instant):
        if len(state) == 2:
            raise ZeroDivisionError
        return state, []

    recorder = create(path, JOB, clock)
    sequencer = EventSequencer(recorder, clock, DecisionEngine((), step, fails, mark, str))
    with pytest.raises(ZeroDivisionError):
        sequencer.commit(
            [PendingEvent(hands.mono, "mike", reading(55.0)), PendingEvent(hands.mono, "mike", reading(56.0))]
        )
    recorder.close()

    assert [event.fact for event in read(path)] == [reading(55.0), reading(56.0)]


def test_a_resumed_recording_gives_the_state_it_had(
    sequencer: EventSequencer[Any], path: Path, hands: Any
) -> None:
    sequencer.commit([PendingEvent(hands.mono, "mike", reading(55.0 + n)) for n in range(3)])
    sequencer.recorder.close()
    recorder, clock = resume(path, JOB, hands.clock())
    again = EventSequencer(recorder, clock, PROGRAM)
    again.go_on()
    sequencer.recorder = recorder

    replies: list[Reply] = []
    again.commit([PendingEvent(hands.mono, "person", CommandText(("pass",)), replies.append)])
    assert [reply.said for reply in replies] == ["pass 6.0"]


def test_what_a_crash_left_undecided_is_decided_when_the_recording_goes_on(
    path: Path, clock: Clock, hands: Any
) -> None:
    def crashes(state: Any, at: Instant) -> None:
        raise ZeroDivisionError

    recorder = create(path, JOB, clock)
    sequencer = EventSequencer(recorder, clock, DecisionEngine((), step, crashes, mark, str))
    with pytest.raises(ZeroDivisionError):
        sequencer.commit([PendingEvent(hands.mono, "mike", reading(55.0))])
    recorder.close()
    recorder, clock = resume(path, JOB, hands.clock())
    EventSequencer(recorder, clock, PROGRAM).go_on()
    recorder.close()

    (heard, own) = read(path)
    assert (own.seq, own.source, own.fact, own.at) == (1, "desk", Note("saw 0"), heard.at)
