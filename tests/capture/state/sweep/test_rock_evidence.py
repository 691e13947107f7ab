"""A hand's rocks against dips that agree by chance."""

from __future__ import annotations

from msgspec.structs import replace

from capture.state.sweep.rock_evidence import SURE, is_deliberate, odds
from capture.state.sweep.sweep_state import Placement, Point

ROCK = Point(at=1.0, value=55.0, u=0.0003, seq=10, height=0.060, half=0.6, first=10, last=22)


def following(count: int, rock: Point = ROCK, *, between: int = 0) -> Placement:
    """Rocks one after the other, with so many readings in between that are of none."""
    points = []
    for number in range(count):
        first = 10 + number * (12 + between)
        points.append(replace(rock, at=1.0 + 0.6 * number, seq=first + 6, first=first, last=first + 12))
    return Placement(tuple(points), dips=count)


def decades(placement: Placement) -> float:
    return odds(placement, placement.points)


def test_three_good_rocks_in_a_row_are_a_hands():
    assert is_deliberate(following(3), range(3))


def test_three_dips_apart_from_each_other_are_not():
    low = replace(ROCK, height=0.020)

    assert not is_deliberate(following(3, low, between=30), range(3))


def test_rocks_as_low_as_the_noise_need_more_of_them():
    low = replace(ROCK, height=0.006)

    assert not is_deliberate(following(3, low), range(3))
    assert is_deliberate(following(6, low), range(6))


def test_the_higher_and_the_better_known_the_less_by_chance():
    assert decades(following(3, replace(ROCK, height=0.120))) > decades(following(3))
    assert decades(following(3, replace(ROCK, u=0.0001))) > decades(following(3))


def test_dips_that_do_not_agree_make_those_that_do_more_likely_chance():
    """Of nine dips there are 84 ways to take three: 1.9 decades less (binomial coefficient)."""
    placement = following(3)

    assert decades(placement) - decades(replace(placement, dips=9)) > 1.9
    assert decades(replace(placement, dips=9)) < SURE


def test_what_nothing_is_known_of_is_no_evidence():
    """A dip no higher than its uncertainty agrees with everything: the chance is one, and no more."""
    flat = replace(ROCK, height=0.0001)

    assert decades(following(3, flat, between=5)) < 0
