"""Decay against closed forms, exact curves and a reference library."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit

from capture.metrology.grinding.decay import (
    fit_decay,
    lag,
    left_after,
    left_after_passes,
    passes_constant,
    passes_to,
    three_readings,
    time_constant,
    time_to,
)

SPARK_05 = [
    50.018, 50.01468, 50.0121, 50.01009, 50.00852, 50.0073, 50.00635, 50.00561, 50.00503, 50.00458, 50.00423,
    50.00396, 50.00375, 50.00358, 50.00345, 50.00335, 50.00327, 50.00321, 50.00317,
    50.00313, 50.0031, 50.00308, 50.00306, 50.00305, 50.00304,
]  # fmt: skip
HALVES = [0.5 * i for i in range(25)]


def test_plunge_with_lag_and_spark_out():
    """SPARK-01: closed form of the first-order model; derived, an Euler simulation agreed to 0.001 um."""
    tau = time_constant(20e6, 20e6, 2)

    assert tau == pytest.approx(0.5)
    assert lag(10, tau, 4) == pytest.approx(4.9983, abs=0.0002)
    assert left_after(lag(10, tau, 4), tau, 3 * tau) == pytest.approx(0.24885, abs=0.0002)
    assert 2 * left_after(lag(10, tau, 4), tau, 3 * tau) == pytest.approx(0.4977, abs=0.0002)


def test_the_lag_solves_the_equation_of_the_machine():
    """Tau r'' + r' = x' integrated by scipy: lag is x - r."""
    tau, rate, t = 0.7, 9.0, 2.3
    solved = solve_ivp(lambda _, y: [(rate - y[0]) / tau, y[0]], (0, t), [0.0, 0.0], rtol=1e-10, atol=1e-12)

    assert lag(rate, tau, t) == pytest.approx(rate * t - solved.y[1, -1], rel=1e-7)


def test_what_is_left_after_one_to_five_time_constants():
    """SPARK-02: exponentials."""
    due = [0.36788, 0.13534, 0.04979, 0.01832, 0.00674]

    assert [left_after(1, 2.0, 2.0 * n) for n in range(1, 6)] == pytest.approx(due, abs=6e-6)
    assert time_to(0.04979, 2.0) == pytest.approx(6, abs=0.001)


@pytest.mark.parametrize(
    ("share", "to_5", "to_1", "constant"),
    [
        (0.3, 8.4, 12.91, 2.804),
        (0.4, 5.86, 9.02, 1.958),
        (0.5, 4.32, 6.64, 1.443),
        (0.7, 2.49, 3.82, 0.831),
    ],
)
def test_passes_of_traverse_spark_out(share, to_5, to_1, constant):
    """SPARK-03: logarithms."""
    assert passes_to(0.05, share) == pytest.approx(to_5, abs=0.006)
    assert passes_to(0.01, share) == pytest.approx(to_1, abs=0.006)
    assert passes_constant(share) == pytest.approx(constant, abs=0.006)
    assert left_after_passes(1, share, passes_to(0.05, share)) == pytest.approx(0.05)


def test_a_decay_is_fitted_to_readings():
    """SPARK-05: 50.003 + 0.015 exp(-t/2), rounded to 0.01 um; derived."""
    found = fit_decay(HALVES, SPARK_05)

    assert found.converged
    assert found.end.value == pytest.approx(50.003, abs=5e-6)
    assert found.size.value == pytest.approx(0.015, abs=1e-5)
    assert found.tau.value == pytest.approx(2, abs=0.005)


def test_three_readings_foretell_the_end():
    """SPARK-07: algebra."""
    found = three_readings(18.0, 12.09796, 8.518192, 1)

    assert found.end == pytest.approx(3, abs=0.0001)
    assert found.tau == pytest.approx(2, abs=0.0001)
    assert found.usable


def test_the_reference_library_fits_the_same_uncertainties():
    """Scipy's curve_fit, started at the answer."""

    def curve(t, end, size, tau):
        return end + size * np.exp(-t / tau)

    rng = np.random.default_rng(1)
    t = np.arange(20) * 0.5
    d = curve(t, 3, 15, 2) + rng.normal(0, 0.3, 20)

    best, covariance = curve_fit(curve, t, d, [3, 15, 2])
    found = fit_decay(t.tolist(), d.tolist())

    assert [found.end.value, found.size.value, found.tau.value] == pytest.approx(best.tolist(), rel=1e-5)
    due = np.sqrt(np.diag(covariance)).tolist()
    assert [found.end.u, found.size.u, found.tau.u] == pytest.approx(due, rel=1e-3)
    coming = found.to_come(10.0)
    gradient = np.array([0, np.exp(-10 / best[2]), best[1] * np.exp(-10 / best[2]) * 10 / best[2] ** 2])
    assert coming.u == pytest.approx(np.sqrt(gradient @ covariance @ gradient), rel=1e-3)


def test_stated_uncertainties_are_the_spread_of_many_fits():
    """Fits to 200 noisy runs scatter as each says it does."""
    rng = np.random.default_rng(2)
    t = np.arange(15) * 0.6
    ends, stated = [], []
    for _ in range(200):
        found = fit_decay(t.tolist(), (3 + 15 * np.exp(-t / 2) + rng.normal(0, 0.1, 15)).tolist(), u=0.1)
        ends.append(found.end.value)
        stated.append(found.end.u)

    assert np.std(ends) == pytest.approx(np.mean(stated), rel=0.15)
    assert np.mean(ends) == pytest.approx(3, abs=0.02)


