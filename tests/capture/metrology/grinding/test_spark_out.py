"""The test by sizes alone against least squares from a reference library, and its promise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress, norm

from capture.metrology.grinding.spark_out import LONGEST, trend

LIMIT = 0.0005


def window_of(values, u=0.0003, places=None, after=None):
    count = len(values)
    return trend(after or range(count), places or [0] * count, list(values), [u * u] * count, limit=LIMIT)


def test_removal_is_the_slope_that_a_reference_library_finds():
    """scipy.stats.linregress over the window that was chosen."""
    values = [0.0031, 0.0024, 0.0026, 0.0021, 0.0019, 0.0022, 0.0018]
    found = window_of(values)
    window = values[-found.passes :]

    assert found.removal == pytest.approx(-linregress(range(len(window)), window).slope)


def test_too_few_passes_give_nothing():
    assert window_of([0.0, 0.0]) is None
    assert window_of([0.0, 0.0, 0.0], after=[0, 1, 1]) is None


def test_two_small_differences_are_not_enough():
    assert window_of([0.0, 0.0, 0.0], u=0.0006).p_below < 0.95
    assert window_of([0.0] * LONGEST, u=0.0006).p_below > 0.95


def test_a_rising_size_is_growing_and_a_falling_one_is_not():
    rising = window_of([0.001 * n for n in range(6)])
    falling = window_of([-0.001 * n for n in range(6)])

    assert rising.p_growing > 0.99
    assert (falling.p_growing, falling.p_below < 0.5) == (0.0, True)


def test_places_that_differ_by_a_constant_do_not_look_like_removal():
    values = [0.0, 0.004] * 4
    found = window_of(values, u=0.0002, places=[0, 1] * 4)

    assert found.removal == pytest.approx(0.0, abs=1e-12)
    assert found.p_below > 0.95


@given(shift=st.floats(-60.0, 60.0))
def test_what_moves_all_sizes_moves_nothing_found(shift):
    values = [0.0031, 0.0024, 0.0026, 0.0021, 0.0019]
    here, there = window_of(values), window_of([v + shift for v in values])

    assert there.p_below == pytest.approx(here.p_below, abs=1e-6)
    assert there.removal == pytest.approx(here.removal, abs=1e-9)


def test_a_removal_at_the_limit_is_called_in_one_look_of_twenty_at_most():
    """The promise of the test itself, over 400 seeded windows just at the limit."""
    rng = np.random.default_rng(3)
    called = [
        window_of(-LIMIT * np.arange(LONGEST) + 0.0003 * rng.standard_normal(LONGEST)).p_below >= 0.95
        for _ in range(400)
    ]

    assert 0 < np.mean(called) <= 0.05 + norm.ppf(0.99) * (0.05 * 0.95 / 400) ** 0.5
