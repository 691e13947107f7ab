"""A diameter gauge that sends all the time in a hand: one size a placing, and none beside the part."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import pi, sin
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.events import Event, Instant, Mastered, Reading, Reject, Taken
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.state import decisions, replay
from capture.state import session as session_of
from capture.state.words.commands import CommandRejected, parse_command

SHEET: dict[str, Any] = {
    "job": {"name": "sleeve"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "shaft": {"material": "steel 4140", "stations": [20, 80, 140]},
    "grinder": {"dial": "diameter"},
    "gauge": [
        {"name": "mike", "measures": "diameter", "link": {"serial": "a"}, "resolution": 0.001, "stream": True}
    ],
}
RATE = 10.0


class Bench:
    """A stream written by hand: levels and ways between them."""

    def __init__(self, job: Job | None = None, rate: float = RATE) -> None:
        self.state = session_of.start(job or job_of(SHEET))
        self.events: list[Event] = []
        self.seconds, self.rate, self.level = 0.0, rate, 57.0

    def say(self, words: str) -> None:
        self._add("person", parse_command(words.split(), self.state))

    def show(self, seconds: float, shown: Callable[[float], float]) -> Bench:
        for number in range(round(seconds * self.rate)):
            self.level = shown((number + 1) / self.rate)
            value = round(self.level, 3)
            self.seconds += 1.0 / self.rate
            self._add("mike", Reading(value, "mm", 3, f"{value:.3f}\r\n"))
        return self

    def hold(self, seconds: float) -> Bench:
        level = self.level
        return self.show(seconds, lambda _: level)

    def go(self, level: float, seconds: float = 0.5) -> Bench:
        start = self.level
        return self.show(seconds, lambda t: start + (level - start) * min(t / seconds, 1.0))

    def measure(self, size: float, seconds: float = 1.5) -> Bench:
        """A micrometer is closed on a part and opened again."""
        return self.go(size).hold(seconds).go(size + 1.5)

    def _add(self, source: str, fact: Any) -> None:
        at = Instant(int(self.seconds * 1e9), int(self.seconds * 1e9))
        self.state, added = decisions.step_and_decide(self.state, Event(self.state.seq + 1, at, source, fact))
        self.events += [Event(self.state.seq - len(added), at, source, fact), *added]

    @property
    def sizes(self) -> list[tuple[float | None, float]]:
        """Place and size of all that stands."""
        return [(taken.place.z, round(taken.value, 4)) for taken in self.state.stations.taken]

    def facts(self, kind: type) -> Iterator[Any]:
        return (event.fact for event in self.events if isinstance(event.fact, kind))


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_each_placing_of_a_micrometer_is_the_size_of_the_next_station(bench):
    bench.hold(3).measure(55.03).hold(3).measure(55.028).hold(3).measure(55.031)

    assert bench.sizes == [(20, 55.03), (80, 55.028), (140, 55.031)]


def test_a_size_is_taken_while_the_gauge_still_stands_on_the_part(bench):
    bench.hold(2).go(55.03).hold(1.2)

    assert bench.sizes == [(20, 55.03)]


def test_one_placing_is_one_size_however_long_it_lasts(bench):
    bench.hold(2).measure(55.03, seconds=60)

    assert bench.sizes == [(20, 55.03)]


def test_lifting_and_placing_within_two_seconds_measures_the_place_again(bench):
    bench.hold(3).measure(55.034).go(55.03, 0.6).hold(1.5).go(57.0).hold(4).measure(55.028)

    assert bench.sizes == [(20, 55.03), (80, 55.028)]
    (reject,) = bench.facts(Reject)
    assert reject.why == "redo by gesture: lifted and placed again"


def test_a_micrometer_that_is_closed_further_was_not_on_the_part(bench):
    bench.hold(3).go(55.05).hold(1.2).go(55.03, 0.3).hold(1.5).go(57.0)

    assert bench.sizes == [(20, 55.03)]


def test_an_opened_micrometer_laid_on_the_bench_is_no_size(bench):
    bench.hold(3).measure(55.03).go(55.12, 0.3).hold(300).go(57.0).hold(2)

    assert bench.sizes == [(20, 55.03)]


def test_setting_a_micrometer_on_its_rod_or_on_itself_is_no_size(bench):
    bench.hold(2).go(50.0, 2).hold(5).go(57.0, 2).go(0.0, 4).hold(3).go(57.0, 4)
    bench.measure(55.03)

    assert bench.sizes == [(20, 55.03)]


def test_drops_of_coolant_are_no_sizes_and_move_none(bench):
    bench.hold(2).go(55.03)
    bench.show(1.5, lambda t: 55.03 + (0.08 if abs(t - 0.5) < 0.05 else 0.0)).go(57.0)

    assert bench.sizes == [(20, 55.03)]


def test_a_snap_gauge_rocked_over_the_part_reads_its_turning_point(bench):
    bench.level = 54.6
    for size in (55.03, 55.028):
        bench.hold(3).go(size - 0.08, 0.2)
        bench.show(4.0, lambda t, size=size: size - 0.08 * (1 - sin(pi * t / 1.0) ** 2)).go(54.6, 0.2)
    bench.hold(3)

    assert [z for z, _ in bench.sizes] == [20, 80]
    assert [size for _, size in bench.sizes] == pytest.approx([55.03, 55.028], abs=0.0007)


def test_on_its_master_a_settled_gauge_takes_its_zero(bench):
    bench.hold(2)
    bench.say("master mike 55.000 0.0002")
    bench.measure(55.004, 2.5).hold(3).measure(55.034)

    (mastered,) = bench.facts(Mastered)
    assert mastered.value == pytest.approx(55.004, abs=1e-6)
    assert bench.sizes == [(20, 55.03)]


def test_a_gauge_that_nobody_said_to_stream_is_found_to_and_gives_no_size_of_its_first_readings():
    sheet = {**SHEET, "gauge": [{k: v for k, v in SHEET["gauge"][0].items() if k != "stream"}]}
    bench = Bench(job_of(sheet))

    bench.hold(3).measure(55.03)

    assert bench.sizes == [(20, 55.03)]
    assert all(reject.why.startswith("the gauge streams") for reject in bench.facts(Reject))


def test_a_paused_stream_gives_no_size(bench):
    bench.say("pause")
    bench.hold(2).measure(55.03)

    assert bench.sizes == []


def test_a_size_states_what_it_rests_on(bench):
    bench.hold(2).measure(55.03)

    (taken,) = bench.facts(Taken)
    readings = {event.seq: event.fact for event in bench.events if isinstance(event.fact, Reading)}
    assert {readings[seq].value for seq in taken.of} == {55.03}
    assert 0.0003 < taken.u < 0.001, "half a step of repeatability and the rounding of one step"


def test_a_long_stream_keeps_a_bounded_state(bench):
    bench.hold(30)
    few = len(bench.state.placings["mike"].recent)
    bench.hold(300)

    assert len(bench.state.placings["mike"].recent) <= few + 1
    assert len(bench.state.history) == 0


STROKES = st.lists(
    st.one_of(
        st.tuples(st.just("measure"), st.floats(54.99, 55.2)),
        st.tuples(st.just("go"), st.floats(54.0, 58.0)),
        st.tuples(st.just("hold"), st.floats(0.2, 3.0)),
        st.tuples(st.just("say"), st.sampled_from(["undo", "pass 0.004", "pause", "go", "stage rough"])),
    ),
    max_size=8,
)


@settings(max_examples=15)
@given(strokes=STROKES, cut=st.integers(0, 400))
def test_live_is_replay_and_stop_and_go_on(strokes, cut):
    """Law: what a recording gives is what was live, wherever the fold was stopped."""
    bench = Bench()
    for what, value in strokes:
        try:
            getattr(bench, what)(value)
        except CommandRejected:
            continue
    state = session_of.start(bench.state.job)
    for event in bench.events[:cut]:
        state = session_of.step(state, event)
    for event in bench.events[cut:]:
        state = session_of.step(state, event)

    assert state == bench.state


def test_deciding_afresh_finds_the_same_sizes(bench):
    bench.hold(3).measure(55.034).go(55.03, 0.6).hold(1.5).go(57.0).hold(4).measure(55.028)

    again = replay.redecided_state(bench.state.job, bench.events)

    assert [(r.place.z, r.value) for r in again.stations.taken] == [
        (r.place.z, r.value) for r in bench.state.stations.taken
    ]
