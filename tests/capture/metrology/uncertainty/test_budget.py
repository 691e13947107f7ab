"""Budgets against the worked examples of the GUM and of EA-4/02."""

from __future__ import annotations

from math import inf, sqrt

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from capture.metrology.uncertainty.budget import (
    Budget,
    Contribution,
    Correlation,
    Interaction,
    combined,
    expand,
    line_of,
    rows,
    second_order,
)
from capture.metrology.uncertainty.coverage import coverage_factor, effective_dof


def nm(name, value, spread, **more):
    return Contribution(name, value, spread, unit="nm", **more)


@pytest.fixture
def comparison():
    """GUM-H1: difference of the two blocks from repeat readings, comparator random and systematic."""
    parts = [5.8, 3.9, 6.7], [24, 5, 8]
    return nm("d", 215, sqrt(sum(u * u for u in parts[0])), dof=effective_dof(*parts))


@pytest.fixture
def end_gauge(comparison):
    """GUM-H1: JCGM 100:2008 (GUM) H.1, end-gauge calibration, published; nm and kelvins."""
    ls = 50000623.0
    theta = sqrt(0.2**2 + nm("cycle", 0, 0.5, distribution="arcsine").u ** 2)
    return Budget(
        "length of the end gauge",
        ls + 215,
        (
            nm("ls", ls, 25, dof=18),
            comparison,
            nm("dalpha", 0, 1e-6, distribution="rectangular", sensitivity=-ls * -0.1, dof=50),
            nm("dtheta", 0, 0.05, distribution="rectangular", sensitivity=-ls * 11.5e-6, dof=2),
            nm("alpha_s", 11.5e-6, 2e-6, distribution="rectangular", sensitivity=0.0),
            nm("theta", -0.1, theta, sensitivity=0.0),
        ),
        unit="nm",
    )


def test_gum_h1_end_gauge(end_gauge, comparison):
    """GUM-H1, Table H.1 and H.1.6; 93 nm is 2.92 x 32, the unrounded product is 92.5."""
    stated = expand(end_gauge, 0.99, whole_dof=True)

    assert comparison.u == pytest.approx(9.7, abs=0.05)
    assert comparison.dof == pytest.approx(25.6, abs=0.3)
    assert stated.value == pytest.approx(50000838, abs=0.5)
    assert [row.part for row in rows(end_gauge)][:4] == pytest.approx([25, 9.7, 2.9, 16.6], abs=0.05)
    assert stated.u == pytest.approx(32, abs=0.5)
    assert stated.u**2 == pytest.approx(1002, abs=1)
    assert expand(end_gauge, 0.99).dof == pytest.approx(16.7, abs=0.1)
    assert stated.dof == 16
    assert stated.k == pytest.approx(2.92, abs=0.005)
    assert pytest.approx(93, abs=0.7) == stated.U
    assert (stated.low, stated.high) == (stated.value - stated.U, stated.value + stated.U)


def test_gum_h1_at_95_percent(end_gauge):
    """GUM-H1-95: derived from H.1."""
    stated = expand(end_gauge, 0.95, whole_dof=True)

    assert stated.k == pytest.approx(2.12, abs=0.06)
    assert pytest.approx(67.1, abs=0.06) == stated.U


def test_gum_h1_with_its_second_order_terms(end_gauge):
    """GUM-H1, H.1.7: terms of 11.7 and 1.7 nm bring 32 nm to 34 nm."""
    ls = 50000623.0
    pairs = Interaction("dalpha", "theta", -ls), Interaction("alpha_s", "dtheta", -ls)
    budget = Budget(end_gauge.result, end_gauge.value, end_gauge.contributions, interactions=pairs, unit="nm")
    one = Budget("one", 0, end_gauge.contributions, interactions=pairs[:1])

    assert second_order(one) == pytest.approx(11.7, abs=0.1)
    assert combined(budget) == pytest.approx(34, abs=0.5)
    assert expand(budget).second_order == pytest.approx(sqrt(11.7**2 + 1.7**2), abs=0.1)


