"""Turning points into a diameter: the mean, its uncertainty, and which points are left out."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from capture.metrology.bore.agreement import CRITICAL, LEAST_SPREAD, PRIOR, agreed

POINTS = st.lists(st.floats(-0.002, 0.002), min_size=1, max_size=12)


def test_the_limits_of_chi_squared_are_those_of_the_tables():
    """SciPy's chi-squared distribution."""
    for degrees in range(1, len(CRITICAL)):
        assert CRITICAL[degrees] == pytest.approx(stats.chi2.isf(0.01, degrees) / degrees, abs=0.006)


def test_points_that_agree_give_their_weighted_mean():
    """Weights 1/u² (JCGM 100, 5.1.2 for a weighted mean): 4 and 1 of 1.0 and 2.0 µm make 1.2 µm."""
    found = agreed([0.001, 0.002], [0.0005, 0.001], hand=0.0)

    assert found.value == pytest.approx(0.0012)
    assert found.kept == (0, 1)


def test_more_points_are_known_better_as_the_root_of_their_number():
    one, four = agreed([0.0] * 4, [0.0004] * 4), agreed([0.0] * 16, [0.0004] * 16)

    least = sqrt(LEAST_SPREAD)
    assert one.u == pytest.approx(
        max(least, sqrt(PRIOR / (PRIOR + 3))) * sqrt(0.0004**2 + 0.00007**2) / 2, rel=1e-9
    )
    assert four.u == pytest.approx(one.u / 2, rel=0.01)


def test_a_point_on_a_chip_is_left_out_as_too_low_and_a_knock_as_too_high():
    found = agreed([55.0, 55.0002, 54.9930, 55.0001, 55.0121, 54.9999], [0.0003] * 6)

    assert found.kept == (0, 1, 3, 5)
    assert found.low == (2,)
    assert found.high == (4,)
    assert found.value == pytest.approx(55.00005, abs=1e-5)


def test_of_two_that_disagree_the_lower_is_doubted_first():
    """Swing can only make a bore read too small."""
    found = agreed([0.0, 0.0001, 0.0002, -0.0021, -0.0022], [0.0002] * 5)

    assert found.kept == (0, 1, 2)
    assert found.low == (3, 4)


def test_the_uncertainty_covers_the_error_as_often_as_it_says():
    """95.4 % within k = 2 of a normal distribution (JCGM 100, table G.1)."""
    random = np.random.default_rng(5)
    inside = 0
    for _ in range(2000):
        found = agreed(list(random.normal(0, 0.00035, 4)), [0.00035] * 4)
        inside += abs(found.value) <= 2 * found.u

    assert 0.93 <= inside / 2000 <= 0.98


@given(values=POINTS, shift=st.floats(-60, 60))
def test_what_moves_all_points_moves_the_diameter_by_it(values, shift):
    one = agreed(values, [0.0004] * len(values))
    two = agreed([value + shift for value in values], [0.0004] * len(values))

    if one.kept == two.kept:  # a tie may fall either way when the last digits of a shifted value are lost
        assert two.value - shift == pytest.approx(one.value, abs=1e-10)
    assert two.u == pytest.approx(one.u, rel=0.5)


@given(values=POINTS)
def test_every_point_is_kept_or_named(values):
    found = agreed(values, [0.0004] * len(values))

    assert sorted((*found.kept, *found.low, *found.high)) == list(range(len(values)))


def test_no_points_are_refused():
    with pytest.raises(ValueError, match="due at least one"):
        agreed([], [])
