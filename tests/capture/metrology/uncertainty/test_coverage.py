"""Coverage factors against the GUM's table, EA-4/02 and the t distribution of scipy."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from capture.metrology.uncertainty.coverage import coverage_factor, covered, effective_dof, trapezoid_factor


@pytest.mark.parametrize(
    ("coverage", "row"),
    [
        (0.95, [12.71, 4.3, 2.57, 2.23, 2.12, 2.09, 2.01]),
        (0.9545, [13.97, 4.53, 2.65, 2.28, 2.17, 2.13, 2.05]),
        (0.99, [63.66, 9.92, 4.03, 3.17, 2.92, 2.85, 2.68]),
    ],
)
def test_gum_table_g2(coverage, row):
    """GUM-G2: JCGM 100:2008 Table G.2, published."""
    dofs = [1, 2, 5, 10, 16, 20, 50]

    assert [coverage_factor(coverage, dof) for dof in dofs] == pytest.approx(row, abs=0.005)


@given(st.floats(0.01, 0.999), st.floats(1, 500))
def test_factors_are_those_of_the_reference_library(coverage, dof):
    assert coverage_factor(coverage, dof) == pytest.approx(stats.t.ppf((1 + coverage) / 2, dof), rel=1e-6)
    assert coverage_factor(coverage) == pytest.approx(stats.norm.ppf((1 + coverage) / 2))


@given(st.floats(0.1, 5))
def test_what_a_factor_covers_gives_the_factor_back(k):
    assert coverage_factor(covered(k)) == pytest.approx(k, rel=1e-6)


@pytest.mark.parametrize(("first", "second"), [(1, 1), (1, 0.5), (1, 0.1), (1, 0.02), (0.3, 1), (1, 0)])
@pytest.mark.parametrize("coverage", [0.9, 0.95, 0.99])
def test_the_factor_of_two_rectangles_covers_their_sum(first, second, coverage):
    """By the exact distribution function of the sum: a trapezoid, of scipy."""
    half, top = first + second, abs(first - second) / (first + second)
    reference = stats.trapezoid((1 - top) / 2, (1 + top) / 2, -half, 2 * half)

    reach = trapezoid_factor(first, second, coverage) * sqrt((first**2 + second**2) / 3)

    assert reference.cdf(reach) - reference.cdf(-reach) == pytest.approx(coverage)


def test_effective_degrees_of_freedom_of_equal_parts_add_up():
    assert effective_dof([1, 1], [5, 5]) == pytest.approx(10)
    assert effective_dof([1, 1], [inf, inf]) == inf
    assert effective_dof([2, 0], [4, 1]) == pytest.approx(4)


def test_effective_degrees_of_freedom_never_exceed_the_sum():
    rng = np.random.default_rng(5)
    for _ in range(50):
        parts, dofs = rng.uniform(0.1, 3, 4), rng.integers(1, 30, 4)

        assert dofs.min() <= effective_dof(list(parts), list(dofs)) <= dofs.sum() * (1 + 1e-12)


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: coverage_factor(1.0), "between 0 and 1, got 1.0"),
        (lambda: coverage_factor(0.95, 0), "more than zero, got 0"),
        (lambda: trapezoid_factor(0, 0), "not both zero"),
        (lambda: trapezoid_factor(1, 1, 0), "between 0 and 1, got 0"),
        (lambda: effective_dof([1], []), "1 parts but 0 degrees of freedom"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()
