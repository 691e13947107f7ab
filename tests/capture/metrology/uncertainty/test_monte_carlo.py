"""Monte Carlo against the worked examples of GUM Supplement 1."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from capture.metrology.uncertainty.budget import Budget, Contribution, Correlation, expand
from capture.metrology.uncertainty.monte_carlo import (
    compare,
    draw,
    numerical_tolerance,
    shortest_interval,
    simulate,
    simulate_until_steady,
)


def added(a, b, c, d):
    return a + b + c + d


def four(distribution, spread):
    return [Contribution(f"x{i}", 0, spread, distribution) for i in range(4)]


def test_jcgm_101_sum_of_four_normals():
    """JCGM101-9.2.2: published, from memory; exact by theory."""
    found = simulate(added, four("normal", 1), trials=1_000_000, seed=1)

    assert found.value == pytest.approx(0, abs=0.01)
    assert found.u == pytest.approx(2, abs=0.01)
    assert (found.low, found.high) == pytest.approx((-3.92, 3.92), abs=0.05)


def test_jcgm_101_sum_of_four_rectangles():
    """JCGM101-9.2.3: published, from memory."""
    found = simulate(added, four("rectangular", sqrt(3)), trials=1_000_000, seed=2)

    assert found.value == pytest.approx(0, abs=0.01)
    assert found.u == pytest.approx(2, abs=0.01)
    assert (found.low, found.high) == pytest.approx((-3.88, 3.88), abs=0.03)


def test_jcgm_101_sum_that_one_rectangle_dominates():
    """JCGM 101:2008 9.2.4, from memory: the law gives 19.9 where 17.0 is right."""
    lines = [*four("rectangular", sqrt(3))[:3], Contribution("x3", 0, 10 * sqrt(3), "rectangular")]

    found = simulate(added, lines, trials=1_000_000, seed=3)

    assert (found.low, found.high) == pytest.approx((-17.0, 17.0), abs=0.1)
    by_law = expand(Budget("sum", 0, tuple(lines)), k=1.959964)
    assert pytest.approx(19.9, abs=0.05) == by_law.U
    verdict = compare(by_law, found)
    assert not verdict.agree
    assert verdict.low == pytest.approx(-2.9, abs=0.15)
    assert "differ" in verdict.said


def test_jcgm_101_mass_calibration():
    """JCGM101-9.3: published, from memory; a 2e6-trial run gave 0.07544 and [1.0854, 1.3845]."""
    lines = [
        Contribution("mRc", 100000, 0.05),
        Contribution("dm", 1.234, 0.02),
        Contribution("ra", 1.2, 0.1, "rectangular"),
        Contribution("rW", 8000, 1000, "rectangular"),
        Contribution("rR", 8000, 50, "rectangular"),
    ]

    found = simulate(
        lambda m, d, a, w, r: (m + d) * (1 + (a - 1.2) * (1 / w - 1 / r)) - 100000,
        lines,
        trials=1_000_000,
        seed=4,
    )

    law = expand(Budget("dm", 1.234, tuple(lines[:2])), k=1.959964)
    assert law.u == pytest.approx(0.0539, abs=0.0001)
    assert (law.low, law.high) == pytest.approx((1.1285, 1.3395), abs=0.0001)
    assert found.u == pytest.approx(0.0754, abs=0.0003)
    assert (found.low, found.high) == pytest.approx((1.0834, 1.3825), abs=0.004)
    assert not compare(law, found).agree


def test_jcgm_101_comparison_loss():
    """JCGM 101:2008 9.4, from memory: both quadratic, where a first-order law gives no uncertainty at all."""
    for x, mean, u in ((0, 50, 50), (0.01, 150, 112), (0.05, 2550, 502)):
        lines = [Contribution("x1", x, 0.005), Contribution("x2", 0, 0.005)]

        found = simulate(lambda a, b: a * a + b * b, lines, trials=400_000, seed=5)

        assert found.value * 1e6 == pytest.approx(mean, abs=2)
        assert found.u * 1e6 == pytest.approx(u, abs=2)


def gauge_block(ls, d, d1, d2, a, theta, cycle, da, dt):
    shop = theta + cycle
    return (ls * (1 + a * (shop + dt)) + d + d1 + d2) / (1 + (a + da) * shop) - 50e6


def test_jcgm_101_gauge_block():
    """JCGM101-9.5: published results; the input distributions from memory."""
    lines = [
        Contribution("Ls", 50000623, 25, "t", dof=18),
        Contribution("D", 215, 6, "t", dof=24),
        Contribution("d1", 0, 4, "t", dof=5),
        Contribution("d2", 0, 7, "t", dof=8),
        Contribution("alpha_s", 11.5e-6, 2e-6, "rectangular"),
        Contribution("theta0", -0.1, 0.2),
        Contribution("cycle", 0, 0.5, "arcsine"),
        Contribution("dalpha", 0, 1e-6, "curved-trapezoid", shape=0.1e-6),
        Contribution("dtheta", 0, 0.050, "curved-trapezoid", shape=0.025),
    ]

    found = simulate(gauge_block, lines, trials=2_000_000, seed=6, coverage=0.99)

    assert found.value == pytest.approx(838, abs=0.5)
    assert found.u == pytest.approx(36, abs=0.5)
    assert (found.low, found.high) == pytest.approx((745, 932), abs=3)


@pytest.mark.parametrize(
    ("line", "reference"),
    [
        (Contribution("x", 3, 2), stats.norm(3, 2)),
        (Contribution("x", 3, 2, "t", dof=7), stats.t(7, 3, 2)),
        (Contribution("x", 3, 2, "rectangular"), stats.uniform(1, 4)),
        (Contribution("x", 3, 2, "triangular"), stats.triang(0.5, 1, 4)),
        (Contribution("x", 3, 2, "arcsine"), stats.arcsine(1, 4)),
        (Contribution("x", 3, 2, "trapezoid", shape=0.4), stats.trapezoid(0.3, 0.7, 1, 4)),
    ],
)
def test_draws_follow_the_distribution_of_the_reference_library(line, reference):
    """Kolmogorov and Smirnov at 1e-4, for one seed."""
    values = draw(line, 20_000, np.random.default_rng(7))

    assert stats.kstest(values, reference.cdf).pvalue > 1e-4


def test_a_curved_trapezoid_has_the_spread_of_its_formula():
    line = Contribution("x", 0, 2, "curved-trapezoid", shape=0.5)

    assert draw(line, 400_000, np.random.default_rng(8)).std() == pytest.approx(line.u, rel=0.005)


def test_the_same_seed_gives_the_same_answer_and_another_another():
    first, again, other = (simulate(added, four("normal", 1), trials=5000, seed=s) for s in (1, 1, 2))

    assert first == again
    assert first != other


def test_an_adaptive_run_stops_when_its_figures_are_steady():
    found = simulate_until_steady(added, four("normal", 1), seed=9, digits=1)

    assert found.settled
    assert found.u == pytest.approx(2, abs=0.1)
    assert (found.low, found.high) == pytest.approx((-3.92, 3.92), abs=0.2)


def test_an_adaptive_run_that_may_not_go_on_says_that_it_has_not_settled():
    found = simulate_until_steady(added, four("normal", 1), seed=9, digits=4, most_trials=20_000)

    assert not found.settled
    assert found.trials == 20_000


def test_correlated_normals_are_drawn_together():
    lines = [Contribution("a", 0, 3), Contribution("b", 0, 3)]

    found = simulate(
        lambda a, b: a - b, lines, trials=100_000, seed=10, correlations=[Correlation("a", "b", 0.9)]
    )

    assert found.u == pytest.approx(3 * sqrt(2 * (1 - 0.9)), rel=0.02)


def test_the_law_agrees_where_everything_is_normal_and_straight():
    lines = tuple(four("normal", 1))

    verdict = compare(expand(Budget("sum", 0, lines)), simulate(added, lines, trials=400_000, seed=11))

    assert verdict.agree
    assert "agree" in verdict.said


@given(st.lists(st.floats(-100, 100), min_size=20, max_size=60), st.floats(0.3, 0.95))
def test_no_interval_of_that_coverage_is_shorter(values, coverage):
    low, high = shortest_interval(np.array(values), coverage)

    ordered = sorted(values)
    inside = min(int(coverage * len(values) + 0.5), len(values) - 1)
    widths = [ordered[i + inside] - ordered[i] for i in range(len(values) - inside)]
    assert high - low == pytest.approx(min(widths))


def test_numerical_tolerance():
    """JCGM 101:2008 7.9.2 examples, from memory: u 0.00035 with two digits gives 0.000005."""
    assert numerical_tolerance(0.00035, 2) == pytest.approx(0.000005)
    assert numerical_tolerance(2, 1) == pytest.approx(0.5)
    assert numerical_tolerance(0) == 0


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"trials": 100}, "100 trials are too few for 95% coverage: 2000 or more"),
        ({"trials": 5000, "coverage": 1.0}, "between 0 and 1, got 1.0"),
        ({"trials": 5000, "correlations": [Correlation("x0", "z", 1)]}, "'z' is correlated"),
        (
            {
                "trials": 5000,
                "correlations": [
                    Correlation("x0", "x1", 1),
                    Correlation("x1", "x2", 1),
                    Correlation("x0", "x2", -1),
                ],
            },
            "cannot all be true at once",
        ),
    ],
)
def test_a_simulation_that_cannot_be_is_refused(more, why):
    with pytest.raises(ValueError, match=why):
        simulate(added, four("normal", 1), seed=1, **more)


def test_a_model_that_gives_one_number_is_refused():
    with pytest.raises(ValueError, match=r"shape \(\) where \(5000,\) was due"):
        simulate(lambda a, b, c, d: (a + b + c + d).mean(), four("normal", 1), trials=5000, seed=1)
