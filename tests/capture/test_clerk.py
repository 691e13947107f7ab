"""Numbers, times and decisions: in order, in one write, acknowledged only on disk."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.clerk import Clerk, Desk, Heard, Words
from capture.clock import Clock
from capture.events import Beat, Event, Note, Pass, Reading
from capture.folds.marks import Refused
from capture.journal import read
from capture.recorder import create, resume

JOB = {"job": {"name": "Jig-borer spindle sleeve"}}


def step(state: Any, event: Event):
    return (*state, event)


def decided(state: Any, event: Event):
    """Remarks on every reading, once."""
    state = step(state, event)
    if not isinstance(event.fact, Reading):
        return state, []
    own = Event(event.seq + 1, event.at, "desk", Note(f"saw {event.seq}"))
    return step(state, own), [own]


def mark(words: Any, state: Any):
    if words[0] != "pass":
        raise Refused(f"came {words[0]!r}")
    return Pass(float(len(state)))


DESK = Desk((), step, decided, mark, lambda fact: f"pass {fact.infeed}")


def reading(value: float):
    return Reading(value, "mm", 3, f"{value:.3f}\r\n")


@pytest.fixture
def path(tmp_path: Path):
    return tmp_path / "session.jsonl"


@pytest.fixture
def clock(hands: Any):
    return hands.clock()


@pytest.fixture
def clerk(path: Path, clock: Clock):
    recorder = create(path, JOB, clock)
    yield Clerk(recorder, clock, DESK)
    recorder.close()


def test_the_desk_s_words_follow_the_event_that_they_rest_on(
    clerk: Clerk[Any], path: Path, hands: Any
) -> None:
    clerk.commit([Heard(hands.mono, "mike", reading(55.0)), Heard(hands.mono, "daemon", Beat())])
    events = list(read(path))

    assert [(event.seq, event.source) for event in events] == [(0, "mike"), (1, "desk"), (2, "daemon")]
    assert events[1].at == events[0].at


def test_words_are_understood_in_the_state_in_which_they_came(
    clerk: Clerk[Any], path: Path, hands: Any
) -> None:
    replies = clerk.commit(
        [
            Heard(hands.mono + 2, "person", Words(("pass",))),
            Heard(hands.mono + 1, "mike", reading(55.0)),
            Heard(hands.mono + 3, "person", Words(("jump",))),
        ]
    )

    assert replies[0] is not None
    assert (replies[0].ok, replies[0].seq, replies[0].said) == (True, 2, "pass 2.0")
    assert replies[1] is None
    assert replies[2] is not None
    assert (replies[2].ok, replies[2].refused) == (False, "came 'jump'")
    assert [event.fact for event in read(path)][2] == Pass(2.0)


def test_whatever_order_stamps_come_in_time_never_goes_back(
    tmp_path_factory: pytest.TempPathFactory, hands: Any
) -> None:
    folder = tmp_path_factory.mktemp("recordings")

    @given(st.lists(st.lists(st.integers(-(10**9), 10**9), max_size=5), max_size=4))
    def law(batches: Any) -> None:
        path = folder / "session.jsonl"
        path.unlink(missing_ok=True)
        recorder = create(path, JOB, hands.clock())
        clerk = Clerk(recorder, hands.clock(), DESK)
        for batch in batches:
            clerk.commit([Heard(hands.mono + stamp, "mike", reading(1.0)) for stamp in batch])
        recorder.close()
        recording = read(path)
        monos = [event.at.mono for event in recording]
        assert monos == sorted(monos)
        assert len(monos) == 2 * sum(map(len, batches))
        assert recording.whole

    law()


def test_words_that_did_not_reach_the_disk_are_not_acknowledged(
    clerk: Clerk[Any], path: Path, hands: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(file: int, data: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    reply = clerk.commit([Heard(hands.mono, "person", Words(("pass",)))])[0]
    monkeypatch.undo()

    assert reply is not None
    assert not reply.ok
    assert (
        "No space left on device; it is written when the disk is back: do not say it again" in reply.refused
    )
    clerk.commit([])
    assert [event.fact for event in read(path)] == [Pass(0.0)]


def test_what_was_heard_is_kept_although_the_desk_fails(path: Path, clock: Clock, hands: Any) -> None:
    def fails(state: Any, event: Event) -> None:
        raise ZeroDivisionError

    recorder = create(path, JOB, clock)
    clerk = Clerk(recorder, clock, Desk((), step, fails, mark, str))
    with pytest.raises(ZeroDivisionError):
        clerk.commit([Heard(hands.mono, "mike", reading(55.0))])
    recorder.close()

    assert [event.fact for event in read(path)] == [reading(55.0)]


def test_a_resumed_recording_gives_the_state_it_had(clerk: Clerk[Any], path: Path, hands: Any) -> None:
    clerk.commit([Heard(hands.mono, "mike", reading(55.0 + n)) for n in range(3)])
    clerk.recorder.close()
    recorder, clock = resume(path, JOB, hands.clock())
    again = Clerk(recorder, clock, DESK)
    again.go_on()
    clerk.recorder = recorder

    reply = again.commit([Heard(hands.mono, "person", Words(("pass",)))])[0]
    assert reply is not None
    assert reply.said == "pass 6.0"
