"""A gauge at rest on a part, and gauges that are not."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from capture.metrology.gauges.settled import mean_variance, settled

TIMES = [0.1 * number for number in range(8)]


def test_the_value_is_the_mean_and_a_drop_on_the_anvil_is_left_out():
    values = [55.0010, 55.0012, 55.0011, 55.0300, 55.0011, 55.0010, 55.0012, 55.0011]

    found = settled(TIMES, values, noise=0.0002, step=0.0001)

    assert found is not None
    assert found.value == pytest.approx(np.mean(values[:3] + values[4:]), abs=1e-9)
    assert found.kept == 7


@pytest.mark.parametrize(
    ("values", "what"),
    [
        ([55.0 + 0.004 * 2.0**-number for number in range(8)], "oil is squeezed out"),
        ([55.0 - 0.02 * (t - 0.35) ** 2 for t in TIMES], "it is rocked over the diameter"),
        ([55.0 + 0.01 * (number % 2) for number in range(8)], "it rattles"),
        ([55.0 + 0.002 * number for number in range(8)], "it is being closed"),
    ],
)
def test_a_gauge_on_its_way_has_not_settled(values, what):
    assert settled(TIMES, values, noise=0.0002, step=0.0001) is None, what


def test_four_readings_are_too_few():
    assert settled(TIMES[:4], [55.0] * 4, noise=0.0005, step=0.001) is None


def test_a_mean_of_readings_on_one_step_is_as_uncertain_as_one_reading():
    """Rounding as a rectangle: step / sqrt(12), GUM (JCGM 100:2008) F.2.2.1."""
    assert sqrt(mean_variance(0.0, 50, 0.001)) == pytest.approx(0.001 / sqrt(12))


def test_the_stated_uncertainty_is_that_of_the_mean_of_scattered_readings():
    """Simulated with known truth: sigma of one reading 0.6 µm on a step of 1 µm."""
    random = np.random.default_rng(8)
    errors, us = [], []
    for _ in range(2000):
        truth = 55.0 + random.uniform(0, 0.001)
        values = np.round((truth + random.normal(0, 0.0006, 8)) / 0.001) * 0.001
        found = settled(TIMES, values.tolist(), noise=0.0007, step=0.001)
        if found is not None:
            errors.append(found.value - truth)
            us.append(found.u)
    assert len(errors) > 1700
    assert np.std(errors) == pytest.approx(np.mean(us), rel=0.25)