def test_ea_4_02_s4_gauge_block():
    """EA402-S4: EA-4/02 S4, both editions; published, from memory."""
    u = {
        "lS": 15,
        "drift": 12.2,
        "dl": 5.37,
        "comparator": 18.5,
        "temperatures": 16.6,
        "cte": 11.8,
        "variation": 3.87,
    }
    new = Budget("lX", 0, tuple(nm(name, 0, each) for name, each in u.items()))
    old = Budget("lX", 0, tuple(nm(name, 0, each) for name, each in (u | {"drift": 17.3}).items()))

    assert combined(new) == pytest.approx(34.3, abs=0.1)
    assert pytest.approx(69, abs=0.6) == expand(new, k=2).U
    assert combined(old) == pytest.approx(36.4, abs=0.05)
    assert pytest.approx(73, abs=0.5) == expand(old, k=2).U


def test_ea_4_02_s10_calliper_takes_the_factor_of_two_rectangles():
    """EA-4/02 S10 (vernier calliper), published, from memory: u 33 um, k 1.83, U 0.06 mm."""
    budget = Budget(
        "calliper error",
        0.10,
        (
            Contribution("gauge block", 0, 0.0008, "rectangular"),
            Contribution("temperature difference", 0, 0.0020, "rectangular"),
            Contribution("resolution", 0, 0.025, "rectangular"),
            Contribution("mechanical effects", 0, 0.050, "rectangular"),
        ),
    )

    stated = expand(budget, 0.95)

    assert stated.factor == "two rectangles"
    assert stated.u == pytest.approx(0.033, abs=0.001)
    assert stated.k == pytest.approx(1.83, abs=0.005)
    assert pytest.approx(0.06, abs=0.002) == stated.U


def test_the_budget_of_a_shaft_by_comparison_with_a_master():
    """JOB-UNC-01: derived, um; a 4e5-trial simulation agreed within 0.004."""
    budget = Budget(
        "shaft diameter",
        0,
        (
            Contribution("master", 0, 0.5 / 2),
            Contribution("zero", 0, 0.4 / sqrt(3)),
            Contribution("repeat", 0, 0.5 / sqrt(3)),
            Contribution("resolution", 0, 0.1 / 2, "rectangular"),
            Contribution("gauge", 0, 0.5, "rectangular"),
            Contribution("temperature difference", 0, 0.5, "rectangular", 50e3 * 1.15e-5),
            Contribution("expansion difference", 0, 1e-6, "rectangular", 50e3 * 4),
            Contribution("form", 0, 0.5, "rectangular"),
        ),
    )

    parts = [row.part for row in rows(budget)]

    due = [0.25, 0.2309, 0.2887, 0.0289, 0.2887, 0.166, 0.1155, 0.2887]
    assert parts == pytest.approx(due, abs=0.0002)
    stated = expand(budget, k=2)
    assert stated.u == pytest.approx(0.6384, abs=0.0002)
    assert pytest.approx(1.2768, abs=0.0002) == stated.U
    assert stated.coverage == pytest.approx(0.9545, abs=1e-5)
    assert stated.factor == "given"


@pytest.mark.parametrize(
    ("distribution", "shape", "reference"),
    [
        ("rectangular", 0.0, stats.uniform(-2, 4)),
        ("triangular", 0.0, stats.triang(0.5, -2, 4)),
        ("arcsine", 0.0, stats.arcsine(-2, 4)),
        ("trapezoid", 0.4, stats.trapezoid(0.3, 0.7, -2, 4)),
        ("trapezoid", 1.0, stats.uniform(-2, 4)),
        ("trapezoid", 0.0, stats.triang(0.5, -2, 4)),
    ],
)
def test_standard_uncertainties_are_those_of_the_reference_library(distribution, shape, reference):
    assert Contribution("x", 0, 2, distribution, shape=shape).u == pytest.approx(reference.std())


