"""Which way an infeed gauge counts shows by the end of its way to which the head comes back.

That a head is fed by micrometres and wound back by no exact distance is common practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.state.grinding import head_sign
from capture.state.grinding.head_sign import SURELY, HeadEnds, mirrored, odds

LARGEST, STEP = 0.1, 0.001
feeds = st.lists(st.integers(2, 10), min_size=2, max_size=5)
backs = st.lists(st.floats(1.0, 6.0), min_size=6, max_size=6)


def ways(fed: list[int], back: list[float]) -> list[HeadEnds]:
    """A head that is fed before each size and wound back to measure."""
    depths = [sum(fed[:n]) / 1000 for n in range(len(fed) + 1)]
    return [HeadEnds(at, at - by, at - by) for at, by in zip(depths, back, strict=False)]


@given(feeds, backs)
def test_a_mirrored_way_has_the_opposite_odds(fed: list[int], back: list[float]):
    one = ways(fed, back)

    assert odds(mirrored(one), LARGEST, STEP) == pytest.approx(-odds(one, LARGEST, STEP))


@given(feeds, backs)
def test_a_head_wound_back_to_measure_shows_the_right_sign_from_its_first_size(
    fed: list[int], back: list[float]
):
    one = ways(fed, back)

    assert all(odds(one[:n], LARGEST, STEP) < 0.0 for n in range(1, len(one) + 1))
    assert odds(one[:3], LARGEST, STEP) < -SURELY


def test_who_measures_beside_the_head_after_bringing_it_in_again_is_not_blamed():
    """The head is drawn back to a fixed stop to clean the part, and in again before each size."""
    beside = [HeadEnds(0.005 * n, -3.0, 0.005 * n) for n in range(6)]

    assert all(odds(beside[:n], LARGEST, STEP) < SURELY for n in range(7))


def test_a_head_that_is_never_wound_back_tells_nothing():
    assert odds([HeadEnds(0.005 * n, 0.005 * n, 0.005 * n) for n in range(6)], LARGEST, STEP) == 0.0


def test_where_the_wheel_has_cut_is_the_other_end_of_the_way():
    one = mirrored([HeadEnds(-3.0, -3.0, -3.0), HeadEnds(0.005, -3.1, -3.1)])

    assert head_sign.reached(one) == -0.005
    assert head_sign.reached(one[:1]) == 3.0  # one place: nobody knows of which end
