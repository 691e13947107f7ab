"""A number of passes that is not sure is asked about once, and one word settles it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from capture.events import Flag, Pass, Reading
from capture.metrology.grinding.stream.pass_pace import StandWork, pace_of
from capture.sheet.reader import job_of
from capture.state import replay
from capture.state import session as session_of
from capture.state.grinding.counted_passes import CountedPass, answered, doubt_of, recounted
from capture.state.words.commands import CommandRejected
from capture.text.flag_sentences import flag_text

OFTEN = [StandWork(20.0, "back")] * 4
BETWEEN = StandWork(31.0, "back")
"""As far from one pass of 20 s as from two."""


class Shop:
    """An infeed gauge that sends four times a second; passes of 20 s, the head wound back to measure."""

    def __init__(self, session: Any) -> None:
        self.session, self.depth, self.size = session, 0.0, 55.03

    def at(self, position: float, seconds: float) -> Shop:
        for _ in range(round(4 * seconds)):
            self.session.seconds += 0.25 - 5.0
            self.session.tell(("saddle", Reading(round(position, 3), "mm", 3, f"{position:.3f}\r\n")))
        return self

    def grind(self, seconds: float = 20.0) -> Shop:
        self.depth += 0.005
        self.size -= 0.004
        self.at(self.depth, seconds).at(-3.0, 10.0)
        self.session.seconds -= 5.0
        self.session.tell(("mike", round(self.size, 3)))
        return self

    def say(self, words: str) -> Shop:
        self.session.tell(("person", words))
        return self

    @property
    def asked(self) -> list[str]:
        flags = [event.fact for event in self.session.state.flags]
        return [
            flag_text(flag) or "" for flag in flags if isinstance(flag, Flag) and flag.what == "passes-unsure"
        ]

    @property
    def infeeds(self) -> list[float | None]:
        rows = self.session.state.grind.passes
        return [None if row.infeed is None else round(row.infeed, 4) for row in rows]


@pytest.fixture
def shop(sheet: dict[str, Any], new_session: Callable[[Any], Any]) -> Shop:
    sheet["shaft"] = {"material": "steel 4140", "stations": [80]}
    one = Shop(new_session(job_of(sheet)))
    one.at(0.0, 5.0).session.tell(("mike", 55.03))
    return one.grind().grind().grind()


def test_passes_that_are_sure_are_not_asked_about(shop: Shop):
    assert shop.grind(41.0).asked == []


def test_a_number_that_is_not_sure_is_asked_about_once_in_one_sentence(shop: Shop):
    shop.grind(30.0)

    (text,) = shop.asked
    assert re.fullmatch(r"(1 pass|2 passes) before this size\? Say no if it was [0-9]", text)
    assert session_of.open_question(shop.session.state) is not None


def test_no_makes_it_the_other_number_and_yes_leaves_it(shop: Shop):
    shop.grind(30.0)
    found = shop.infeeds

    shop.say("no")

    assert sorted([len(found), len(shop.infeeds)]) == [4, 5]
    assert shop.session.state.stations.taken[-1].pass_ == len(shop.infeeds)
    with pytest.raises(CommandRejected, match="nothing was asked"):
        shop.say("yes")


def test_yes_leaves_it(shop: Shop):
    shop.grind(30.0)
    found = shop.infeeds

    assert shop.say("yes").infeeds == found
    assert session_of.open_question(shop.session.state) is None


def test_with_the_next_size_the_question_is_over(shop: Shop):
    shop.grind(30.0).grind()

    assert session_of.open_question(shop.session.state) is None


def test_a_replay_of_what_was_decided_and_one_that_decides_afresh_give_the_same(shop: Shop):
    shop.grind(30.0).say("no").grind()
    job, events = shop.session.state.job, shop.session.events

    assert replay.state_at_end(job, events) == shop.session.state
    again = replay.redecided_state(job, events)
    assert [row.infeed for row in again.grind.passes] == [
        row.infeed for row in shop.session.state.grind.passes
    ]


def test_after_three_questions_that_nobody_answers_none_is_asked(shop: Shop):
    for _ in range(6):
        shop.grind(30.0)

    assert len(shop.asked) <= 3


def test_a_doubt_names_what_there_may_have_been_instead():
    one = CountedPass(7, Pass(0.005), (BETWEEN,), 1)

    doubt = doubt_of([one], 1, [*OFTEN, BETWEEN])

    assert doubt is not None
    assert (doubt.number, doubt.other) == (1, 2)
    assert doubt.instead == Pass(0.005, rests=1, of=7)


def test_what_a_person_says_of_a_stand_holds_whatever_the_pace():
    one = CountedPass(7, Pass(0.005), (BETWEEN,), 1)
    doubt = doubt_of([one], 1, [*OFTEN, BETWEEN])
    assert doubt is not None

    (yes,), (no,) = answered([one], doubt, yes=True), answered([one], doubt, yes=False)

    assert yes.works[-1].known == 1
    assert (no.works[-1].without, no.number) == (1, 2)
    pace = pace_of([StandWork(31.0, "back")] * 6)
    assert recounted([yes] * 3, pace) is None
