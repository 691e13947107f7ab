"""Passes that nobody tells, and words about them in any order: with an infeed gauge the state is the same."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from capture.analysis.summary import summary
from capture.events import Beat, Pass, Reading
from capture.sheet.reader import job_of
from capture.state import decisions, replay
from capture.state import session as session_of
from capture.state.grinding.found_passes import grouped


class Machine:
    """A grinder of share 0.5 with an infeed gauge that sends four times a second, and a person's hands."""

    def __init__(self, session: Any, *, back: float = -3.0, speaks: bool = True) -> None:
        self.session, self.back, self.speaks = session, back, speaks
        self.head = self.fed = 0.0
        self.size = 55.03

    def at(self, position: float, seconds: float) -> Machine:
        self.head = position
        if not self.speaks:
            self.session.seconds += seconds - 5.0
            self.session.tell(("daemon", Beat()))
            return self
        for _ in range(round(4 * seconds)):
            self.session.seconds += 0.25 - 5.0
            self.session.tell(("saddle", Reading(round(self.head, 3), "mm", 3, f"{self.head:.3f}\r\n")))
        return self

    def grind(self, infeed: float, passes: int = 1) -> Machine:
        self.fed += infeed
        for _ in range(passes):
            self.size -= 0.5 * max(self.size - (55.03 - self.fed), 0.0)
        return self.at(self.fed, 20.0 * passes)

    def measure(self, *, drawn_back: bool = True) -> Machine:
        if drawn_back:
            self.at(self.back, 10.0)
        else:
            self.at(self.head, 8.0)
        self.session.seconds -= 5.0
        self.session.tell(("mike", round(self.size, 3)))
        return self

    def say(self, words: str) -> Machine:
        self.session.seconds -= 5.0
        self.session.tell(("person", words))
        return self


@pytest.fixture
def machine(sheet: dict[str, Any], new_session: Callable[[Any], Any]) -> Callable[..., Machine]:
    def made(*, dial: str = "diameter", gauge: bool = True) -> Machine:
        sheet["shaft"] = {"material": "steel 4140", "stations": [80]}
        sheet["grinder"]["dial"] = dial
        return Machine(new_session(job_of(sheet)), speaks=gauge)

    return made


def _infeeds(machine: Machine) -> list[float | None]:
    rows = machine.session.state.grind.passes
    return [None if row.infeed is None else round(row.infeed, 4) for row in rows]


def test_the_path_of_the_issue_gives_ten_and_five_micrometres(session):
    lines = [0.0, None, 0.005, 0.010, -1.0, -3.0, None, -1.0, 0.0, 0.010, 0.015, -3.0, None]

    state = session.tell(*[("mike", 55.0) if at is None else ("saddle", at) for at in lines])

    assert [row.infeed for row in state.grind.passes] == [pytest.approx(0.010), pytest.approx(0.005)]


@pytest.mark.parametrize("drawn_back", [True, False])
def test_ten_passes_of_which_the_last_two_rest_are_ten(machine, drawn_back: bool):
    one = machine().at(0.0, 5.0).measure(drawn_back=drawn_back)
    for n in range(10):
        one.grind(0.005 if n < 8 else 0.0).measure(drawn_back=drawn_back)

    assert _infeeds(one) == [0.005] * 8 + [0.0] * 2
    assert [r.pass_ for r in one.session.state.stations.taken] == list(range(11))


def test_three_feeds_and_two_rests_before_each_size_are_five_passes(machine):
    one = machine().at(0.0, 5.0).measure()
    for _ in range(3):
        one.grind(0.005).grind(0.004).grind(0.003, passes=3).measure()

    assert _infeeds(one) == [0.005, 0.004, 0.003, 0.0, 0.0] * 3
    facts = [event.fact for event in one.session.events if isinstance(event.fact, Pass)]
    assert (facts[2].times, facts[2].rests) == (1, 2)
    assert [r.pass_ for r in one.session.state.stations.taken] == [0, 5, 10, 15]


def test_a_size_taken_again_at_once_is_no_rest(machine):
    one = machine().at(0.0, 5.0).measure(drawn_back=False)
    for _ in range(4):
        one.grind(0.005).measure(drawn_back=False).at(one.head, 3.0).measure(drawn_back=False)

    assert _infeeds(one) == [0.005] * 4


def test_a_gauge_on_radius_finds_twice_as_much_on_diameter(machine):
    one = machine(dial="radius").at(0.0, 5.0).measure()
    one.grind(0.003).measure()

    assert _infeeds(one) == [0.006]


def test_the_first_word_of_the_gauge_may_come_from_a_head_wound_back(machine):
    one = machine().at(-3.0, 5.0).measure()
    one.at(0.0, 4.0).grind(0.005).measure().grind(0.005).measure()

    assert _infeeds(one) == [0.005, 0.005]


def test_after_a_dressing_the_wheel_cuts_deeper_and_the_first_infeed_is_not_known(machine):
    one = machine().at(0.0, 5.0).measure().grind(0.005).measure().say("dress")
    one.grind(0.060).measure().grind(0.005).measure()

    assert _infeeds(one) == [0.005, None, 0.005]


