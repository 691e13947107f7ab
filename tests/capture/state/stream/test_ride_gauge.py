"""A gauge that rides on the part while it is ground: passes, rests and sizes, with nothing said."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from capture.events import AnyFact, Beat, Event, Flag, Instant, Pass, Reading, Stage, Taken
from capture.sheet.doubts import doubts_of
from capture.sheet.faults import BadSheet
from capture.sheet.reader import job_of, read_sheet
from capture.simulator.rider import Ride, passes_of, samples_of
from capture.state import decisions, replay
from capture.state import session as session_of

RIDER = {
    "name": "rider",
    "measures": "diameter",
    "link": {"serial": "a"},
    "resolution": 0.0001,
    "rides": 80.0,
}
MIKE = {"name": "mike", "measures": "diameter", "link": {"serial": "b"}, "resolution": 0.001}
SHEET: dict[str, Any] = {
    "job": {"name": "ride"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "shaft": {"material": "steel 4140", "stations": [80]},
    "grinder": {"dial": "diameter"},
    "gauge": [RIDER, MIKE],
}
RIDE = Ride(offset=-55.0, resolution=0.0001, noise=0.0002, runout=0.002, oval=0.0005)


class Shop:
    """A session live."""

    def __init__(self, sheet: dict[str, Any] = SHEET) -> None:
        self.state = session_of.start(job_of(sheet))
        self.events: list[Event] = []

    def say(self, seconds: float, source: str, fact: AnyFact) -> None:
        event = Event(self.state.seq + 1, Instant(int(seconds * 1e9), int(seconds * 1e9)), source, fact)
        self.state, added = decisions.step_and_decide(self.state, event)
        self.events += [event, *added]

    def show(self, seconds: float, source: str, value: float) -> None:
        self.say(seconds, source, Reading(value, "mm", 4, f"{value:.4f}\r\n"))

    def grind(self, ride: Ride = RIDE, until: float = 1e9, *, by_hand: float | None = 7.0) -> Shop:
        for sample in samples_of(ride, 3):
            if sample.at > until:
                break
            self.show(sample.at, "rider", sample.value)
            if by_hand is not None and sample.at >= by_hand:
                self.show(sample.at, "mike", round(ride.size, 3))
                by_hand = None
        return self

    def facts(self, kind: type) -> Iterator[Any]:
        return (event.fact for event in self.events if isinstance(event.fact, kind))

    @property
    def flags(self) -> list[str]:
        return [fact.what for fact in self.facts(Flag)]


@pytest.fixture(scope="module")
def ground() -> Shop:
    return Shop().grind()


def test_every_pass_is_found_and_every_rest_is_one(ground):
    truth = passes_of(RIDE)

    found = list(ground.facts(Pass))

    assert len(found) == len(truth)
    assert [one.infeed for one in found] == [None if one.infeed else 0.0 for one in truth]


def test_each_pass_leaves_one_size_at_the_gauges_place_set_by_the_one_measured_by_hand(ground):
    sizes = [fact for fact in ground.facts(Taken) if fact.gauge == "rider"]
    truth = [RIDE.size, *(one.size for one in passes_of(RIDE))]

    assert [fact.z for fact in sizes] == [80.0] * len(truth)
    assert [fact.pass_ for fact in sizes] == list(range(len(truth)))
    assert [fact.value for fact in sizes] == pytest.approx(truth, abs=0.0004)


def test_a_stream_leaves_a_fact_a_pass_and_not_one_a_reading(ground):
    own = [event for event in ground.events if event.source == "desk"]
    assert len(own) < 3 * len(passes_of(RIDE)) + 6
    assert len(ground.state.history) < 40


def test_spark_out_is_called_within_one_pass_of_the_truth_and_the_size_is_predicted(ground):
    truth = passes_of(RIDE)
    done = next(n for n, one in enumerate(truth, 1) if not one.infeed and one.to_come * RIDE.share < 0.0005)

    row = next(r for r in ground.state.grind.passes if r.outlook and r.outlook.verdict == "sparked-out")

    assert done <= row.number <= done + 1
    end = truth[-1].size - truth[-1].to_come
    assert abs(row.outlook.predicted - end) < 1.96 * row.outlook.u_predicted


def test_spark_out_is_said_once(ground):
    assert ground.flags.count("sparked-out") == 1


def test_the_coach_advises_from_what_the_gauge_showed(ground):
    """40 mm/1000 over a fit that asks for 54.997: after each pass there is a next step, and at last one."""
    sheet = {**SHEET, "fit": {**SHEET["fit"], "bore": 55.0021, "u_bore": 0.0005}}
    shop = Shop(sheet).grind(until=passes_of(RIDE)[3].at + 9.0)

    advice = shop.state.grind.coaching

    assert advice is not None
    assert (advice.landing.step, advice.after) == ("feed", 4)
    assert 0.0 < advice.landing.infeed <= 0.010


def test_the_gauge_does_not_move_the_place_that_is_measured_next(ground):
    sheet = {**SHEET, "shaft": {"material": "steel 4140", "stations": [20, 140]}}
    shop = Shop(sheet).grind(until=45.0)

    assert shop.state.stations.plan_of("shaft").here.z == 20.0


def test_live_is_replay(ground):
    state = session_of.start(ground.state.job)
    for event in ground.events:
        state = session_of.step(state, event)

    assert state == ground.state


def test_deciding_afresh_finds_the_same_passes(ground):
    again = replay.redecided_state(ground.state.job, ground.events)

    assert [row.infeed for row in again.grind.passes] == [row.infeed for row in ground.state.grind.passes]


def test_a_gauge_that_is_lifted_is_named_and_its_passes_go_on_when_it_is_back():
    ride = Ride(
        offset=-55.0, resolution=0.0001, infeeds=(0.005,) * 5, pauses=((2, 40.0),), lifts=True, stroke=15.0
    )
    shop = Shop().grind(ride)

    assert shop.flags.count("ride-lifted") == 1
    assert len(list(shop.facts(Pass))) == 5


def test_the_passes_of_the_next_part_are_found_though_the_stage_is_named_while_the_gauge_is_off():
    ride = Ride(offset=-55.0, resolution=0.0001, infeeds=(0.005,) * 3, stroke=12.0)
    shop = Shop()
    begun = 0.0
    for _ in range(2):
        for sample in samples_of(ride, 3):
            shop.show(begun + sample.at, "rider", sample.value)
        begun += 80.0
        for number in range(120):
            shop.show(begun + 0.1 * number, "rider", 1.5)
            if number == 50:
                shop.say(begun + 5.02, "person", Stage("grind"))
        begun += 12.0

    assert len(list(shop.facts(Pass))) == 2 * 3


def test_a_size_by_hand_that_disagrees_is_asked_about_and_moves_nothing():
    shop = Shop().grind(until=25.0)
    before = shop.state.rides["rider"].sets[0].zero

    shop.show(26.0, "mike", 55.055)
    shop.say(27.0, "daemon", Beat())

    assert "ride-differs" in shop.flags
    assert shop.state.rides["rider"].sets[0].zero == before


def test_a_stream_that_stops_in_a_pass_is_named():
    shop = Shop().grind(until=passes_of(RIDE)[2].at + 0.3)
    shop.say(passes_of(RIDE)[2].at + 6.0, "daemon", Beat())

    assert "ride-stopped" in shop.flags


def test_two_gauges_at_one_place_are_asked_about_and_count_each_pass_once():
    sheet = {**SHEET, "gauge": [RIDER, {**RIDER, "name": "second"}, MIKE]}
    shop = Shop(sheet)
    for sample in samples_of(Ride(resolution=0.0001, infeeds=(0.006,) * 3), 3):
        shop.show(sample.at, "rider", sample.value)
        shop.show(sample.at, "second", sample.value)

    assert len(list(shop.facts(Pass))) == 3
    assert "ride-twice" in shop.flags
    (doubt,) = (d for d in doubts_of(job_of(sheet)) if d.path[-1] == "rides")
    assert "rider rides at" in str(doubt.question)


def test_with_an_infeed_gauge_each_pass_is_counted_once_with_what_was_fed_for_it():
    """The head is wound back by 2 mm in the middle and stands: the part shows that no pass was made."""
    saddle = {"name": "head", "measures": "infeed", "link": {"serial": "c"}, "resolution": 0.001}
    ride = Ride(
        offset=-55.0, resolution=0.0001, infeeds=(0.005, 0.005, 0.004, 0.006, 0.0, 0.0), pauses=((2, 60.0),)
    )
    truth = passes_of(ride)
    shop = Shop({**SHEET, "gauge": [RIDER, MIKE, saddle]})
    told = 0.0
    for sample in samples_of(ride, 3):
        shop.show(sample.at, "rider", sample.value)
        if sample.at == 7.0:
            shop.show(sample.at, "mike", round(ride.size, 3))
        if sample.at - told >= 0.2:
            told = sample.at
            fed = sum(one.infeed for one in truth if one.at - 4.0 <= sample.at)
            back = 2.0 if truth[2].at + 10.0 < sample.at < truth[3].at - 12.0 else 0.0
            shop.show(sample.at, "head", round(7.0 + fed - back, 3))

    infeeds = [infeed for fact in shop.facts(Pass) for infeed in fact.infeeds]

    assert infeeds == pytest.approx([0.005, 0.005, 0.004, 0.006, 0.0, 0.0], abs=1e-6)


def test_an_infeed_gauge_that_shows_nothing_fed_does_not_make_a_rest_of_a_pass_that_took_more():
    saddle = {"name": "head", "measures": "infeed", "link": {"serial": "c"}, "resolution": 0.001}
    ride = Ride(offset=-55.0, resolution=0.0001, infeeds=(0.006, 0.0))
    shop = Shop({**SHEET, "gauge": [RIDER, MIKE, saddle]})
    for sample in samples_of(ride, 3):
        shop.show(sample.at, "rider", sample.value)
        if sample.at == 7.0:
            shop.show(sample.at, "mike", round(ride.size, 3))
        shop.show(sample.at, "head", 7.0)

    assert [infeed for fact in shop.facts(Pass) for infeed in fact.infeeds] == [None, 0.0]
    assert "sparked-out" not in shop.flags


def test_a_size_by_hand_between_passes_makes_no_pass_where_a_gauge_rides():
    shop = Shop().grind(until=passes_of(RIDE)[1].at + 9.0)
    before = len(list(shop.facts(Pass)))

    shop.show(passes_of(RIDE)[1].at + 9.5, "mike", round(passes_of(RIDE)[1].size, 3))

    assert len(list(shop.facts(Pass))) == before == 2


def test_only_a_diameter_gauge_rides():
    sheet = """
    [job]
    name = "ride"
    [[gauge]]
    name = "saddle"
    measures = "infeed"
    link = { serial = "a" }
    rides = 80.0
    """
    with pytest.raises(BadSheet, match="rides"):
        read_sheet(sheet, "ride.toml")
