"""A pass that was found is taken back, and the model goes on as though there had been one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from capture.events import Confirmation, Pass, Reading
from capture.sheet.reader import job_of
from capture.state import replay
from capture.state.session import State
from capture.state.words.commands import CommandRejected, parse_command


class Shop:
    """An infeed gauge that sends four times a second, passes of 20 s, the head wound back to measure."""

    def __init__(self, session: Any) -> None:
        self.session = session

    def at(self, position: float, seconds: float) -> Shop:
        for _ in range(round(4 * seconds)):
            self.session.seconds += 0.25 - 5.0
            self.session.tell(("saddle", Reading(round(position, 3), "mm", 3, f"{position:.3f}\r\n")))
        return self

    def size(self, value: float) -> Shop:
        self.at(-3.0, 10.0)
        self.session.seconds -= 5.0
        self.session.tell(("mike", value))
        return self

    def say(self, words: str) -> Shop:
        self.session.tell(("person", words))
        return self

    @property
    def state(self) -> State:
        return self.session.state

    @property
    def infeeds(self) -> list[float | None]:
        return [None if row.infeed is None else round(row.infeed, 4) for row in self.state.grind.passes]


@pytest.fixture
def shop(sheet: dict[str, Any], new_session: Callable[[Any], Any]) -> Shop:
    sheet["shaft"] = {"material": "steel 4140", "stations": [80]}
    one = Shop(new_session(job_of(sheet)))
    return one.at(0.0, 5.0).size(55.030).at(0.005, 20.0).size(55.027)


def test_a_feed_with_a_stop_half_way_is_one_pass_with_all_that_was_fed(shop):
    shop.at(0.008, 20.0).at(0.012, 20.0).size(55.021)
    assert shop.infeeds == [0.005, 0.003, 0.004]

    shop.say("merge")

    assert shop.infeeds == [0.005, 0.007]
    assert [reading.pass_ for reading in shop.state.stations.taken] == [0, 1, 2]


def test_two_alike_in_one_fact_become_one_as_well(shop):
    shop.at(0.008, 20.0).at(0.011, 20.0).size(55.021)
    assert shop.infeeds == [0.005, 0.003, 0.003]

    shop.say("merge")

    assert shop.infeeds == [0.005, 0.006]


@pytest.fixture
def without_infeed_gauge(sheet, new_session):
    """One size, a pass of 5 µm that a person said, and its size."""
    sheet["gauge"] = [one for one in sheet["gauge"] if one["measures"] != "infeed"]
    said = new_session(job_of(sheet))
    for line in (("mike", 55.03), ("person", "pass 0.005"), ("mike", 55.027)):
        said.tell(line)
    return said


def test_of_three_alike_in_one_fact_the_two_that_are_left_share_what_was_fed(without_infeed_gauge):
    without_infeed_gauge.tell(("person", "pass 0.002 x3"))

    without_infeed_gauge.tell(("person", "merge"))

    infeeds = [row.infeed for row in without_infeed_gauge.state.grind.passes]
    assert infeeds == pytest.approx([0.005, 0.003, 0.003])


def test_a_pass_that_a_person_said_is_taken_back_by_undo_and_not_merged(without_infeed_gauge):
    without_infeed_gauge.tell(("person", "pass 0.004"))

    with pytest.raises(CommandRejected, match="yourself"):
        parse_command(["merge"], without_infeed_gauge.state)


def test_the_model_goes_on_as_though_it_had_been_one(shop, sheet, new_session):
    """Law: sizes, strokes and what is judged are those of a session in which one pass was told."""
    shop.at(0.008, 20.0).at(0.012, 20.0).size(55.021).say("merge")
    sheet["gauge"] = [one for one in sheet["gauge"] if one["measures"] != "infeed"]
    told = new_session(job_of(sheet))
    for line in (
        ("mike", 55.03),
        ("person", "pass 0.005"),
        ("mike", 55.027),
        ("person", "pass 0.007"),
        ("mike", 55.021),
    ):
        told.tell(line)

    assert [one.infeed for one in shop.state.grind.strokes] == pytest.approx(
        [one.infeed for one in told.state.grind.strokes]
    )
    sizes, due = shop.state.grind.sizes, told.state.grind.sizes
    assert [one.after for one in sizes] == [one.after for one in due]
    assert [one.value for one in sizes] == pytest.approx([one.value for one in due])


def test_an_undone_pass_leaves_its_infeed_to_the_next_where_it_was_the_only_one(shop):
    shop.at(0.008, 20.0).size(55.025)
    found = next(e for e in reversed(shop.session.events) if isinstance(e.fact, Pass))

    shop.say(f"reject {found.seq} the wheel was clear").at(0.012, 20.0).size(55.021)

    assert shop.infeeds == [0.005, 0.007]


def test_a_merge_can_itself_be_undone(shop):
    shop.at(0.008, 20.0).at(0.012, 20.0).size(55.021).say("merge").say("undo")

    assert shop.infeeds == [0.005, 0.003, 0.004]


def test_a_replay_of_a_merge_finds_what_the_session_found(shop):
    shop.at(0.008, 20.0).at(0.012, 20.0).size(55.021).say("merge")

    again = replay.state_at_end(shop.session.job, shop.session.events)

    assert [row.infeed for row in again.grind.passes] == [row.infeed for row in shop.state.grind.passes]


def test_where_there_are_no_two_passes_there_is_nothing_to_merge(shop):
    with pytest.raises(CommandRejected, match="no two passes"):
        parse_command(["merge"], shop.state)


def test_one_key_of_a_pedal_answers_where_something_is_asked_and_else_says_its_own_word(shop):
    words = ["no", "or", "pass", "0"]
    said = parse_command(words, shop.state)
    assert isinstance(said, Pass)
    assert said.infeed == 0.0

    shop.at(0.010, 10.0).at(0.0, 3.0)  # the display is set to 0 while the head stands
    assert [event.fact.what for event in shop.state.flags if event.fact.what == "infeed-zeroed"]

    assert parse_command(words, shop.state) == Confirmation(shop.state.flags.last.seq, yes=False)
    assert parse_command(["yes", "or", "undo"], shop.state) == Confirmation(
        shop.state.flags.last.seq, yes=True
    )
