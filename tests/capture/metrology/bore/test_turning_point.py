"""The bottom of a rock: exact curves, noise and its uncertainty, late readings, knocks, and no rocks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.bore.turning_point import LEAST, NoRock, TurningPoint, evenly, turning_point

D = 55.0


def half_rock(
    rate: float, *, frequency: float = 0.8, amplitude: float = 3.0, lean: float = 0.2, phase: float = 0.3
) -> tuple[np.ndarray, np.ndarray]:
    """Times and exact readings ``D / cos theta`` from one turn of the hand to the next."""
    half = 0.5 / frequency
    t = (np.arange(int(half * rate) + 1) + phase) / rate
    t = t[t <= half]
    theta = np.radians(lean + amplitude * np.cos(np.pi * t / half))
    return t, D / np.cos(theta)


@pytest.mark.parametrize("rate", [10.0, 20.0, 50.0])
@pytest.mark.parametrize("amplitude", [1.5, 3.0, 4.5])
def test_an_exact_rock_gives_the_diameter_between_its_readings(rate, amplitude):
    """The tilted reading is D / cos theta (elementary geometry)."""
    t, r = half_rock(rate, amplitude=amplitude)

    found = turning_point(t, r, noise=1e-6)

    assert isinstance(found, TurningPoint)
    assert found.value == pytest.approx(D, abs=1e-4)


def test_the_least_of_a_quick_rocks_readings_is_no_diameter_and_the_fit_is():
    t, r = half_rock(10.0, frequency=1.0, amplitude=4.0, phase=0.0, lean=0.0)

    found = turning_point(t, r, noise=5e-4)

    assert isinstance(found, TurningPoint)
    assert r.min() - D > 0.004
    assert abs(found.value - D) < min(0.001, found.u)


def test_its_time_is_where_the_gauge_stands_upright():
    t, r = half_rock(50.0, lean=0.0, phase=0.0)

    found = turning_point(t, r, noise=1e-4)

    assert isinstance(found, TurningPoint)
    assert found.at == pytest.approx(0.5 / 0.8 / 2, abs=1e-3)


@pytest.mark.parametrize(("rate", "frequency"), [(50.0, 1.2), (20.0, 0.8), (10.0, 0.6)])
def test_its_uncertainty_covers_its_error_as_often_as_it_says(rate, frequency):
    """Within k = 2 are 95.4 % of a normal distribution (JCGM 100, table G.1), give or take 4 deviations."""
    random = np.random.default_rng(7)
    inside = 0
    for _ in range(400):
        amplitude, lean, phase = random.uniform(1.5, 4.5), random.uniform(-0.3, 0.3), random.uniform(0, 1)
        t, r = half_rock(rate, frequency=frequency, amplitude=amplitude, lean=lean, phase=phase)
        r = np.round((r + random.normal(0, 0.0004, len(r))) * 1000) / 1000
        found = turning_point(t, r, noise=(0.0004**2 + 0.001**2 / 12) ** 0.5)
        assert isinstance(found, TurningPoint)
        inside += abs(found.value - D) <= 2 * found.u

    assert inside / 400 >= 0.954 - 4 * (0.954 * 0.046 / 400) ** 0.5


@given(shift=st.floats(-60, 60), later=st.floats(-1e4, 1e4))
def test_shifting_the_readings_shifts_the_diameter_and_nothing_else(shift, later):
    t, r = half_rock(20.0)
    one, two = turning_point(t, r, noise=5e-4), turning_point(t + later, r + shift, noise=5e-4)

    assert isinstance(one, TurningPoint)
    assert isinstance(two, TurningPoint)
    assert two.value - shift == pytest.approx(one.value, abs=1e-7)
    assert two.u == pytest.approx(one.u, rel=1e-4)
    assert two.at - later == pytest.approx(one.at, abs=1e-6)


@given(stretch=st.floats(0.1, 10))
def test_a_slower_hand_and_a_slower_gauge_read_the_same(stretch):
    """Law: time enters only as a share of the rock."""
    t, r = half_rock(20.0)
    one, two = turning_point(t, r, noise=5e-4), turning_point(t * stretch, r, noise=5e-4)

    assert isinstance(one, TurningPoint)
    assert isinstance(two, TurningPoint)
    assert two.value == pytest.approx(one.value, abs=1e-9)
    assert two.u == pytest.approx(one.u, rel=1e-6)


def test_one_stray_reading_is_left_out_and_counted():
    t, r = half_rock(50.0)
    r[10] += 0.012

    found = turning_point(t, r, noise=5e-4)

    assert isinstance(found, TurningPoint)
    assert found.strays == 1
    assert found.value == pytest.approx(D, abs=2e-4)


def test_a_rock_with_too_few_readings_says_so():
    t, r = half_rock(5.0, frequency=1.2)

    found = turning_point(t, r, noise=5e-4)

    assert len(t) < LEAST
    assert isinstance(found, NoRock)
    assert found.sparse


@pytest.mark.parametrize(
    "heights",
    [
        [0.03, 0, 0, 0, 0, 0, 0, 0, 0.03],
        [0.03, 0.02, 0.01, 0.025, 0.0, 0.02, 0.005, 0.03, 0.02, 0.03],
    ],
    ids=["held still between two knocks", "broken"],
)
def test_what_no_rock_makes_is_no_turning_point(heights):
    values = D + np.array(heights)

    found = turning_point(np.arange(len(values)) / 20, values, noise=5e-4)

    assert isinstance(found, NoRock)


def test_a_gauge_that_keeps_its_beat_is_read_on_it_and_lost_readings_are_counted():
    """Arrivals are late by up to 12 ms; three readings never came."""
    random = np.random.default_rng(3)
    made = np.delete(np.arange(60) / 20, [17, 30, 31])
    arrived = made + random.uniform(0, 0.012, len(made))

    even, late = evenly(arrived)

    assert np.ptp(even - made) < 0.004
    assert late == pytest.approx(0.012 / 12**0.5, rel=0.3)


def test_few_readings_leave_more_than_one_bottom_possible_and_the_uncertainty_holds_them():
    """A hand that slows as it turns away, seven readings a rock: rms error and stated u agree (simulated)."""
    random, ratios = np.random.default_rng(31), []
    for _ in range(120):
        s = (np.arange(7) + random.uniform(0.05, 0.95)) / 7.5
        tilt = np.radians(3.0) * (1 - 2 * (1 - np.cos(np.pi * s**0.7)) / 2)
        shown = np.round((D / np.cos(tilt) + random.normal(0.0, 4e-4, 7)) * 1000) / 1000
        found = turning_point(s * 0.7, shown, noise=6e-4)
        if isinstance(found, TurningPoint):
            ratios.append((found.value - D) / found.u)

    assert len(ratios) > 60
    assert np.mean(np.abs(ratios) <= 1.96) >= 0.9


def test_five_readings_from_turn_to_turn_are_too_few():
    t, r = half_rock(8.0, frequency=1.0, amplitude=4.0, phase=0.0, lean=0.0)

    found = turning_point(t[:5], r[:5], noise=5e-4)

    assert isinstance(found, NoRock)
    assert found.sparse
