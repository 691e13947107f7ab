"""Least squares against the certified values of NIST's Statistical Reference Datasets.

Source of every data set here: NIST StRD, Nonlinear Regression, certified; `strd_files` reads them all.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.metrology.uncertainty.least_squares import derivatives, least_squares
from tests.capture.metrology.uncertainty.strd_files import FOLDER, STRD


def test_every_file_of_the_reference_datasets_is_fitted():
    assert {path.stem for path in FOLDER.glob("*.dat")} == set(STRD)
    assert len(STRD) == 27


@pytest.mark.parametrize("name", STRD)
def test_from_the_near_start_every_set_gives_its_certified_values(name):
    each = STRD[name]

    fit = least_squares(each.curve, each.x, each.y, each.start2)

    assert fit.converged
    assert fit.parameters == pytest.approx(each.parameters, rel=1e-6)
    assert fit.u == pytest.approx(each.sd, rel=1e-3)
    assert fit.s == pytest.approx(each.s, rel=1e-3)
    assert fit.rss == pytest.approx(each.rss, rel=1e-6, abs=1e-19)
    assert fit.dof == len(each.y) - len(each.parameters)


@pytest.mark.parametrize("name", STRD)
def test_from_the_far_start_the_answer_is_the_certified_one_too(name):
    each = STRD[name]

    fit = least_squares(each.curve, each.x, each.y, each.start1)

    assert fit.converged
    assert fit.parameters == pytest.approx(each.parameters, rel=1e-6)
    assert fit.rss == pytest.approx(each.rss, rel=1e-6, abs=1e-19)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(STRD)), st.lists(st.floats(-4, 4), min_size=9, max_size=9))
def test_from_anywhere_the_answer_is_a_minimum_or_there_is_none(name, far):
    """A fit never gives a number that it did not reach."""
    each = STRD[name]
    start = [p * 10**by for p, by in zip(each.start2, far, strict=False)]

    fit = least_squares(each.curve, each.x, each.y, start, most_steps=60)

    if fit.converged:
        slope = derivatives(each.curve, np.array(each.x), np.array(fit.parameters))
        cosines = slope.T @ np.array(fit.residuals) / np.linalg.norm(slope, axis=0)
        assert np.abs(cosines).max() <= 1e-3 * max(np.linalg.norm(fit.residuals), 1e-12)
    else:
        assert fit.why
        assert (fit.parameters, fit.u, fit.covariance, fit.rss, fit.s) == (None, None, None, None, None)


def test_a_search_that_is_cut_short_says_that_it_found_no_end():
    each = STRD["MGH10"]

    fit = least_squares(each.curve, each.x, each.y, each.start1, most_steps=20)

    assert not fit.converged
    assert fit.why == "no end after 20 steps: start nearer or fit a simpler model"
    assert fit.parameters is None


def test_parameters_that_do_the_same_cannot_be_told_apart():
    fit = least_squares(lambda x, p: (p[0] + p[1]) * x, [1, 2, 3], [1, 2, 3.1], [0.2, 0.3])

    assert not fit.converged
    assert "cannot tell the parameters apart" in fit.why


def test_a_model_without_a_value_at_the_start_says_so():
    fit = least_squares(lambda x, p: np.log(p[0]) * x, [1, 2], [1, 2], [-1.0])

    assert not fit.converged
    assert fit.why == "the model has no value at the start"


def test_a_model_that_is_not_analytic_leads_nowhere_and_says_so():
    fit = least_squares(lambda x, p: np.conj(p[0]) * x, [1.0, 2.0, 3.0], [1.0, 2.0, 3.1], [0.5])

    assert not fit.converged
    assert fit.why == "stuck: no step makes it better, yet it is no minimum"


def test_as_many_readings_as_parameters_leave_no_uncertainty():
    fit = least_squares(lambda x, p: p[0] + p[1] * x, [1.0, 2.0], [3.0, 5.0], [0.0, 0.0])

    assert fit.parameters == pytest.approx([1, 2])
    assert (fit.dof, fit.s, fit.u, fit.covariance) == (0, None, None, None)


def test_fewer_readings_than_parameters_are_refused():
    with pytest.raises(ValueError, match="2 parameters need as many readings or more, got 1"):
        least_squares(lambda x, p: p[0] + p[1] * x, [1.0], [1.0], [0.0, 0.0])


def test_a_known_uncertainty_of_the_readings_takes_the_place_of_their_scatter():
    """Two parameters of a straight line: u(mean) = u / sqrt(n), by hand."""
    fit = least_squares(lambda x, p: p[0] + p[1] * x, [-1.0, 0.0, 1.0], [1.0, 2.5, 3.0], [0.0, 0.0], u=0.3)

    assert fit.u == pytest.approx([0.3 / 3**0.5, 0.3 / 2**0.5])
    assert fit.covariance[0][1] == pytest.approx(0, abs=1e-12)


def test_derivatives_are_exact():
    x, p = np.array([0.5, 1.0, 2.0]), np.array([3.0, 0.7])

    found = derivatives(lambda x, p: p[0] * np.exp(-p[1] * x), x, p)

    left = np.exp(-0.7 * x)
    assert found == pytest.approx(np.column_stack([left, -3 * x * left]), rel=1e-14)


@given(
    st.lists(st.floats(-1, 1), min_size=8, max_size=8),
    st.floats(0.5, 3),
)
def test_residuals_are_orthogonal_to_the_model(noise, rate):
    x = np.arange(8) / 4
    y = 2 + 3 * np.exp(-rate * x) + 0.01 * np.array(noise)

    def curve(x, p):
        return p[0] + p[1] * np.exp(-p[2] * x)

    fit = least_squares(curve, x.tolist(), y.tolist(), [2.0, 3.0, rate])

    if fit.converged:
        slope = derivatives(curve, x, np.array(fit.parameters))
        cosines = slope.T @ np.array(fit.residuals) / np.linalg.norm(slope, axis=0)
        assert np.abs(cosines).max() <= 1e-3 * max(np.linalg.norm(fit.residuals), 1e-12)
    else:
        assert fit.parameters is None
