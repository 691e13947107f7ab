"""A head that stands is told from one that moves, by displays that send always, only on change, or seldom.

The heads are made up: positions of a hand, the scatter and the step of a display, from a seed.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.grinding.stream.head_path import (
    HeadPath,
    begin,
    lasted,
    measured,
    mirrored,
    moved_to,
)
from capture.metrology.grinding.stream.head_stands import stands_of

STEP = 0.001


def _followed(
    stays: list[tuple[float, float]], *, rate: float, on_change: bool, seed: int, speed: float = 1.0
) -> HeadPath:
    """A head that goes to each position, at *speed* mm/s, and stays there for some seconds."""
    rng = np.random.default_rng(seed)
    times, where, now = [0.0], [stays[0][0]], 0.0
    for position, seconds in stays:
        start = where[-1]
        moving = max(abs(position - start) / speed, 1e-9)
        for at in np.arange(now, now + moving + seconds, 1.0 / rate):
            times.append(float(at))
            where.append(start + (position - start) * min((at - now) / moving, 1.0))
        now += moving + seconds
    shown = [round((x + 0.0003 * rng.standard_normal()) / STEP) * STEP for x in where]
    path = begin(times[0], shown[0], STEP, times[0])
    for at, value in zip(times[1:], shown[1:], strict=True):
        if not (on_change and value == path.now):
            path = moved_to(path, at, value, at)
    return lasted(path, now, now)


@pytest.mark.parametrize("on_change", [False, True])
@pytest.mark.parametrize("rate", [1.0, 2.0, 5.0, 20.0])
@pytest.mark.parametrize("seed", range(4))
def test_stands_are_found_with_their_position_and_length(rate: float, on_change: bool, seed: int):
    stays = [(0.0, 40.0), (-3.0, 30.0), (0.005, 18.0), (0.010, 25.0), (0.0125, 40.0), (-3.0, 20.0)]

    found = stands_of(_followed(stays, rate=rate, on_change=on_change, seed=seed))

    assert [stand.level for stand in found] == pytest.approx([x for x, _ in stays], abs=0.5 * STEP)
    lengths = [stand.ended - stand.begun for stand in found[1:]]  # before, its rate is not known
    assert lengths == pytest.approx([seconds for _, seconds in stays[1:]], abs=max(2.5, 3.5 / rate))


def test_what_a_head_only_passes_through_is_no_stand():
    """An overshoot of the hand and a bounce on the stop last less than a second."""
    stays = [(0.0, 10.0), (0.008, 0.4), (0.005, 20.0), (0.002, 0.3), (0.005, 10.0)]

    found = stands_of(_followed(stays, rate=10.0, on_change=False, seed=1))

    assert [stand.level for stand in found] == pytest.approx([0.0, 0.005], abs=0.5 * STEP)
    assert found[-1].work == pytest.approx(30.3, abs=1.5)


def test_a_gauge_that_sends_all_the_time_does_not_vouch_for_a_gap():
    path = begin(0.0, 0.0, STEP, 0.0)
    for n in range(1, 100):
        path = moved_to(path, n / 10, 0.0, n / 10)

    path = moved_to(path, 70.0, 0.005, 70.0)

    assert stands_of(path)[0].ended == pytest.approx(10.0, abs=1.5)


def test_a_display_that_sends_on_change_stands_while_it_is_silent():
    path = begin(0.0, 0.0, STEP, 0.0)
    for at, value in ((30.0, 0.002), (30.2, 0.004), (30.4, 0.005), (95.0, 0.006)):
        path = moved_to(path, at, value, at)

    (_, fed) = stands_of(path)
    assert (fed.level, fed.work) == (pytest.approx(0.005), pytest.approx(64.6))


def test_after_a_size_the_head_stands_as_measured():
    path = measured(_followed([(0.0, 10.0), (0.005, 20.0)], rate=5.0, on_change=False, seed=2), 30.0, 30.0)

    (stand,) = stands_of(path)
    assert stand.measured
    assert stand.work == 0.0


@given(
    values=st.lists(st.integers(-5000, 5000), min_size=1, max_size=60),
    gaps=st.lists(st.floats(0.0, 40.0), min_size=60, max_size=60),
)
def test_whatever_is_sent_the_path_stays_small_and_a_mirrored_one_is_its_own_again(
    values: list[int], gaps: list[float]
):
    """Law."""
    path, at = begin(0.0, 0.0, STEP, 0.0), 0.0
    for value, gap in zip(values, gaps, strict=False):
        at += gap
        path = moved_to(path, at, value * STEP, at)

    assert mirrored(mirrored(path)) == path
    assert len(path.window) <= 1 + 15.0 / 0.02
    assert all(stand.begun <= stand.ended <= at for stand in stands_of(path))


def test_a_slow_feed_makes_no_stands_on_its_way():
    path = _followed([(0.0, 20.0), (0.010, 20.0)], rate=4.0, on_change=False, seed=3, speed=0.0007)

    assert [stand.level for stand in stands_of(path)] == pytest.approx([0.0, 0.010], abs=0.001)


def test_two_feeds_with_a_pass_at_each_are_two_stands():
    path = _followed(
        [(0.0, 20.0), (0.002, 6.0), (0.004, 6.0), (-3.0, 10.0)], rate=10.0, on_change=False, seed=4
    )

    assert [stand.level for stand in stands_of(path)] == pytest.approx([0.0, 0.002, 0.004, -3.0], abs=0.0005)


@pytest.mark.parametrize("seed", range(4))
def test_a_display_that_shakes_while_the_wheel_cuts_shows_its_stands(seed: int):
    rng = np.random.default_rng(seed)
    path, at = begin(0.0, 0.0, STEP, 0.0), 0.0
    for level, seconds, shake in ((0.0, 10, 0.2), (0.004, 20, 1.4), (0.007, 20, 1.4), (-2.0, 15, 0.2)):
        for _ in range(seconds * 4):
            at += 0.25
            path = moved_to(path, at, round(level / STEP + shake * rng.standard_normal()) * STEP, at)

    found = stands_of(lasted(path, at, at))

    assert [stand.level for stand in found] == pytest.approx([0.0, 0.004, 0.007, -2.0], abs=0.001)
    assert [stand.work for stand in found[1:3]] == pytest.approx([20.0, 20.0], abs=3.0)
