"""The sweep: phases, places and readings from the stream alone, and the laws that a stream must not bend."""

from __future__ import annotations

from collections.abc import Iterable
from functools import reduce

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from capture.sheet.stream_settings import SweepSettings as Limits
from capture.simulator.bore import BoreGauge, Hand, Wire
from capture.state.sweep.sweep import step
from capture.state.sweep.sweep_state import KEPT, Accepted, Setup, StreamSample, SweepState, setup

TOLD = setup(Limits(), 0.001, None, 55.0)
STEADY = Hand(frequency=0.8, amplitude=3.0, pauses=0.0)


def samples(shown: Iterable) -> list[StreamSample]:
    return [StreamSample(s.at, s.value, n) for n, s in enumerate(shown)]


def over(
    stream: Iterable[StreamSample], told: Setup = TOLD, state: SweepState | None = None
) -> tuple[list[Accepted], SweepState]:
    state, found = state or SweepState(streams=True), []
    for sample in stream:
        state = step(state, sample, told)
        if state.due is not None and state.due.seq == sample.seq:
            found.append(state.due)
    return found, state


def one_place(
    size: float = 55.0, *, seed: int = 1, hand: Hand = STEADY, wire: Wire | None = None, rocks: float = 5
):
    gauge = BoreGauge(hand, wire or Wire(), seed)
    yield from gauge.air(1.5, size)
    yield from gauge.enter(size)
    yield from gauge.rock(size, rocks)
    yield from gauge.leave(size)
    yield from gauge.air(1.0, size)


def test_a_place_is_accepted_once_and_within_what_it_says():
    (found,), _ = over(samples(one_place(55.0017)))

    assert abs(found.value - 55.0017) <= 3 * found.u
    assert found.u <= 0.0003
    assert len(found.of) >= 3


def test_its_turning_points_are_readings_near_the_bottoms_of_rocks():
    stream = samples(one_place())
    (found,), _ = over(stream)

    lowest = min(sample.value for sample in stream)
    assert all(stream[seq].value - lowest < 0.025 for seq in found.of)


def test_the_phases_of_a_place_come_in_their_order():
    state, phases = SweepState(streams=True), []
    for sample in samples(one_place()):
        state = step(state, sample, setup(Limits(), 0.001, None, 55.0, 55.0))
        if not phases or phases[-1] != state.phase:
            phases.append(state.phase)

    assert [p for p in phases if p != "moving"] == ["entering", "air", "entering", "rocking", "withdrawn"]


def test_moved_to_the_next_place_it_is_read_there_and_a_pause_is_no_move():
    gauge = BoreGauge(STEADY, Wire(), 5)

    def stream():
        yield from gauge.enter(55.0)
        yield from gauge.rock(55.0, 4)
        yield from gauge.still(0.8, 55.0)
        yield from gauge.rock(55.0, 3)
        yield from gauge.move(2.0, 55.0, 55.003)
        yield from gauge.rock(55.003, 4)

    found, _ = over(samples(stream()))

    assert [a.value for a in found] == [pytest.approx(55.0, abs=8e-4), pytest.approx(55.003, abs=8e-4)]


def test_withdrawn_and_entered_again_within_two_seconds_is_a_gesture_and_slower_is_not():
    def gestures(away: float) -> int:
        gauge = BoreGauge(STEADY, Wire(), 3)

        def stream():
            yield from gauge.enter(55.0)
            yield from gauge.rock(55.0, 4)
            yield from gauge.leave(55.0, 0.4)
            yield from gauge.air(away, 55.0)
            yield from gauge.enter(55.0, 0.6)
            yield from gauge.rock(55.0, 1)

        return over(samples(stream()))[1].redo

    assert gestures(0.6) >= 0
    assert gestures(4.0) == -1


def test_a_hand_too_quick_for_the_gauge_is_asked_to_be_slower():
    quick = replace(STEADY, frequency=1.2)

    found, state = over(samples(one_place(hand=quick, wire=Wire(rate=5), rocks=8)))

    assert found == []
    assert state.tone == "slower"


