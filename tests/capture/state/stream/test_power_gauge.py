"""A gauge of power in a session: its passes as facts, with other gauges, words, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from capture.events import Dress, Flag, Pass, Reading
from capture.sheet.reader import BadSheet, job_of, read_sheet
from capture.simulator.sessions.power_session import CYCLES, power_session
from capture.state.words.typed_reading import typed

POWER: dict[str, Any] = {"name": "spindle", "measures": "power", "link": {"serial": "p"}, "resolution": 1.0}
RATE = 4.0


class Shop:
    """A spindle that sends four times a second, a micrometer, and perhaps a gauge on the head."""

    def __init__(self, session: Any) -> None:
        self.session, self.number = session, 0

    def stands(self, seconds: float, watts: float, head: float | None = None) -> Shop:
        for _ in range(round(RATE * seconds)):
            self.number += 1
            value = watts + 4.0 * (1.0, -0.4, -1.3, 0.8, 0.2, -0.9, 1.1, -0.5)[self.number * 5 % 8]
            self.session.seconds += 1.0 / RATE - 5.0
            self.session.tell(("spindle", Reading(value, "W", 0, f"{value:.0f} W\r\n")))
            if head is not None:
                self.session.seconds -= 5.0
                self.session.tell(("saddle", Reading(head, "mm", 3, f"{head:.3f}\r\n")))
        return self

    def stroke(self, over: float, head: float | None = None) -> Shop:
        return self.stands(10.0, 900.0 + over, head).stands(1.5, 900.0, head)

    def size(self, value: float) -> Shop:
        self.session.seconds -= 5.0
        self.session.tell(("mike", value))
        return self

    def say(self, words: str) -> Shop:
        self.session.tell(("person", words))
        return self

    @property
    def infeeds(self) -> list[float | None]:
        return [row.infeed for row in self.session.state.grind.passes]

    @property
    def flags(self) -> list[str]:
        facts = [event.fact for event in self.session.state.flags]
        return [fact.what for fact in facts if isinstance(fact, Flag)]


@pytest.fixture
def shop(sheet: dict[str, Any], new_session: Callable[[Any], Any]) -> Callable[..., Shop]:
    def made(*, head: bool = False, power: Any = POWER) -> Shop:
        sheet["shaft"] = {"material": "steel 4140", "stations": [80]}
        kept = [
            one
            for one in sheet["gauge"]
            if one["measures"] == "diameter" or (head and one["name"] == "saddle")
        ]
        sheet["gauge"] = [{**one, "stream": False} if one["name"] == "mike" else one for one in kept] + [
            power
        ]
        return Shop(new_session(job_of(sheet)))

    return made


def test_each_pass_is_a_fact_when_it_is_over_and_nobody_says_a_word(shop):
    one = shop().stands(12.0, 900.0).size(55.03).stroke(150.0).stroke(170.0).stroke(80.0)

    assert one.infeeds == [None, None, 0.0]
    one.stands(20.0, 900.0).size(55.02)
    assert one.infeeds == [None, None, 0.0]


def test_with_a_gauge_on_the_head_each_pass_has_its_infeed(shop):
    one = shop(head=True).stands(12.0, 900.0, 0.0).size(55.03)
    one.stroke(150.0, 0.005).stroke(170.0, 0.010).stroke(80.0, 0.010).stands(10.0, 900.0, -3.0).size(55.02)
    one.stands(5.0, 900.0, -3.0).stroke(160.0, 0.014).stands(10.0, 900.0, -3.0).size(55.016)

    assert one.infeeds[1:] == pytest.approx([0.005, 0.0, 0.004], abs=1e-6)


def test_a_rise_while_the_head_is_wound_back_is_no_pass(shop):
    one = shop(head=True).stands(12.0, 900.0, 0.0).size(55.03)
    one.stroke(150.0, 0.005).stroke(170.0, 0.010).stands(6.0, 900.0, -3.0).stroke(60.0, -3.0)

    assert len(one.infeeds) == 2


def test_what_was_told_is_not_found_again(shop):
    one = shop().stands(12.0, 900.0).size(55.03).stroke(150.0).stands(8.0, 900.0)
    one.say("pass 0.004").stroke(160.0).stands(8.0, 900.0)

    assert len(one.infeeds) == 2


def test_rests_too_weak_to_be_seen_are_found_by_the_gauge_on_the_head(shop):
    one = shop(head=True).stands(12.0, 900.0, 0.0).size(55.03)
    for depth in (0.005, 0.010):
        one.stroke(150.0, depth).stroke(70.0, depth).stands(10.0, 900.0, -3.0).size(55.03 - depth)
        one.stands(3.0, 900.0, -3.0)
    one.stroke(35.0, 0.010).stands(10.0, 900.0, -3.0).size(55.0195).stands(3.0, 900.0, -3.0)
    before = len(one.infeeds)
    one.stands(10.0, 903.0, 0.010).stands(10.0, 900.0, -3.0).size(55.0192)

    assert one.infeeds[before:] == [0.0]


def test_a_dressing_is_a_fact_that_can_be_taken_back(shop):
    one = shop().stands(12.0, 900.0).size(55.03).stroke(250.0).stroke(270.0).stroke(260.0).stands(10.0, 900.0)
    for _ in range(3):
        one.stands(5.0, 950.0).stands(1.5, 900.0)
    one.stands(10.0, 900.0).stroke(250.0)

    assert [e.fact for e in one.session.events if isinstance(e.fact, Dress)] == [Dress()]
    assert one.session.state.grind.dressed


def test_a_meter_that_stops_in_a_pass_is_named_and_what_it_saw_counts(shop):
    one = shop().stands(12.0, 900.0).size(55.03).stroke(150.0).stroke(150.0).stroke(150.0).stands(3.0, 1050.0)
    one.session.tell(("beat", 0.0))
    assert one.flags.count("power-stopped") == 1

    one.stands(2.0, 1050.0).stands(6.0, 900.0)
    assert len(one.infeeds) == 4


def test_a_meter_that_never_moves_while_the_part_gets_smaller_is_named_once(shop):
    one = shop().stands(12.0, 900.0).size(55.030).stands(30.0, 900.0).size(55.024)
    one.stands(30.0, 900.0).size(55.020).session.tell(("beat", 1.0))

    assert one.flags.count("power-still") == 1
    assert len(one.infeeds) == 2  # found as without it, by the place that was measured again


def test_a_wrong_scale_is_named_and_the_passes_are_found_all_the_same(shop):
    one = shop(power={**POWER, "unit": "%"}).stands(12.0, 900.0).size(55.03).stroke(150.0).stroke(150.0)

    assert one.flags.count("power-scale") == 1
    assert len(one.infeeds) == 2


def test_the_sheet_takes_power_in_its_units_alone(sheet):
    sheet["gauge"] = [{**POWER, "unit": "kW", "resolution": 0.01}]
    assert job_of(sheet).gauges[0].resolution == pytest.approx(10.0)
    assert typed(job_of(sheet).gauges[0], "1.25").value == pytest.approx(1250.0)

    text = '[job]\nname = "x"\n[[gauge]]\nname = "spindle"\nmeasures = "power"\nunit = "mm"\n'
    with pytest.raises(BadSheet, match="unit"):
        read_sheet(text + 'link = { serial = "p" }\n', "sheet")


def test_the_simulated_grind_is_found_pass_by_pass(new_session):
    """Truth of the simulator: rests are told from feeds, the dresser, the pump and an air stroke are none."""
    from capture.dialects.decimal import decimal_line
    from capture.dialects.dialect import Decoder
    from capture.simulator.sessions.power_session import POWER as SHEET

    job, _ = read_sheet(SHEET.format(spindle="a", mike="b"), "power")
    session = new_session(job)
    decoders = {gauge.name: Decoder(decimal_line(unit=gauge.unit)) for gauge in job.gauges}
    for line in power_session():
        decoders[line.gauge], facts = decoders[line.gauge].feed(line.data)
        for fact in facts:
            session.seconds = line.at - 5.0
            session.tell((line.gauge, fact))

    rows = session.state.grind.passes
    true: Sequence[float] = [infeed for cycle in CYCLES for infeed in cycle]
    assert len(rows) == len(true)
    wrong = [n for n, (row, infeed) in enumerate(zip(rows, true, strict=True)) if row.infeed == 0.0 < infeed]
    assert wrong == []
    assert sum(isinstance(event.fact, Pass) for event in session.events) > 10
