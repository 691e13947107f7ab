"""What still stands in the part, by levels between passes."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.metrology.grinding.stream.ride_filter import LeveledPass, ShownLevel, standing_after

U = 5e-5
GAP = 20.0


def ground(
    share: float, infeeds: list[float], *, warms: float = 0.0, cools: float = 90.0
) -> Iterator[tuple[LeveledPass, float, float, float]]:
    """Passes by geometric decay (King and Hahn) and Newton's cooling, with size, rest and growth."""
    size, stands, grown = 0.0, 0.0, 0.0
    for number, infeed in enumerate(infeeds):
        t = GAP * number
        before = ShownLevel(t - 6.0, size + grown * exp(-(GAP - 6.0) / cools), U)
        stands += infeed
        removed = share * stands
        size, stands = size - removed, stands - removed
        grown = grown * exp(-GAP / cools) + warms
        after = ShownLevel(t + 4.0, size + grown * exp(-4.0 / cools), U)
        yield LeveledPass(t, before, after, not infeed), size, stands, grown


@settings(max_examples=25, deadline=None)
@given(
    share=st.floats(0.3, 0.75),
    feed=st.floats(0.002, 0.008),
    warms=st.floats(0.0, 0.0003),
    rests=st.integers(3, 6),
)
def test_what_is_to_come_lies_within_its_interval_heat_or_none(share, feed, warms, rests):
    """Three standard uncertainties: levels without noise leave only what the model does not know."""
    made = list(ground(share, [feed] * 4 + [0.0] * rests, warms=warms))

    found = standing_after([one[0] for one in made], from_first=True)

    _, size, stands, _ = made[-1]
    assert abs(found.to_come[0] - stands) < 3.0 * found.to_come[1] + 2e-5
    assert abs(found.end[0] - (size - stands)) < 3.0 * found.end[1]


@pytest.mark.parametrize("share", [0.35, 0.5, 0.65])
def test_the_share_is_learnt_from_rests(share):
    made = [one[0] for one in ground(share, [0.006] * 4 + [0.0] * 4)]

    found = standing_after(made, from_first=True)

    assert found.share[0] == pytest.approx(share, abs=0.05)


def test_an_infeed_that_was_told_makes_surer_what_is_to_come():
    infeeds = [0.005, 0.006, 0.004, 0.005]
    made = [one[0] for one in ground(0.5, infeeds)]
    told = [one._replace(infeed=infeed) for one, infeed in zip(made, infeeds, strict=True)]

    without, with_it = standing_after(made, from_first=True), standing_after(told, from_first=True)

    stands = sum(infeed * 0.5 ** (4 - n) for n, infeed in enumerate(infeeds))
    assert with_it.to_come[1] < 0.5 * without.to_come[1]
    assert abs(with_it.to_come[0] - stands) < 2.0 * with_it.to_come[1]


def test_a_pass_that_was_perhaps_none_and_took_nothing_leaves_what_stands():
    """A wheel drawn back is no spark-out: 3 mm/1000 stand, and the size does not move when a pass is due."""
    made = [one[0] for one in ground(0.5, [0.006] * 4 + [0.0])]
    last = made[-1].after
    still = ShownLevel(last.at + GAP, last.value, U)
    nothing = LeveledPass(
        last.at + 16.0, ShownLevel(last.at + 10.0, last.value, U), still, rest=True, sure=False
    )

    before, after = standing_after(made, from_first=True), standing_after([*made, nothing], from_first=True)

    assert after.to_come[0] > 0.8 * before.to_come[0]
    assert standing_after([*made, nothing._replace(sure=True)], from_first=True).to_come[0] < after.to_come[0]


def test_a_part_that_cools_is_not_taken_for_one_that_is_ground():
    """Warmed by 0.3 mm/1000 a pass, five rests of 20 s: growth is seen, and is not to come."""
    made = list(ground(0.6, [0.005] * 6 + [0.0] * 5, warms=0.0003, cools=60.0))

    found = standing_after([one[0] for one in made], from_first=True)

    assert found.growth[0] > 0.0002
    assert found.next_removal[0] < 0.0002