def test_a_place_that_is_left_before_it_was_accepted_is_heard():
    found, state = over(samples(one_place(rocks=1.5)), replace(TOLD, points=9))

    assert found == []
    assert state.tone == "again"


def test_a_chip_under_the_tip_for_one_rock_does_not_move_the_reading():
    """8 µm, as the largest clearance of the sleeve's fit."""
    stream = samples(one_place(rocks=6))
    chipped = [s if not 3.3 < s.at < 3.9 else replace(s, value=s.value - 0.008) for s in stream]
    strict = replace(TOLD, points=6)

    (found,), _ = over(chipped, strict)

    assert abs(found.value - 55.0) < 0.0006


def test_after_a_knock_that_moves_the_zero_nothing_is_accepted_at_that_place():
    gauge = BoreGauge(STEADY, Wire(), 2)

    def stream():
        yield from gauge.enter(55.0)
        yield from gauge.rock(55.0, 1)
        yield from gauge.bump(55.0)
        yield from gauge.rock(55.006, 4)

    strict = replace(TOLD, points=4)
    found, _ = over(samples(stream()), strict)

    assert all(abs(a.value - 55.0) < 0.001 for a in found)


@pytest.mark.parametrize("rate", [10.0, 20.0, 50.0])
def test_four_readings_in_quick_succession_after_the_first_make_a_stream(rate):
    state = reduce(lambda s, n: step(s, StreamSample(n / rate, 55.0, n), TOLD), range(5), SweepState())

    assert state.streams
    assert (state.run, state.found) == (0, 4)


def test_a_button_pressed_every_few_seconds_is_no_stream():
    state = reduce(lambda s, n: step(s, StreamSample(3.0 * n, 55.0, n), TOLD), range(50), SweepState())

    assert not state.streams


def test_what_is_looked_back_upon_is_bounded():
    state = reduce(lambda s, n: step(s, StreamSample(n / 50, 55.0, n), TOLD), range(5000), SweepState())

    assert len(state.recent) <= 2 * KEPT
    assert state.count == 5000


@given(seed=st.integers(0, 200), shift=st.integers(-3000, 3000))
@settings(max_examples=12)
def test_shifting_all_readings_shifts_the_result(seed, shift):
    """Law; whole steps of the gauge, so that rounding is the same."""
    stream = samples(one_place(seed=seed))
    moved = [replace(s, value=s.value + shift / 1000) for s in stream]

    one, two = over(stream)[0], over(moved)[0]

    assert [a.of for a in two] == [a.of for a in one]
    assert [a.value - shift / 1000 for a in two] == [pytest.approx(a.value, abs=1e-8) for a in one]


@given(seed=st.integers(0, 200), stretch=st.floats(0.8, 1.3))
@settings(max_examples=12)
def test_stretching_time_does_not_change_the_result(seed, stretch):
    """Law, as far as the new pace is still a hand's."""
    stream = samples(one_place(seed=seed))
    slower = [replace(s, at=s.at * stretch) for s in stream]

    one, two = over(stream)[0], over(slower)[0]

    assert [a.of for a in two] == [a.of for a in one]
    assert [a.value for a in two] == [pytest.approx(a.value, abs=1e-8) for a in one]


@given(seed=st.integers(0, 200), cut=st.integers(0, 200))
@settings(max_examples=12)
def test_stopped_anywhere_and_gone_on_it_is_the_same(seed, cut):
    """Law; another stream that went on from the same beginnings disturbs nothing."""
    stream = samples(one_place(seed=seed))
    whole = over(stream)
    first = over(stream[:cut])
    over([replace(s, value=s.value + 0.01) for s in stream[cut:]], state=first[1])

    rest = over(stream[cut:], state=first[1])

    assert (first[0] + rest[0], rest[1]) == whole


@given(
    values=st.lists(st.integers(-400, 400), min_size=30, max_size=150),
    rate=st.sampled_from([5.0, 20.0, 50.0]),
)
@settings(max_examples=40)
def test_whatever_comes_it_never_raises(values, rate):
    found, state = over(StreamSample(n / rate, 55.0 + value / 1000, n) for n, value in enumerate(values))

    assert all(a.u > 0 for a in found)
    assert state.count == len(values)