@pytest.mark.parametrize(
    ("order", "gauge"),
    [(order, gauge) for order in ("before", "after", "twice", "both") for gauge in (True, False)]
    + [("never", True)],
)
def test_the_order_of_the_words_makes_no_difference(machine, order: str, gauge: bool):
    """Law; an infeed that neither a person nor a gauge tells stays unknown."""
    one, told = (machine(gauge=gauge).at(0.0, 5.0).measure(drawn_back=False) for _ in range(2))
    for n in range(8):
        fed = 0.005 if n < 6 else 0.0
        told.grind(fed).say(f"pass {fed}").measure(drawn_back=False).at(told.head, 3.0)
        one.grind(fed)
        if order in {"before", "twice", "both"}:
            one.say(f"pass {fed}")
        if order == "twice":
            one.at(one.head, 1.0).say(f"pass {fed}")
        one.measure(drawn_back=False).at(one.head, 3.0)
        if order in {"after", "both"}:
            one.say(f"pass {fed}")

    mine, due = summary(one.session.state)["passes"], summary(told.session.state)["passes"]
    assert [row["infeed"] for row in mine] == pytest.approx([row["infeed"] for row in due])
    for key in ("value", "predicted", "u_predicted", "verdict"):
        assert mine[-1][key] == pytest.approx(due[-1][key], abs=1e-5), key


def test_one_word_names_a_group(machine):
    one = machine(gauge=False).at(0.0, 5.0).measure()
    one.at(0.0, 100.0).say("pass 0.004 x3 rest 2").measure()

    assert _infeeds(one) == [0.004] * 3 + [0.0] * 2
    assert one.session.state.stations.taken[-1].pass_ == 5


def test_a_group_told_after_its_reading_is_counted_before_it(machine):
    one = machine(gauge=False).at(0.0, 5.0).measure().at(0.0, 100.0).measure().say("pass 0.004 x3 rest 2")

    assert _infeeds(one) == [0.004] * 3 + [0.0] * 2
    assert one.session.state.stations.taken[-1].pass_ == 5
    assert one.session.state.grind.sizes[-1].after == 5


def test_a_word_told_late_is_of_the_pass_that_it_names(machine):
    one = machine().at(0.0, 5.0).measure().grind(0.004).measure(drawn_back=False)
    one.at(one.head, 15.0).say("pass 0.004")

    assert _infeeds(one) == [0.004]


def test_a_person_who_tells_one_of_three_passes_has_the_others_found(machine):
    one = machine().at(0.0, 5.0).measure().grind(0.005).grind(0.004).grind(0.003).say("pass 0.003").measure()

    assert sorted(_infeeds(one)) == [0.003, 0.004, 0.005]


def test_what_is_found_is_found_again_wherever_the_recording_is_cut(machine):
    """Law: the program's own events follow from what was heard before them."""
    one = machine().at(0.0, 5.0).measure().grind(0.005).grind(0.004, passes=3).measure()

    state = session_of.start(one.session.job)
    for number, event in enumerate(one.session.events):
        state = session_of.step(state, event)
        rest = []
        for later in one.session.events[number + 1 :]:
            if later.source != session_of.PROGRAM:
                break
            rest.append(later)
        assert decisions.apply_decisions(state, event.at)[1] == rest
    again = replay.redecided_state(one.session.job, one.session.events)
    assert [row.infeed for row in again.grind.passes] == [row.infeed for row in state.grind.passes]


def test_a_found_pass_that_is_set_aside_takes_its_number_from_what_was_measured_after_it(machine):
    one = machine().at(0.0, 5.0).measure().grind(0.005).measure().grind(0.005).measure()
    first = next(event.seq for event in one.session.events if isinstance(event.fact, Pass))

    one.say(f"reject {first} the wheel was in the air")

    assert _infeeds(one) == [0.01]  # the wheel stands where it was fed to: the next pass takes both infeeds
    assert [r.pass_ for r in one.session.state.stations.taken] == [0, 0, 1]
    one.say("undo")
    assert [r.pass_ for r in one.session.state.stations.taken] == [0, 1, 2]


def test_a_rest_that_only_later_sizes_show_is_put_right(machine):
    """One feed and one rest before each size look like one long pass until a pass is made alone."""
    one = machine().at(0.0, 5.0).measure()
    for _ in range(3):
        one.grind(0.005, passes=2).measure()
    assert _infeeds(one) == [0.005] * 3

    for _ in range(4):
        one.grind(0.0).measure()

    assert _infeeds(one) == [0.005, 0.0] * 3 + [0.0] * 4
    assert [r.pass_ for r in one.session.state.stations.taken] == [0, 2, 4, 6, 7, 8, 9, 10]
    again = replay.redecided_state(one.session.job, one.session.events)
    assert [row.infeed for row in again.grind.passes] == [
        row.infeed for row in one.session.state.grind.passes
    ]


def test_more_rests_than_one_fact_holds_are_several_facts():
    found = grouped([0.005, *[0.0] * 250])

    assert sum(len(one.infeeds) for one in found) == 251