def test_a_combined_result_becomes_one_line_of_a_larger_budget(end_gauge):
    inner = expand(end_gauge)

    line = line_of("end gauge", inner, sensitivity=2.0, source="H.1")

    assert (line.u, line.dof, line.part) == (inner.u, inner.dof, 2 * inner.u)
    assert line_of("exact", expand(Budget("e", 0, (Contribution("a", 0, 1),)))).dof == inf


def test_the_reference_library_combines_a_budget_alike(end_gauge):
    """GTC, the GUM tree calculator of a national laboratory, with the same lines."""
    lines = [GTC.ureal(0, line.u, line.dof) * line.sensitivity for line in end_gauge.contributions]

    total = sum(lines)

    stated = expand(end_gauge)
    assert stated.u == pytest.approx(GTC.uncertainty(total))
    assert stated.dof == pytest.approx(GTC.dof(total))
    assert stated.k == pytest.approx(GTC.reporting.k_factor(stated.dof, 95), rel=1e-6)


def test_correlation_makes_like_errors_of_a_difference_cancel():
    def difference(r):
        lines = Contribution("bore", 0, 0.3), Contribution("shaft", 0, 0.3, sensitivity=-1)
        return combined(Budget("clearance", 0, lines, (Correlation("bore", "shaft", r),)))

    assert difference(0) == pytest.approx(0.3 * sqrt(2))
    assert difference(1) == pytest.approx(0)
    assert difference(-1) == pytest.approx(0.6)


def test_shares_add_up_to_one(end_gauge):
    assert sum(row.share for row in rows(end_gauge)) == pytest.approx(1)
    assert rows(end_gauge)[4].dof is None


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda: Contribution("a", 0, -1), "a: the spread must be zero or more"),
        (lambda: Contribution("a", inf, 1), "a: the value must be finite"),
        (lambda: Contribution("a", 0, 1, dof=0), "a: degrees of freedom must be more than zero"),
        (lambda: Contribution("a", 0, 1, "trapezoid", shape=1.5), "a: the shape must be from 0 to 1"),
        (lambda: Budget("b", 0, ()), "one contribution or more is due"),
        (lambda: Budget("b", 0, (Contribution("a", 0, 1),) * 2), "two contributions are called 'a'"),
        (
            lambda: Budget("b", 0, (Contribution("a", 0, 1),), (Correlation("a", "c", 1),)),
            "no contribution is called 'c'",
        ),
        (
            lambda: Budget("b", 0, (Contribution("a", 0, 1),), (Correlation("a", "a", 2),)),
            "must be -1 to 1, got 2",
        ),
    ],
)
def test_a_budget_that_cannot_be_is_refused_with_its_reason(make, why):
    with pytest.raises(ValueError, match=why):
        make()


@given(st.lists(st.tuples(st.floats(1e-3, 10), st.floats(-5, 5), st.floats(1, 100)), min_size=1, max_size=6))
def test_inches_and_millimetres_state_the_same(parts):
    """A budget scaled by 25.4 gives a result scaled by 25.4."""

    def stated(scale):
        lines = tuple(
            Contribution(str(i), 0, u * scale, sensitivity=c, dof=dof) for i, (u, c, dof) in enumerate(parts)
        )
        return expand(Budget("b", 0, lines))

    mm, inch = stated(25.4), stated(1)
    assert mm.u == pytest.approx(25.4 * inch.u)
    assert pytest.approx(25.4 * inch.U) == mm.U
    assert (mm.dof, mm.k) == (pytest.approx(inch.dof), pytest.approx(inch.k))


def test_a_budget_of_exact_lines_has_no_uncertainty():
    stated = expand(Budget("b", 5, (Contribution("a", 5, 0),)))

    assert (stated.u, stated.U, stated.dof) == (0, 0, None)
    assert stated.k == pytest.approx(coverage_factor(0.95))