def test_what_is_to_come_and_the_curve_belong_together():
    found = fit_decay(HALVES, SPARK_05)

    assert found.at(4.0).value == pytest.approx(found.end.value + found.to_come(4.0).value)
    assert found.to_come(4.0).value == pytest.approx(0.015 * exp(-2), abs=2e-5)


@pytest.mark.parametrize(
    ("readings", "why"),
    [
        ([5.0, 4.0, 3.0, 2.0, 1.0, 0.0], "straight"),
        ([5.0] * 6, "all readings are alike"),
        ([5.0, 3.0, 2.0], "3 readings are too few"),
        ([0.1, -0.1, 0.12, -0.09, 0.1, -0.12], None),
        ([0.0, 1.0, 3.0, 7.0, 15.0, 31.0], "straight"),
    ],
)
def test_what_does_not_decay_is_said_and_no_number_given(readings, why):
    found = fit_decay([float(i) for i in range(len(readings))], readings)

    assert not found.converged
    assert found.why
    assert why is None or why in found.why
    assert (found.end, found.size, found.tau, found.to_come(9), found.at(9)) == (None,) * 5


def test_scatter_about_a_steady_size_is_hardly_ever_taken_for_a_decay():
    """At one chance in a thousand, tried over many time constants: at most 2 of 200 are allowed here."""
    rng = np.random.default_rng(5)
    t = [float(i) for i in range(10)]

    for u in (None, 0.1):
        found = [fit_decay(t, rng.normal(50, 0.1, 10).tolist(), u=u) for _ in range(200)]

        assert sum(each.converged for each in found) <= 2
        assert any("not clear of the scatter" in each.why for each in found)


def test_a_step_is_not_taken_for_a_decay():
    """Readings that one step describes better than any decay: the time constant shrinks for ever."""
    found = fit_decay([0.1, 1.1, 1.2, 2.2], [-3.0, -1.0, 3.0, -1.0])

    assert not found.converged
    assert found.end is None
    assert "not clear of the scatter" in found.why


@pytest.mark.parametrize("readings", [(1, 2, 4), (1, 1, 1), (3, 2, 1), (1, 2, 1)])
def test_three_readings_that_do_not_settle_foretell_nothing(readings):
    found = three_readings(*readings, 1.0)

    assert not found.usable
    assert (found.end, found.tau) == (None, None)


def test_three_readings_near_the_end_are_called_too_near():
    early = three_readings(18.0, 12.09796, 8.518192, 1, u=0.1)
    late = three_readings(3.0101, 3.0061, 3.0037, 1, u=0.1)

    assert early.usable
    assert not late.usable
    assert late.why == "too near the end for three readings: fit more of them"


def test_the_uncertainty_of_the_foretold_end_is_that_of_a_simulation():
    rng = np.random.default_rng(4)
    d0, d1, d2 = (rng.normal(each, 0.01, 20_000) for each in (18.0, 12.09796, 8.518192))

    spread = ((d0 * d2 - d1**2) / (d0 + d2 - 2 * d1)).std()

    assert three_readings(18.0, 12.09796, 8.518192, 1, u=0.01).u_end == pytest.approx(spread, rel=0.03)


@given(st.floats(1, 20), st.floats(0.8, 4), st.floats(-100, 100), st.sampled_from([1, -1]))
def test_shift_and_mirror_move_every_finding_alike(size, tau, shift, sign):
    t = [0.5 * i for i in range(12)]
    noise = [0.01 * ((7 * i) % 5 - 2) for i in range(12)]
    plain = [3 + size * exp(-each / tau) + n for each, n in zip(t, noise, strict=True)]

    here, there = fit_decay(t, plain), fit_decay(t, [shift + sign * each for each in plain])

    assert here.converged
    assert there.converged
    assert there.end.value == pytest.approx(shift + sign * here.end.value, abs=1e-5)
    assert there.size.value == pytest.approx(sign * here.size.value, rel=1e-5)
    assert there.tau.value == pytest.approx(here.tau.value, rel=1e-5)
    assert there.end.u == pytest.approx(here.end.u, rel=1e-3)


@given(st.floats(1, 20), st.floats(0.8, 4))
def test_inches_give_the_same_decay(size, tau):
    t = [0.5 * i for i in range(12)]
    mm = [3 + size * exp(-each / tau) + 0.01 * (i % 3) for i, each in enumerate(t)]

    here, there = fit_decay(t, mm), fit_decay(t, [each / 25.4 for each in mm])

    assert there.converged == here.converged
    assert there.end.value * 25.4 == pytest.approx(here.end.value, rel=1e-5)
    assert there.tau.value == pytest.approx(here.tau.value, rel=1e-5)


@given(st.lists(st.floats(-1, 1), min_size=12, max_size=12), st.floats(0.01, 0.3))
def test_scaling_noise_and_decay_together_changes_no_decision(noise, size):
    t = [0.5 * i for i in range(12)]
    plain = [size * exp(-each / 1.5) + 0.02 * n for each, n in zip(t, noise, strict=True)]

    here, there = fit_decay(t, plain, u=0.01), fit_decay(t, [1024 * each for each in plain], u=0.01 * 1024)

    assert there.converged == here.converged
    assert there.why == here.why


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: fit_decay([0, 1], [1]), "2 times and 1 readings"),
        (lambda: fit_decay([0, 1, 1, 2], [4, 3, 2, 1]), "times must rise"),
        (lambda: three_readings(3, 2, 1, 0), "interval must be more than zero"),
        (lambda: time_constant(0, 1, 1), "cutting must be more than zero"),
        (lambda: passes_to(0.05, 1.0), "between 0 and 1, got 1.0"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()
