"""An indicator on the swivel table: its movement is written down by the desk and followed like the word.

The geometry is the swivel's: a movement x read at R from the pivot turns the wheel's line by 2 x / R.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from capture.analysis.grind.next_step import coach_of
from capture.coach.table_correction import Turn
from capture.events import Table
from capture.sheet.faults import BadSheet
from capture.sheet.reader import job_of, read_sheet
from capture.state import replay

TABLE = {"name": "swing", "measures": "table", "link": {"serial": "e"}, "resolution": 0.001}


@pytest.fixture
def begin(sheet: dict[str, Any], new_session: Callable[[Any], Any]):
    """A session with an indicator on the table; *more* goes into its [[gauge]]."""

    def started(**more: Any):
        sheet["shaft"] = {"material": "steel 4140", "stations": [30, 250]}
        sheet["gauge"] = [sheet["gauge"][0], sheet["gauge"][2], {**TABLE, **more}]
        return new_session(job_of(sheet))

    return started


def _movements(session: Any) -> list[float | None]:
    return [event.fact.moved for event in session.events if isinstance(event.fact, Table)]


def test_a_movement_is_written_down_once_its_indicator_rests(begin):
    session = begin()
    session.tell(("swing", 0.200), ("swing", 0.206), ("swing", 0.212))
    assert _movements(session) == []

    session.tell(("swing", 0.212), ("swing", 0.212), ("swing", 0.2125))

    assert _movements(session) == [pytest.approx(0.012)]
    assert session.state.grind.turns == (Turn(0, pytest.approx(0.012), found=True),)


def test_an_indicator_that_sends_at_a_keys_press_is_looked_at_when_the_part_is_measured(begin):
    session = begin()
    session.tell(("swing", 0.200), ("mike", 55.060), ("swing", 0.192), ("mike", 55.055))

    assert _movements(session) == [pytest.approx(-0.008)]
    kinds = [type(event.fact).__name__ for event in session.events[-2:]]
    assert kinds == ["Table", "Taken"]


def test_a_table_that_only_trembles_was_not_moved(begin):
    session = begin()
    for value in (0.200, 0.201, 0.199, 0.201, 0.200, 0.2005):
        session.tell(("swing", value), ("mike", 55.060))

    assert _movements(session) == []


def test_an_indicator_that_counts_the_other_way_is_turned_round(begin):
    session = begin(sign="-")
    session.tell(("swing", 0.200), ("swing", 0.190), ("swing", 0.190))

    assert _movements(session) == [pytest.approx(0.010)]


def test_the_same_movement_told_as_well_counts_once(begin):
    session = begin()
    session.tell(("swing", 0.200), ("swing", 0.210), ("swing", 0.210), ("person", "table +0.010"))
    assert [turn.toward_wheel for turn in session.state.grind.turns] == [0.010]

    session.tell(("swing", 0.210), ("swing", 0.215), ("swing", 0.215))
    assert [turn.toward_wheel for turn in session.state.grind.turns] == pytest.approx([0.010, 0.005])


def test_a_movement_told_before_its_indicator_rests_is_not_written_down_again(begin):
    session = begin()
    session.tell(("swing", 0.200), ("swing", 0.210), ("person", "table +0.010"), ("swing", 0.210))
    session.tell(("swing", 0.210), ("mike", 55.0))

    assert _movements(session) == [0.010]


def test_the_slope_answers_as_after_the_word(begin):
    """A table that makes 80 % of what the indicator shows; both ways of telling lead to the same figures."""

    def ground(by: str):
        session, line, shown = begin(), 0.00016, 0.200
        slope, size, spring = line, 55.120, 0.004
        session.tell(("swing", shown))
        for number in range(9):
            session.tell(*[("mike", round(size + slope * (z - 140.0), 4)) for z in (30.0, 250.0)])
            if number == 3 and by == "indicator":
                shown += 0.020
                session.tell(("swing", shown), ("swing", shown))
            elif number == 3:
                session.tell(("person", "table +0.020"))
            if number == 3:
                line -= 2.0 * 0.8 * 0.020 / 600.0
            session.tell(("person", "pass 0.010"))
            spring += 0.010
            size, spring = size - 0.5 * spring, 0.5 * spring
            slope += 0.5 * (line - slope)
        return session

    told, read = ground("word"), ground("indicator")
    one, other = coach_of(told.state), coach_of(read.state)

    assert one is not None
    assert other is not None
    assert other["table"]["slope_obeys"] == pytest.approx(0.8, abs=0.1)
    # the indicator speaks once more than the operator, a second more in which an unseen growth fades
    assert _numbers(other["table"]) == pytest.approx(_numbers(one["table"]), rel=0.05, abs=1e-5)
    assert {k for k, v in one["table"].items() if v is None} == {
        k for k, v in other["table"].items() if v is None
    }


def _numbers(table):
    return {key: value for key, value in table.items() if isinstance(value, float)}


def test_a_replay_tells_the_same_as_the_session(begin):
    session = begin()
    session.tell(("swing", 0.2), ("mike", 55.06), ("swing", 0.21), ("swing", 0.21), ("mike", 55.05))

    assert replay.state_at_end(session.job, session.events).grind.turns == session.state.grind.turns
    assert replay.redecided_state(session.job, session.events).grind.turns == session.state.grind.turns


def test_undo_takes_the_movement_back_and_it_does_not_come_again(begin):
    session = begin()
    session.tell(("swing", 0.2), ("swing", 0.21), ("swing", 0.21), ("person", "undo"), ("swing", 0.21))

    assert session.state.grind.turns == ()


def test_an_indicator_on_a_table_whose_pivot_nobody_told_is_asked_about():
    written = """
[job]
name = "sleeve"
units = "mm"
[grinder]
dial = "diameter"
[[gauge]]
name = "swing"
measures = "table"
link = {serial = "e"}
"""

    with pytest.raises(BadSheet, match=r"grinder\.swivel: missing"):
        read_sheet(written, "job.toml")
