"""Decisions against JCGM 106, ILAC-G8 and quadrature."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from capture.metrology.fit.decision import (
    PROVEN,
    SpecificationLimits,
    acceptance,
    conformance,
    decide,
    false_acceptance,
    largest_u,
    one_limit_guard,
    risks,
)

JOB = SpecificationLimits(2, 8)
"""The clearance that is wanted, um."""
RULES = ("simple", "guarded", "guarded-U")


@pytest.mark.parametrize(
    ("probability", "z"), [(0.8, 0.84), (0.9, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_jcgm_106_table_1(probability, z):
    """JCGM106-table1: JCGM 106:2012 Table 1, published, from memory."""
    assert conformance(-z, 1, SpecificationLimits(None, 0)) == pytest.approx(probability, abs=0.002)
    assert stats.norm.ppf(conformance(-z, 1, SpecificationLimits(None, 0))) == pytest.approx(z, abs=0.006)
    assert conformance(z, 1, SpecificationLimits(0, None)) == pytest.approx(probability, abs=0.002)


def test_jcgm_106_oil():
    """JCGM106-oil: two-sided example, published, from memory."""
    assert conformance(13.6, 1.8, SpecificationLimits(12.5, 16.3)) == pytest.approx(0.66, abs=0.005)


def test_jcgm_106_breakdown_voltage():
    """JCGM 106:2012 Zener diode, published, from memory: 0.92."""
    assert conformance(-5.47, 0.05, SpecificationLimits(None, -5.40)) == pytest.approx(0.92, abs=0.005)


def test_jcgm_106_resistors():
    """JCGM106-resistors: 9.5; published inputs, results by quadrature 0.9044, 0.00988, 0.0690."""
    found = risks(
        1500, 0.12, 0.04, SpecificationLimits(1499.8, 1500.2), SpecificationLimits(1499.82, 1500.18)
    )

    assert found.conforming == pytest.approx(0.9, abs=0.005)
    assert found.consumer == pytest.approx(0.01, abs=0.005)
    assert found.producer == pytest.approx(0.07, abs=0.005)
    assert (found.conforming, found.consumer, found.producer) == pytest.approx(
        (0.9044, 0.00988, 0.0690), abs=6e-5
    )


def test_risks_are_those_of_the_two_dimensional_normal_of_the_reference_library():
    sd, u, limits, accepted = 1.3, 0.6, SpecificationLimits(-1, 2), SpecificationLimits(-0.7, 1.6)
    joint = stats.multivariate_normal([0.2, 0.2], [[sd**2, sd**2], [sd**2, sd**2 + u**2]])

    found = risks(0.2, sd, u, limits, accepted)

    both = joint.cdf([2, 1.6], lower_limit=[-1, -0.7])
    taken = stats.norm(0.2, (sd**2 + u**2) ** 0.5)
    assert found.consumer == pytest.approx(taken.cdf(1.6) - taken.cdf(-0.7) - both, abs=1e-4)
    assert found.producer == pytest.approx(found.conforming - both, abs=1e-4)


def test_ilac_g8_rules():
    """DR-01: ILAC-G8:09/2019, and ISO 14253-1:2017 in secondary text; published."""
    assert [one_limit_guard(rule) for rule in RULES] == pytest.approx([0, 1.645, 2], abs=0.01)
    assert [false_acceptance(rule) for rule in RULES] == pytest.approx([0.5, 0.05, 0.025], abs=0.0025)
    assert false_acceptance("guarded-U") < 0.025


def test_the_band_that_is_left_for_this_job():
    """DR-02: derived; 2..8 um with u = 0.88 um shrinks to 3.4..6.6."""
    guarded, by_u = acceptance("guarded", 0.8761, JOB), acceptance("guarded-U", 0.8761, JOB)

    assert (guarded.least, guarded.most) == pytest.approx((3.441, 6.559), abs=0.002)
    assert (by_u.least, by_u.most) == pytest.approx((3.752, 6.248), abs=0.002)
    assert guarded.capability == pytest.approx(1.712, abs=0.002)
    assert acceptance("simple", 0.8761, JOB).said == "the whole band is left"


@pytest.mark.parametrize("rule", ["guarded", "guarded-U"])
def test_no_band_left_is_said_plainly(rule):
    left = acceptance(rule, 2.0, JOB)

    assert not left.left
    assert (left.guard, left.least, left.most) == (None, None, None)
    assert left.said == "no band left: this gauge cannot prove this fit"
    assert decide(rule, 5, 2.0, JOB).answer == "not proven"
    assert decide(rule, 50, 2.0, JOB).answer == "does not conform"


@pytest.mark.parametrize(
    ("rule", "value", "answer"),
    [
        ("simple", 2.0, "conforms"),
        ("simple", 1.999, "does not conform"),
        ("guarded", 5.0, "conforms"),
        ("guarded", 3.6, "not proven"),
        ("guarded", 2.0, "not proven"),
        ("guarded", 0.36, "not proven"),
        ("guarded", 0.34, "does not conform"),
        ("guarded-U", 4.0, "conforms"),
        ("guarded-U", 3.99, "not proven"),
        ("guarded-U", 10.01, "does not conform"),
    ],
)
def test_three_answers(rule, value, answer):
    assert decide(rule, value, 1.0, JOB).answer == answer


def test_one_open_side_is_guarded_on_the_other_alone():
    left = acceptance("guarded", 1.0, SpecificationLimits(3, None))

    assert left.least == pytest.approx(4.645, abs=0.001)
    assert (left.most, left.capability) == (None, None)


def test_both_limits_close_together_are_looked_at_at_once():
    """At 4 u apart one limit's 1.645 u would leave only 94.4 % at the edge: the guard must be larger."""
    left = acceptance("guarded", 1.0, SpecificationLimits(0, 4))

    assert left.guard > 1.645
    assert conformance(left.least, 1.0, SpecificationLimits(0, 4)) == pytest.approx(PROVEN)
    assert conformance(1.645, 1.0, SpecificationLimits(0, 4)) < PROVEN


