"""A recording told once more: what it says of itself, and what is decided of it now."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from capture.analysis.summary import summary
from capture.events import Event, Instant, Pass, Reading, Taken
from capture.sheet.reader import job_of
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


class Unspoken:
    """Nobody says a word of passes: a saddle that sends four times a second, and a micrometer."""

    def __init__(self, session: Any) -> None:
        self.session = session

    def at(self, position: float, seconds: float) -> Unspoken:
        for _ in range(round(4 * seconds)):
            self.session.seconds += 0.25 - 5.0
            self.session.tell(("saddle", Reading(round(position, 3), "mm", 3, f"{position:.3f}\r\n")))
        return self

    def size(self, value: float) -> Unspoken:
        self.at(-3.0, 10.0)
        self.session.tell(("mike", value))
        return self

    def decided(self, kind: type) -> list[int]:
        """The numbers of the program's own events of that kind."""
        own = (event for event in self.session.events if event.source == session_of.PROGRAM)
        return [event.seq for event in own if isinstance(event.fact, kind)]


@pytest.fixture
def unspoken(sheet: dict[str, Any], new_session: Callable[[Any], Any]) -> Unspoken:
    """Three passes are found before the newest size."""
    sheet["shaft"] = {"material": "steel 4140", "stations": [80]}
    one = Unspoken(new_session(job_of(sheet)))
    one.at(0.0, 5.0).size(55.030).at(0.005, 20.0).size(55.027)
    one.at(0.008, 20.0).at(0.012, 20.0).at(0.017, 20.0).size(55.018)
    assert len(one.decided(Pass)) == 4
    return one


def worked_out(state):
    """Passes with their infeeds, and which reading is of which pass."""
    passes = [(row.number, row.infeed) for row in state.grind.passes]
    return passes, [(row.value, row.pass_) for row in state.stations.taken]


def the_same_afresh(unspoken):
    made = worked_out(replay.state_at_end(unspoken.session.job, unspoken.session.events))
    assert made == worked_out(unspoken.session.state)
    assert worked_out(replay.redecided_state(unspoken.session.job, unspoken.session.events)) == made
    return made


@pytest.mark.parametrize("which", [0, 1, 2, 3])
def test_a_found_pass_that_a_person_rejected_stays_rejected_afresh(unspoken, which):
    before = the_same_afresh(unspoken)
    unspoken.session.tell(("person", f"reject {unspoken.decided(Pass)[which]} no such pass"))

    passes, taken = the_same_afresh(unspoken)

    assert len(passes) == len(before[0]) - 1
    assert [value for value, _ in taken] == [value for value, _ in before[1]]
    assert taken[-1][1] == before[1][-1][1] - 1
    unspoken.at(0.022, 20.0).size(55.013)
    assert len(the_same_afresh(unspoken)[0]) == len(passes) + 1


def test_two_found_passes_that_were_rejected_stay_so_and_one_comes_back_by_undo(unspoken):
    first, second = unspoken.decided(Pass)[1:3]
    unspoken.session.tell(("person", f"reject {first} no"), ("person", f"reject {second} no"))
    assert len(the_same_afresh(unspoken)[0]) == 2

    unspoken.session.tell(("person", "undo"))

    assert len(the_same_afresh(unspoken)[0]) == 3


def test_a_size_that_was_rejected_leaves_the_passes_found_before_it(unspoken):
    before = the_same_afresh(unspoken)
    unspoken.session.tell(("person", f"reject {unspoken.decided(Taken)[-1]} a chip"))

    passes, taken = the_same_afresh(unspoken)

    assert (passes, taken) == (before[0], before[1][:-1])


def test_a_rejected_pass_that_is_not_found_afresh_takes_no_reading_with_it(unspoken):
    unspoken.session.tell(("person", f"reject {unspoken.decided(Pass)[3]} no such pass"))
    events = [event for event in unspoken.session.events if event.source != "saddle"]

    state = replay.redecided_state(unspoken.session.job, events)

    assert [row.value for row in state.stations.taken] == [55.030, 55.027, 55.018]
