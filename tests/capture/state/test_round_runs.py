"""Runs of a part that turns: readings of theirs are no sizes, and what is undone was never said."""

from __future__ import annotations

import pytest

from capture.sheet.reader import job_of


@pytest.fixture
def dialled(sheet, new_session):
    sheet["gauge"].append(
        {"name": "dial", "measures": "runout", "link": {"serial": "e"}, "resolution": 0.001}
    )
    return new_session(job_of(sheet))


def values(session) -> list[list[float]]:
    state = session.state
    return [[one.value for one in run.readings] for run in state.rounds.standing(state.aside)]


def test_a_reading_of_a_run_is_no_size_and_one_after_it_is(dialled):
    state = dialled.tell(
        ("person", "round shaft 80 two-point mike"),
        ("mike", 55.01),
        ("mike", 55.01),
        ("person", "round done"),
        ("mike", 55.02),
    )

    assert values(dialled) == [[55.01, 55.01]]
    assert [one.value for one in state.stations.taken] == [55.02]


def test_an_indicator_is_never_a_size(dialled):
    assert list(dialled.tell(("dial", 0.01)).stations.taken) == []


def test_another_word_of_work_ends_a_run(dialled):
    dialled.tell(("person", "round shaft 80 v90"), ("dial", 0.01), ("person", "pass 0.004"), ("dial", 0.02))

    assert values(dialled) == [[0.01]]


def test_a_run_that_is_undone_is_gone_and_its_gauge_measures_again(dialled):
    dialled.tell(("person", "round shaft 80 two-point mike"), ("mike", 55.5), ("person", "undo"))
    state = dialled.tell(("mike", 55.01))

    assert values(dialled) == []
    assert [one.value for one in state.stations.taken] == [55.01]


def test_a_mark_that_is_undone_did_not_come_by(dialled):
    dialled.tell(("person", "round shaft 80 v90"), ("person", "turn"), ("person", "turn"), ("person", "undo"))

    (run,) = dialled.state.rounds.standing(dialled.state.aside)
    assert len(run.turns) == 1


def test_a_reading_that_is_rejected_is_not_of_the_run(dialled):
    dialled.tell(("person", "round shaft 80 v90"), ("dial", 0.5), ("dial", 0.01))
    knocked = next(event.seq for event in dialled.events if getattr(event.fact, "value", None) == 0.5)

    dialled.tell(("person", f"reject {knocked} knocked"))

    assert values(dialled) == [[0.01]]
