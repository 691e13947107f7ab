"""A recording told once more: what it says of itself, and what is decided of it now."""

from __future__ import annotations

from capture.analysis.summary import summary
from capture.events import Event, Instant, Reading
from capture.state import replay
from capture.state import session as session_of
from capture.state.replay import Trail, again


def places(state):
    return [(row.place.z, row.place.angle) for row in state.stations.taken]


def test_a_recording_without_any_decision_gets_them_now(job):
    """Another program may record readings and passes alone."""
    events = [
        Event(0, Instant(0, 0), "mike", Reading(55.01, "mm", 3, "")),
        Event(1, Instant(10**9, 0), "mike", Reading(55.02, "mm", 3, "")),
    ]

    assert places(replay.state_at_end(job, events)) == [(20, 0), (20, 90)]


def test_as_made_ends_where_the_live_desk_ended(session):
    session.tell(("mike", 55.01), ("person", "pass 0.01"), ("mike", 55.0))

    assert [event for event, _ in replay.replay_as_decided(session.job, session.events)] == session.events
    assert replay.state_at_end(session.job, session.events) == session.state


def test_afresh_every_event_but_the_desks_own_comes_with_its_state(session):
    session.tell(("mike", 55.01), ("person", "pass 0.01"), ("mike", 55.0))
    told = list(replay.redecide(session.job, session.events))

    assert [event for event, _ in told] == [
        event for event in session.events if event.source != session_of.PROGRAM
    ]
    assert len(told) < len(session.events)


def test_the_desks_own_recorded_decisions_are_passed_over(session):
    session.tell(("mike", 55.01))
    taken = next(event for event in session.events if event.source == session_of.PROGRAM)
    state = session_of.start(session.job)

    assert again(state, taken, Trail()) is state


def test_a_decision_that_a_person_took_back_is_so_afresh_too(session):
    session.tell(("mike", 55.01), ("person", "pass 0.01"), ("mike", 55.0))
    taken = session.events[-1]
    session.tell(("person", f"reject {taken.seq} a chip"), ("mike", 54.99))

    made, now = (
        summary(tell(session.job, session.events)) for tell in (replay.state_at_end, replay.redecided_state)
    )

    assert taken.source == session_of.PROGRAM
    assert [row["value"] for row in now["stations"]] == [row["value"] for row in made["stations"]]
