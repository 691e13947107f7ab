"""Straight lines against the GUM, NIST's certified values and reference libraries."""

from __future__ import annotations

from math import sqrt

import GTC
import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import assume, given
from hypothesis import strategies as st

from capture.metrology.uncertainty.regression import straight_line

NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
    447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
    229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
    448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
    228.9, 668.4, 449.2, 0.2,
]  # fmt: skip

THERMOMETER_T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
THERMOMETER_B = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def test_nist_norris():
    """STRD-Norris: NIST StRD linear regression, certified."""
    line = straight_line(NORRIS_X, NORRIS_Y)

    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.u_intercept == pytest.approx(0.232818234301152, rel=1e-9)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert line.u_slope == pytest.approx(0.000429796848199937, rel=1e-9)
    assert line.s == pytest.approx(0.884796396144373, rel=1e-9)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-9)
    assert line.dof == 34


def test_gum_h3_thermometer_correction():
    """GUM-H3: JCGM 100:2008 H.3, Table H.6; results read, the eleven readings from memory."""
    line = straight_line(THERMOMETER_T, THERMOMETER_B, origin=20)

    assert line.intercept == pytest.approx(-0.1712, abs=0.00005)
    assert line.u_intercept == pytest.approx(0.0029, abs=0.00005)
    assert line.slope == pytest.approx(0.00218, abs=0.000005)
    assert line.u_slope == pytest.approx(0.00067, abs=0.000005)
    assert line.r == pytest.approx(-0.930, abs=0.0005)
    assert line.s == pytest.approx(0.0035, abs=0.00005)
    assert line.at(30).value == pytest.approx(-0.1494, abs=0.00005)
    assert line.at(30).u == pytest.approx(0.0041, abs=0.00005)


def test_the_reference_library_fits_gum_h3_alike():
    """GTC's ordinary least squares."""
    fit = GTC.type_a.line_fit([each - 20 for each in THERMOMETER_T], THERMOMETER_B)
    line = straight_line(THERMOMETER_T, THERMOMETER_B, origin=20)

    a, b = fit.a_b
    assert (line.intercept, line.slope) == pytest.approx((a.x, b.x))
    assert (line.u_intercept, line.u_slope) == pytest.approx((a.u, b.u))
    assert line.r == pytest.approx(GTC.get_correlation(a, b))


@given(st.lists(st.tuples(st.integers(0, 300), st.floats(-1, 1), st.floats(0.1, 2)), min_size=3, max_size=12))
def test_weighted_lines_are_those_of_the_reference_library(points):
    """Statsmodels' weighted least squares, its covariance unscaled."""
    assume(len({x for x, _, _ in points}) >= 2)
    x, y, u = (list(column) for column in zip(*points, strict=True))

    line = straight_line(x, y, u)

    fit = sm.WLS(y, sm.add_constant(np.array(x, dtype=float), has_constant="add"), 1 / np.square(u)).fit()
    assert (line.intercept, line.slope) == pytest.approx(tuple(fit.params), rel=1e-6, abs=1e-6)
    assert (line.u_intercept, line.u_slope) == pytest.approx(
        tuple(np.sqrt(np.diag(fit.normalized_cov_params))), rel=1e-6
    )


@given(st.lists(st.floats(-1, 1), min_size=3, max_size=10), st.floats(-100, 100))
def test_a_constant_shift_moves_the_line_and_leaves_its_slope(y, shift):
    x = list(range(len(y)))
    here, there = straight_line(x, y), straight_line(x, [each + shift for each in y])

    assert there.slope == pytest.approx(here.slope, abs=1e-12)
    assert there.at(1.5).value == pytest.approx(here.at(1.5).value + shift, abs=1e-10)
    assert there.residuals == pytest.approx(here.residuals, abs=1e-10)


@given(st.lists(st.floats(-1, 1), min_size=3, max_size=10))
def test_a_mirrored_line_has_the_mirrored_slope(y):
    x = list(range(len(y)))
    here, there = straight_line(x, y), straight_line([-each for each in x], y)

    assert there.slope == pytest.approx(-here.slope, abs=1e-14)
    assert there.u_slope == pytest.approx(here.u_slope, abs=1e-14)


@given(st.lists(st.tuples(st.floats(-1, 1), st.floats(0.1, 2)), min_size=3, max_size=10))
def test_residuals_are_orthogonal_to_the_model(points):
    y, u = (list(column) for column in zip(*points, strict=True))
    x = np.arange(len(y)) * 40.0

    rest = np.array(straight_line(list(x), y, u).residuals) / np.square(u)

    assert rest.sum() == pytest.approx(0, abs=1e-9)
    assert rest @ x == pytest.approx(0, abs=1e-7)


def test_diameters_of_a_large_constant_plus_microns_keep_their_digits():
    """Same readings on 0 and on 55 mm: slopes agree to the rounding of the readings."""
    z, microns = [20, 80, 140, 200, 260], [0.0, 1.25, 2.5, 3.0, 4.25]

    small = straight_line(z, [each * 1e-3 for each in microns])
    large = straight_line(z, [55 + each * 1e-3 for each in microns])

    assert large.slope == pytest.approx(small.slope, rel=1e-10)


def test_two_readings_give_a_line_but_not_how_well_it_is_known():
    line = straight_line([0, 200], [50.0, 50.01])

    assert line.slope == pytest.approx(5e-5)
    assert (line.u_slope, line.u_intercept, line.s, line.at(100).u) == (None, None, None, None)
    assert line.at(100).value == pytest.approx(50.005)


def test_two_readings_of_known_uncertainty_do():
    """u(slope) of a difference over a length, by hand."""
    line = straight_line([0, 200], [50.0, 50.01], [0.001, 0.001])

    assert line.u_slope == pytest.approx(0.001 * sqrt(2) / 200)
    assert line.at(0).u == pytest.approx(0.001)


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (([1, 1], [1, 2]), "two different places or more, got 1"),
        (([1, 2], [1]), "2 places and 1 readings"),
        (([1, 2], [1, 2], [1, 0]), "must be more than zero"),
    ],
)
def test_what_makes_no_line_is_refused(arguments, why):
    with pytest.raises(ValueError, match=why):
        straight_line(*arguments)
