"""Passes by where the head stood: feeds, rests, what is drawn back, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from capture.metrology.grinding.stream.head_path import Stand
from capture.metrology.grinding.stream.pass_count import (
    Contact,
    Counted,
    Cycle,
    count,
)
from capture.metrology.grinding.stream.pass_pace import StandWork, pace_of, passes_in

CUTS = Contact(0.0, touched=True)


def _cycle(*stays: tuple[float, float], **more: Any) -> Cycle:
    """Stands of so many seconds each, in order."""
    stands, now = [], 0.0
    for level, seconds in stays:
        stands.append(Stand(level, now, now + seconds, seconds))
        now += seconds
    deepest = max((level for level, _ in stays), default=0.0)
    return Cycle(tuple(stands), **{"deepest": deepest, "step": 0.001, "largest": 0.1, **more})


def _infeeds(found: Counted) -> list[float | None]:
    return [None if one.infeed is None else round(one.infeed, 6) for one in found.passes]


def test_three_feeds_and_two_rests_are_five_passes():
    """Issue: three feeds and two rests a measurement."""
    found = count(_cycle((0.005, 20.0), (0.010, 21.0), (0.015, 61.0), (-3.0, 20.0)), CUTS)

    assert _infeeds(found) == [0.005, 0.005, 0.005, 0.0, 0.0]
    assert found.reached == 0.015


def test_drawing_back_and_coming_in_again_is_a_rest_and_no_infeed_of_its_own():
    found = count(_cycle((-3.0, 30.0), (0.0, 22.0), (-3.0, 20.0)), CUTS, [StandWork(20.0, "fed")] * 3)

    assert _infeeds(found) == [0.0]


def test_positions_behind_the_deepest_never_count():
    found = count(_cycle((-0.05, 20.0), (-0.02, 20.0), (-3.0, 20.0)), CUTS, [StandWork(20.0, "fed")] * 3)

    assert found.passes == ()
    assert found.reached == 0.0


def test_somebody_who_stops_half_way_of_a_feed_makes_one_pass():
    found = count(_cycle((0.002, 3.0), (0.005, 20.0), (-3.0, 20.0)), CUTS, [StandWork(20.0, "fed")] * 3)

    assert _infeeds(found) == [0.005]


def test_an_infeed_beyond_the_limit_is_refused_and_the_pass_still_counts():
    found = count(_cycle((3.0, 20.0), (3.005, 20.0), (2.0, 9.0)), CUTS, [StandWork(20.0, "fed")])

    assert _infeeds(found) == [None, 0.005]
    assert found.far == pytest.approx(3.0)


def test_where_the_wheel_is_dressed_it_does_not_cut():
    """The head goes past its depth to the diamond and comes back."""
    found = count(_cycle((12.0, 30.0), (0.005, 20.0), (-3.0, 9.0)), CUTS, [StandWork(20.0, "fed")] * 3)

    assert _infeeds(found) == [0.005]


def test_a_head_that_was_wound_back_when_first_heard_is_fed_from_the_zero_of_its_display():
    """The display is set to 0 where the wheel touches (common practice, no source)."""
    found = count(_cycle((0.0, 4.0), (0.006, 20.0), (-3.0, 20.0)), Contact(-3.0))

    assert _infeeds(found) == [0.006]


def test_after_a_dressing_the_first_infeed_is_not_known():
    found = count(_cycle((0.062, 20.0), (0.067, 20.0), (-3.0, 9.0)), Contact(expected=True))

    assert _infeeds(found) == [None, 0.005]


def test_a_display_that_sends_too_seldom_for_a_stand_gives_one_pass_to_the_deepest():
    """The path of the issue: 0.005, 0.010, -1, -3, then a size: 10 µm are due."""
    assert _infeeds(count(_cycle(deepest=0.010, seldom=True), CUTS)) == [0.010]


@pytest.mark.parametrize("seed", range(5))
def test_the_length_of_a_pass_shows_among_rests_and_pauses(seed: int):
    """Passes of 12 to 60 s by hand, uneven by a tenth, a quarter of the stands with rests in them."""
    rng = np.random.default_rng(seed)
    due = float(rng.uniform(12.0, 60.0))
    numbers = rng.choice([1, 1, 1, 1, 2, 3], 16)
    lengths = [
        StandWork(due * float(sum(1.0 + 0.08 * rng.standard_normal(n))), ending)
        for n, ending in zip(numbers, ["fed", "back"] * 8, strict=True)
    ]
    lengths += [StandWork(0.1 * due, "fed"), StandWork(0.05 * due, "fed")]

    pace = pace_of(lengths)

    assert pace.one == pytest.approx(due, rel=0.12)
    assert [passes_in(length, pace)[0] for length in lengths] == [*numbers, 0, 0]


def test_before_the_first_stand_no_length_is_known():
    assert pace_of([]) is None


@pytest.mark.parametrize("seed", range(3))
def test_measuring_beside_the_standing_head_is_told_from_rests(seed: int):
    """Three feeds and two rests before each size, passes of 20 to 40 s, measuring of 6 to 12 s."""
    rng = np.random.default_rng(seed)
    one, over = float(rng.uniform(20.0, 40.0)), float(rng.uniform(6.0, 12.0))
    lengths: list[StandWork] = []
    for _ in range(4):
        lengths += [StandWork(one * float(rng.uniform(0.95, 1.05)), "fed") for _ in range(2)]
        lengths.append(StandWork(3.0 * one + over * float(rng.uniform(0.9, 1.1)), "measured"))

    pace = pace_of(lengths)

    assert [passes_in(length, pace)[0] for length in lengths] == [1, 1, 3] * 4


def test_a_slide_that_creeps_on_after_a_feed_makes_one_pass():
    crept = _cycle((0.005, 5.0), (0.0055, 15.0), (0.010, 8.0), (0.0115, 12.0), (-3.0, 20.0), least=0.0008)

    found = count(crept, CUTS, [StandWork(20.0, "fed")] * 3)

    assert _infeeds(found) == [0.0055, 0.006]


def test_the_least_feed_that_a_hand_misses_a_little_is_a_feed_after_a_whole_pass():
    """0.001 mm fed of which the display shows 0.0007 (0.0006 in the golden recording `untold`)."""
    fed = _cycle((0.002, 30.0), (0.0027, 60.0), (-3.0, 20.0), least=0.0008)

    found = count(fed, CUTS, [StandWork(30.0, "fed")] * 3)

    assert _infeeds(found) == [0.002, 0.0007, 0.0]


def test_somebody_who_was_away_for_a_quarter_of_an_hour_has_made_one_pass_and_that_is_not_sure():
    found = count(_cycle((0.005, 900.0), (-3.0, 20.0)), CUTS, [StandWork(20.0, "fed")] * 3)

    assert _infeeds(found) == [0.005]
    assert found.unsure


def test_who_draws_back_after_a_size_beside_the_head_may_have_let_the_wheel_pass():
    sized = Stand(0.0, 0.0, 25.0, 25.0, measured=True)
    cycle = Cycle((sized, Stand(-3.0, 26.0, 40.0, 14.0)), deepest=0.0, step=0.001, largest=0.1)

    assert _infeeds(count(cycle, CUTS, [StandWork(20.0, "back")] * 3)) == [0.0]
