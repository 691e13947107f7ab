"""Hands free: a stream walks the plan by itself, sets its zero on a ring, and listens to gesture and word."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from capture.analysis.steps.lapping_progress import lapping
from capture.analysis.summary import summary
from capture.analysis.sweep_guidance import live
from capture.events import Down, Event, Flag, Instant, Mastered, Pause, Reading, Reject, Taken
from capture.sheet.job import Job
from capture.sheet.measuring_plan import PlannedPlace
from capture.sheet.reader import job_of
from capture.simulator.bore import BoreGauge, BoreSample, Hand, Wire
from capture.state import decisions, replay, session
from capture.state.words.commands import CommandRejected, parse_command
from capture.text.command_replies import said
from capture.text.flag_sentences import flag_text

HAND = Hand(frequency=0.8, amplitude=3.0, pauses=0.0)


def sheet(**gauge: Any) -> dict[str, Any]:
    return {
        "job": {"name": "sleeve"},
        "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
        "bore": {"material": "grey cast iron", "stations": [10, 40], "angles": [0, 60]},
        "gauge": [
            {"name": "plug", "measures": "bore", "link": {"serial": "b"}, "resolution": 0.001, **gauge},
            {"name": "warm", "measures": "temperature", "part": "bore", "link": {"serial": "c"}},
        ],
    }


class Bench:
    """A live desk, and a gauge in a hand whose stream is told to it."""

    def __init__(self, job: Job, wire: Wire | None = None) -> None:
        self.job, self.state = job, session.start(job)
        self.events: list[Event] = []
        self.gauge = BoreGauge(HAND, wire or Wire(), 4)
        self.late = 0.0

    def add(self, source: str, fact: Any, at: float | None = None) -> None:
        ns = int(((self.gauge.seconds if at is None else at) + self.late) * 1e9)
        ns = max(ns, self.state.at.mono)
        event = Event(self.state.seq + 1, Instant(ns, ns), source, fact)
        self.state, added = decisions.step_and_decide(self.state, event)
        self.events += [event, *added]

    def say(self, words: str) -> None:
        self.add("person", parse_command(words.split(), self.state))

    def hear(self, shown: Iterable[BoreSample]) -> None:
        for sample in shown:
            self.add("plug", Reading(sample.value, "mm", 3, f"{sample.value}\r\n"), sample.at)

    def enter(self, size: float, rocks: float = 4) -> None:
        self.hear(self.gauge.enter(size))
        self.hear(self.gauge.rock(size, rocks))

    def move(self, size: float, to: float, rocks: float = 4) -> None:
        self.hear(self.gauge.move(2.0, size, to))
        self.hear(self.gauge.rock(to, rocks))

    def leave(self, size: float, air: float = 3.0) -> None:
        self.hear(self.gauge.leave(size, 0.4))
        self.hear(self.gauge.air(air, size))

    @property
    def read(self) -> list[tuple[float | None, float | None, float]]:
        return [(r.place.z, r.place.angle, r.value) for r in self.state.stations.taken]


def test_places_are_taken_one_after_the_other_while_the_gauge_is_rocked_and_moved():
    bench = Bench(job_of(sheet()))
    bench.enter(55.002)
    bench.move(55.002, 55.004)
    bench.move(55.004, 55.001)

    assert [place[:2] for place in bench.read] == [(10, 0), (10, 60), (40, 0)]
    assert [place[2] for place in bench.read] == [
        pytest.approx(v, abs=8e-4) for v in (55.002, 55.004, 55.001)
    ]


def test_a_sweep_is_in_the_summary_with_its_turning_points():
    bench = Bench(job_of(sheet()))
    bench.enter(55.002)

    (row,) = summary(bench.state)["sweeps"]

    assert {"part", "z", "angle", "value", "u", "turning_points", "t"} <= row.keys()
    assert row["turning_points"] == len(row["of"]) >= 3
    readings = {event.seq for event in bench.events if isinstance(event.fact, Reading)}
    assert set(row["of"]) <= readings


def test_the_first_reading_of_a_stream_that_the_sheet_says_nothing_of_does_not_stand():
    bench = Bench(job_of(sheet()))
    bench.enter(55.002, rocks=0)

    assert bench.read == []
    assert sum(isinstance(event.fact, Taken) for event in bench.events) == 1


def test_a_gauge_that_the_sheet_says_streams_is_never_read_one_by_one():
    bench = Bench(job_of(sheet(stream=True)))
    bench.enter(55.002, rocks=0)

    assert not any(isinstance(event.fact, Taken) for event in bench.events)


def test_a_button_pressed_now_and_then_is_taken_each_time():
    bench = Bench(job_of(sheet()))
    for n in range(3):
        bench.add("plug", Reading(55.001, "mm", 3, ""), 4.0 * n)

    assert len(bench.read) == 3
    assert summary(bench.state)["sweeps"] == []


@pytest.mark.parametrize("doing", ["air", "still"])
def test_of_a_gauge_that_is_not_rocked_nothing_stands(doing):
    bench = Bench(job_of(sheet()))
    bench.hear(bench.gauge.air(20.0, 55.0) if doing == "air" else bench.gauge.still(20.0, 55.0, 0.3))

    assert bench.read == []


def test_rocking_on_the_ring_sets_the_zero_and_the_bore_is_read_with_it():
    """The gauge shows 0 at 55.0042; the ring is 55.000."""
    bench = Bench(job_of(sheet(stream=True)), Wire(zero=55.0042))
    bench.say("master plug 55.000 0.0003")
    bench.enter(55.0, rocks=6)
    bench.leave(55.0)
    bench.enter(55.003)

    (mastered,) = [event.fact for event in bench.events if isinstance(event.fact, Mastered)]
    assert mastered.value == pytest.approx(-0.0042, abs=5e-4)
    assert len(mastered.of) >= 6
    ((z, angle, value),) = bench.read
    assert (z, angle) == (10, 0)
    assert value == pytest.approx(55.003, abs=1e-3)
    assert bench.state.stations.taken[-1].u > 0.0003


def test_on_the_ring_nothing_is_taken_for_a_place_until_it_has_been_withdrawn():
    bench = Bench(job_of(sheet(stream=True)))
    bench.say("master plug 55.000")
    bench.enter(55.0, rocks=6)
    bench.hear(bench.gauge.still(3.0, 55.0))
    bench.hear(bench.gauge.rock(55.0, 5))

    assert bench.read == []
    view = live(bench.state, "plug")
    assert view is not None
    assert view.say == "withdraw"


def test_a_gauge_whose_reading_falls_as_the_bore_grows_reads_the_same_bore():
    """Law: mirrored readings with the sign on the sheet."""
    one, two = Bench(job_of(sheet(zero=55.0)), Wire(zero=55.0)), Bench(job_of(sheet(zero=55.0, sign="-")))
    one.enter(55.002)
    for event in one.events:
        if isinstance(event.fact, Reading):
            two.add("plug", Reading(-event.fact.value, "mm", 3, ""), event.at.seconds)

    assert two.read == one.read
    assert len(one.read) == 1


def test_withdrawn_and_entered_again_at_once_the_last_place_is_measured_again():
    bench = Bench(job_of(sheet(stream=True)))
    bench.enter(55.002)
    bench.move(55.002, 55.004)
    bench.leave(55.004, air=0.4)
    bench.enter(55.0041)

    assert [place[:2] for place in bench.read] == [(10, 0), (10, 60)]
    assert bench.read[-1][2] == pytest.approx(55.0041, abs=8e-4)
    (reject,) = [event.fact for event in bench.events if isinstance(event.fact, Reject)]
    assert "gesture" in reject.why


def test_a_longer_way_out_and_in_is_the_way_to_the_next_place():
    bench = Bench(job_of(sheet(stream=True)))
    bench.enter(55.002)
    bench.leave(55.002, air=4.0)
    bench.enter(55.004)

    assert [place[:2] for place in bench.read] == [(10, 0), (10, 60)]


def test_undo_lets_the_same_place_be_taken_while_rocking_goes_on():
    bench = Bench(job_of(sheet(stream=True)))
    bench.enter(55.002)
    bench.say("undo")
    bench.hear(bench.gauge.rock(55.002, 4))

    assert [place[:2] for place in bench.read] == [(10, 0)]


def test_paused_nothing_is_taken_and_go_goes_on():
    bench = Bench(job_of(sheet(stream=True)))
    bench.say("pause")
    bench.enter(55.002)
    assert bench.read == []

    bench.say("go")
    bench.hear(bench.gauge.rock(55.002, 4))

    assert len(bench.read) == 1
    assert said(Pause(on=True), bench.job).startswith("paused")


def test_skip_and_back_are_of_the_bore_while_its_gauge_streams():
    bench = Bench(job_of(sheet(stream=True)))
    bench.hear(bench.gauge.air(1.0, 55.0))
    bench.say("skip")
    bench.enter(55.002)
    assert bench.read[-1][:2] == (10, 60)

    bench.say("back")

    assert bench.state.stations.plan_of("bore").here == PlannedPlace(10, 60)


def test_live_is_replay_and_deciding_afresh_finds_the_same():
    bench = Bench(job_of(sheet()))
    bench.enter(55.002)
    bench.move(55.002, 55.004)
    bench.leave(55.004, air=0.4)
    bench.enter(55.0041)

    replayed = session.start(bench.job)
    for event in bench.events:
        replayed = session.step(replayed, event)
    again = replay.redecided_state(bench.job, bench.events)

    assert replayed == bench.state
    assert [(r["z"], r["angle"], r["value"]) for r in summary(again)["sweeps"]] == bench.read


def test_the_master_is_to_be_checked_after_half_an_hour_and_once():
    bench = Bench(job_of(sheet(stream=True)))
    bench.say("master plug 55.000")
    bench.enter(55.0, rocks=6)
    for bench.late in (1790.0, 1830.0, 1900.0):
        bench.hear(bench.gauge.air(0.5, 55.0))

    flags = [e.fact for e in bench.state.flags if isinstance(e.fact, Flag) and e.fact.what == "check-master"]
    assert len(flags) == 1
    assert flags[0].gauge == "plug"
    assert "31 min" in flag_text(flags[0])


def test_the_master_is_to_be_checked_after_a_change_of_two_kelvin():
    bench = Bench(job_of(sheet(stream=True)))
    bench.add("warm", Reading(20.0, "degC", 1, ""))
    bench.say("master plug 55.000")
    bench.enter(55.0, rocks=6)
    bench.add("warm", Reading(21.9, "degC", 1, ""))
    assert not bench.state.flags

    bench.add("warm", Reading(22.2, "degC", 1, ""))

    assert [e.fact.what for e in bench.state.flags] == ["check-master"]


def test_the_screen_is_told_how_many_more_and_what_was_accepted_last():
    bench = Bench(job_of(sheet(stream=True)))
    bench.hear(bench.gauge.enter(55.002))
    bench.hear(bench.gauge.rock(55.002, 1))
    before = live(bench.state, "plug")
    bench.hear(bench.gauge.rock(55.002, 3))
    after = live(bench.state, "plug")

    assert before is not None
    assert after is not None
    assert before.more is not None
    assert before.more >= 1
    assert before.accepted is None
    assert (after.say, after.tone, after.more) == ("move", "accepted", None)
    assert after.accepted is not None
    assert after.here == PlannedPlace(10, 60)
    assert len(after.curve) > 50
    assert all(turned.kept for turned in after.turned)

    bench.add("plug", Down("unplugged"))
    lost = live(bench.state, "plug")

    assert lost is not None
    assert (lost.say, lost.tone) == ("lost", "lost")


def test_rocks_that_differ_ask_for_a_swing_and_for_no_number():
    """Half a rock each at sizes 8 µm apart: thousands more would be wanted."""
    bench = Bench(job_of(sheet(stream=True)))
    bench.hear(bench.gauge.enter(55.0))
    for number in range(8):
        bench.hear(bench.gauge.rock(55.0 + 0.008 * (number % 3), 0.5))
    view = live(bench.state, "plug")

    assert bench.read == []
    assert view is not None
    assert (view.say, view.more) == ("differ", None)


def test_what_a_hand_may_stand_off_the_middle_is_in_the_uncertainty():
    """0.2 mm in 55 mm is up to 1.45 µm too small, 0.65 µm on the whole: 2 e² / D."""
    told = sheet(stream=True)
    near, far = Bench(job_of(told)), Bench(job_of({**told, "settings": {"sweep": {"aside": 0.2}}}))
    for bench in (near, far):
        bench.enter(55.002)

    one, two = near.state.stations.taken[-1], far.state.stations.taken[-1]
    assert two.value == one.value
    assert two.u**2 - one.u**2 == pytest.approx(0.00065**2, rel=0.02)


def test_what_a_lap_took_off_is_told_between_two_stages():
    bench = Bench(job_of(sheet(stream=True)))
    bench.say("stage as found")
    bench.enter(55.001)
    bench.leave(55.001)
    bench.say("lap 60 3 min")
    bench.say("stage lapped 1")
    bench.enter(55.003)

    found = lapping(bench.state)

    assert found is not None
    assert found.removed == pytest.approx(0.002, abs=8e-4)
    assert found.per_stroke == pytest.approx(found.removed / 60)
    assert found.per_minute == pytest.approx(found.removed / 3)


@pytest.mark.parametrize("words", ["lap many", "lap 0", "lap 60 min 3", "pause now", "go on"])
def test_a_word_that_cannot_be_is_refused_with_what_was_due(words):
    bench = Bench(job_of(sheet()))

    with pytest.raises(CommandRejected, match="due"):
        bench.say(words)