def test_an_exact_result_is_inside_or_not():
    assert [conformance(v, 0, JOB) for v in (2, 5, 8.1)] == [1, 1, 0]
    assert decide("guarded", 2, 0, JOB).answer == "conforms"


@given(st.sampled_from(RULES), st.floats(-2, 12), st.floats(0.01, 3), st.floats(-1e3, 1e3))
def test_a_constant_shift_changes_no_decision(rule, value, u, shift):
    here = decide(rule, value, u, JOB)
    there = decide(rule, value + shift, u, SpecificationLimits(2 + shift, 8 + shift))

    assume(_clear_of_every_edge(rule, value, u))
    assert there.answer == here.answer
    assert there.probability == pytest.approx(here.probability, abs=1e-6)


@given(st.sampled_from(RULES), st.floats(-2, 12), st.floats(0.01, 3), st.floats(1e-3, 25.4))
def test_scaling_everything_changes_no_decision(rule, value, u, scale):
    here = decide(rule, value, u, JOB)
    there = decide(rule, value * scale, u * scale, SpecificationLimits(2 * scale, 8 * scale))

    assume(_clear_of_every_edge(rule, value, u))
    assert there.answer == here.answer
    assert there.acceptance.left == here.acceptance.left


@given(st.sampled_from(RULES), st.floats(-2, 12), st.floats(0.01, 3))
def test_a_mirrored_result_is_judged_alike(rule, value, u):
    mirrored = decide(rule, 10 - value, u, JOB)

    assume(_clear_of_every_edge(rule, value, u))
    assert mirrored.answer == decide(rule, value, u, JOB).answer


@given(st.floats(0.05, 3))
def test_what_the_guarded_rule_accepts_conforms_with_95_percent(u):
    left = acceptance("guarded", u, JOB)

    assume(left.left)
    assert conformance(left.least, u, JOB) >= PROVEN - 1e-9
    assert conformance(left.most, u, JOB) >= PROVEN - 1e-9


@given(st.sampled_from(["guarded", "guarded-U"]), st.floats(0.5, 5.9))
def test_the_largest_uncertainty_leaves_just_the_band(rule, band):
    u = largest_u(rule, JOB, band=band)

    left = acceptance(rule, u * (1 - 1e-6), JOB)
    assert left.most - left.least == pytest.approx(band, abs=1e-3)
    more = acceptance(rule, u * 1.001, JOB)
    assert not more.left or more.most - more.least < band


def test_a_band_wider_than_the_limits_cannot_be_had():
    assert largest_u("guarded", JOB, band=6.1) is None
    assert largest_u("simple", JOB, band=6) == inf


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: SpecificationLimits(None, None), "a least or a most, got neither"),
        (lambda: SpecificationLimits(3, 3), "the least must be under the most, got 3 and 3"),
        (lambda: conformance(1, -1, JOB), "zero or more and finite, got -1"),
        (lambda: risks(0, 0, 1, JOB, JOB), "above zero, got 0 and 1"),
        (lambda: largest_u("guarded", SpecificationLimits(1, None), band=0), "both a least and a most"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()


def _clear_of_every_edge(rule, value, u):
    """Rounding may decide on an edge itself; nothing else may."""
    guard = one_limit_guard(rule) * u
    left = acceptance(rule, u, JOB)
    edges = [2, 8, 2 - guard, 8 + guard]
    edges += [] if left.least is None else [left.least, left.most]
    return min(abs(value - edge) for edge in edges) > 1e-6
