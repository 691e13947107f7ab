"""Cooling and grinding heat against textbook examples."""

from __future__ import annotations

from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.heat.cooling import (
    LUMPED_BIOT,
    Solid,
    biot,
    cylinder_amplitude,
    cylinder_centre,
    cylinder_roots,
    difference_after,
    length_of_shape,
    pass_heat,
    still_air,
    time_constant,
    time_until,
)


def test_a_thermocouple_bead_follows_the_textbook():
    """HEAT-02, from memory: Incropera and DeWitt, Example 5.1: 0.706 mm, Bi 0.00235, 5.2 s."""
    bead = Solid(density=8500.0, heat=400.0, conductivity=20.0)
    diameter = 1.0 * 6.0 * 400.0 / (8500.0 * 400.0)

    assert diameter == pytest.approx(0.000706, abs=1e-6)
    assert time_constant(bead, 400.0, diameter, "sphere") == pytest.approx(1.0, rel=1e-12)
    assert biot(400.0, length_of_shape(diameter, "sphere"), 20.0) == pytest.approx(0.00235, abs=1e-5)
    assert time_until(200.0 - 25.0, 200.0 - 199.0, 1.0) == pytest.approx(5.2, abs=0.05)


def test_a_thick_shaft_needs_the_whole_series():
    """HEAT-03, published: Cengel, stainless shaft 0.35 m, 400 °C into 150 °C for 20 min.

    The book's one-term answer, 390 °C, is 4 K off: the Fourier number is under 0.2.
    """
    radius, film = 0.175, 60.0
    number = biot(film, radius, 14.9)
    fourier = 3.95e-6 * 1200.0 / radius**2
    root = cylinder_roots(number, 1)[0]

    assert number == pytest.approx(0.705, abs=0.001)
    assert number > LUMPED_BIOT
    assert root == pytest.approx(1.0904, abs=0.0002)
    assert cylinder_amplitude(root) == pytest.approx(1.1548, abs=0.0001)
    assert fourier == pytest.approx(0.1548, abs=0.0001)
    assert 150 + 250 * cylinder_centre(number, fourier, terms=1) == pytest.approx(390.0, abs=0.3)
    assert 150 + 250 * cylinder_centre(number, fourier) == pytest.approx(385.7, abs=0.1)


@pytest.mark.parametrize(
    ("diameter", "convection", "hours"), [(0.04, 4.46, 1.83), (0.05, 4.24, 2.38), (0.06, 4.09, 2.94)]
)
def test_a_shaft_in_still_air_takes_hours(diameter, convection, hours):
    """HEAT-04, derived: Churchill and Chu, horizontal cylinder, and radiation, +10 K over 20 °C."""
    found = still_air(diameter, difference=10.0)

    assert found.convection == pytest.approx(convection, abs=0.01)
    assert found.radiation == pytest.approx(1.2, abs=0.01)
    assert found.tau / 3600.0 == pytest.approx(hours, abs=0.01)
    assert found.biot == pytest.approx(0.002, abs=0.001)


@pytest.mark.parametrize(("film", "minutes"), [(10, 78), (25, 31), (100, 7.8), (500, 1.6), (1000, 0.8)])
def test_coolant_takes_minutes(film, minutes):
    """Derived: rho c D / (4 h) for 50 mm of steel."""
    steel = Solid(density=7850.0, heat=475.0, conductivity=45.0)

    assert time_constant(steel, film, 0.05) / 60.0 == pytest.approx(minutes, rel=0.04)


@pytest.mark.parametrize(("fraction", "rise", "grown"), [(0.1, 0.268, 0.165), (0.6, 1.609, 0.99)])
def test_a_pass_warms_the_part(fraction, rise, grown):
    """HEAT-06, derived: 5 µm off 50 x 200 mm at 50 J/mm3 is 3.9 kJ."""
    found = pass_heat(
        diameter=50.0, length=200.0, removed=0.005, specific_energy=50.0, fraction=fraction, alpha=12.3e-6
    )

    assert found.energy == pytest.approx(3927, abs=1)
    assert found.rise == pytest.approx(rise, abs=0.001)
    assert found.growth * 1000 == pytest.approx(grown, abs=0.001)


@given(st.floats(0.01, 100.0), st.floats(0.001, 100.0), st.floats(1.0, 1e5))
def test_waiting_until_a_limit_arrives_at_it(difference, limit, tau):
    left = difference_after(difference, time_until(difference, limit, tau), tau)

    assert left == pytest.approx(min(difference, limit), rel=1e-9)


@given(st.floats(0.001, 0.01), st.floats(0.5, 3.0))
def test_the_series_is_the_lumped_body_where_the_biot_number_is_small(number, fourier_times_biot):
    """Law: for small Bi the axis cools as exp(-2 Bi Fo) (lumped long cylinder)."""
    fourier = fourier_times_biot / (2.0 * number)

    assert cylinder_centre(number, fourier) == pytest.approx(exp(-fourier_times_biot), rel=0.02)


def test_each_root_solves_the_equation_of_the_cylinder():
    from scipy.special import j0, j1

    for root in cylinder_roots(0.7, 20):
        assert root * j1(root) == pytest.approx(0.7 * j0(root), abs=1e-12)


@given(st.floats(0.02, 0.2), st.floats(0.5, 40.0))
def test_a_cold_part_warms_as_slowly_as_a_warm_one_cools(diameter, difference):
    """Nearly: the air's film is a little different; 15 % covers it."""
    warm, cold = still_air(diameter, difference=difference), still_air(diameter, difference=-difference)

    assert cold.tau == pytest.approx(warm.tau, rel=0.15)


def test_a_limit_of_nothing_is_refused():
    with pytest.raises(ValueError, match="never falls to nothing"):
        time_until(5.0, 0.0, 100.0)


def test_no_difference_needs_no_wait_and_has_no_cooling():
    assert time_until(0.0, 0.5, 100.0) == 0.0
    with pytest.raises(ValueError, match="both must be there to cool"):
        still_air(0.05, difference=0.0)
