"""Gauge studies against the examples of the AIAG manual, statsmodels and a simulated gauge."""

from __future__ import annotations

from math import inf

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.anova import anova_lm

from capture.metrology.gauges.gauge_study import (
    Trial,
    bias,
    by_ranges,
    by_variance,
    linearity,
    mean_range_factor,
)

AIAG = {
    "A": [
        [0.29, -0.56, 1.34, 0.47, -0.8, 0.02, 0.59, -0.31, 2.26, -1.36],
        [0.41, -0.68, 1.17, 0.5, -0.92, -0.11, 0.75, -0.2, 1.99, -1.25],
        [0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31],
    ],
    "B": [
        [0.08, -0.47, 1.19, 0.01, -0.56, -0.2, 0.47, -0.63, 1.8, -1.68],
        [0.25, -1.22, 0.94, 1.03, -1.2, 0.22, 0.55, 0.08, 2.12, -1.62],
        [0.07, -0.68, 1.34, 0.2, -1.28, 0.06, 0.83, -0.34, 2.19, -1.5],
    ],
    "C": [
        [0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49],
        [-0.11, -1.13, 1.09, 0.2, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77],
        [-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16],
    ],
}
"""GRR-AR: AIAG, Measurement Systems Analysis, 4th ed., 10 parts x 3 people x 3 trials; published."""

MASTERS = {
    2.0: [2.7, 2.5, 2.4, 2.5, 2.7, 2.3, 2.5, 2.5, 2.4, 2.4, 2.6, 2.4],
    4.0: [5.1, 3.9, 4.2, 5.0, 3.8, 3.9, 3.9, 3.9, 3.9, 4.0, 4.1, 3.8],
    6.0: [5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1],
    8.0: [7.6, 7.7, 7.8, 7.7, 7.8, 7.8, 7.8, 7.7, 7.8, 7.5, 7.6, 7.7],
    10.0: [9.1, 9.3, 9.5, 9.3, 9.4, 9.5, 9.5, 9.5, 9.6, 9.2, 9.3, 9.4],
}
"""Linearity example of the same manual, from memory."""


@pytest.fixture
def trials():
    return [
        Trial(str(part), person, value)
        for person, rounds in AIAG.items()
        for row in rounds
        for part, value in enumerate(row)
    ]


def test_aiag_by_averages_and_ranges(trials):
    """GRR-AR: the manual rounds the mean range to 0.3417 first."""
    found = by_ranges(trials)

    assert found.mean_range == pytest.approx(0.3417, abs=5e-5)
    assert found.range_of_people == pytest.approx(0.4447, abs=5e-5)
    assert found.range_of_parts == pytest.approx(3.511, abs=0.0005)
    assert pytest.approx(0.20188, abs=5e-5) == found.EV
    assert pytest.approx(0.22963, abs=6e-5) == found.AV
    assert pytest.approx(0.30575, abs=5e-5) == found.GRR
    assert pytest.approx(1.10456, abs=5e-5) == found.PV
    assert pytest.approx(1.1461, abs=6e-5) == found.TV
    assert found.percent == pytest.approx(26.68, abs=0.02)
    assert found.ndc == 5
    assert (found.people, found.parts, found.trials) == (3, 10, 3)


def test_aiag_by_analysis_of_variance(trials):
    """The same manual's variance table, interaction pooled; published."""
    found = by_variance(trials)

    assert pytest.approx((0.199933, 0.226838), abs=1e-6) == (found.EV, found.AV)
    assert pytest.approx((0.302373, 1.042327), abs=2e-6) == (found.GRR, found.PV)
    assert found.interaction == 0
    assert found.F_interaction == pytest.approx(0.434, abs=0.001)


def test_the_reference_library_finds_the_same_interaction(trials):
    """Statsmodels' two-way table."""
    frame = pd.DataFrame([(t.part, t.person, t.value) for t in trials], columns=["part", "person", "value"])
    table = anova_lm(smf.ols("value ~ C(part) * C(person)", frame).fit())

    found = by_variance(trials, pool_above=1.0)

    assert found.F_interaction == pytest.approx(table.loc["C(part):C(person)", "F"])
    assert found.p_interaction == pytest.approx(table.loc["C(part):C(person)", "PR(>F)"])
    assert pytest.approx(table.loc["Residual", "mean_sq"]) == found.EV**2


@pytest.mark.parametrize(
    ("size", "d2", "single"),
    [
        (2, 1.128, 1.41421),
        (3, 1.693, 1.91155),
        (4, 2.059, 2.23887),
        (5, 2.326, 2.48124),
        (7, 2.704, 2.82981),
        (10, 3.078, 3.17905),
    ],
)
def test_range_factors_are_those_of_the_printed_table(size, d2, single):
    """Duncan, Table D3, as the AIAG manual's Appendix C prints it; from memory."""
    assert mean_range_factor(size, inf) == pytest.approx(d2, abs=0.0006)
    assert mean_range_factor(size, 1) == pytest.approx(single, abs=2e-5)


def test_aiag_linearity():
    """Slope -0.1317, intercept 0.7367, t -12.043 and 10.158; published, from memory."""
    found = linearity(MASTERS)

    assert found.line.slope == pytest.approx(-0.131667, abs=1e-6)
    assert found.line.intercept == pytest.approx(0.736667, abs=1e-6)
    assert found.line.slope / found.line.u_slope == pytest.approx(-12.043, abs=0.001)
    assert found.line.intercept / found.line.u_intercept == pytest.approx(10.158, abs=0.001)
    due = [0.491667, 0.125, 0.025, -0.291667, -0.616667]
    assert [each.bias for each in found.biases] == pytest.approx(due, abs=1e-6)
    assert found.p_slope < 1e-6


def test_a_bias_that_the_scatter_explains_is_not_a_bias():
    none, some = bias(55.0, [54.999, 55.001, 55.0]), bias(55.0, [55.004, 55.005, 55.006])

    assert none.bias == pytest.approx(0, abs=1e-12)
    assert none.p == pytest.approx(1)
    assert some.bias == pytest.approx(0.005)
    assert some.p < 0.02


def test_bias_of_one_reading_is_known_but_not_how_surely():
    found = bias(55.0, [55.002])

    assert found.bias == pytest.approx(0.002)
    assert (found.u, found.p) == (None, None)


def test_a_simulated_gauge_is_found_as_it_was_made():
    """Repeatability 1, people 2, parts 5: both methods within what 8 people x 20 parts can tell."""
    rng = np.random.default_rng(3)
    people, parts = rng.normal(0, 2, 8), rng.normal(0, 5, 20)
    trials = [
        Trial(str(p), str(w), people[w] + parts[p] + rng.normal())
        for w in range(8)
        for p in range(20)
        for _ in range(3)
    ]

    for found in (by_variance(trials), by_ranges(trials)):
        assert pytest.approx(1, rel=0.1) == found.EV
        assert pytest.approx(people.std(ddof=1), rel=0.25) == found.AV
        assert pytest.approx(parts.std(ddof=1), rel=0.15) == found.PV
        assert found.of_tolerance(60) == pytest.approx(10 * found.GRR)


@given(st.floats(-100, 100), st.sampled_from([1 / 25.4, 25.4, -1.0]))
def test_shift_unit_and_mirror_change_no_variation(shift, scale):
    values = {(w, p): 0.1 * w + p + 0.01 * ((7 * w + 3 * p) % 5) for w in range(3) for p in range(4)}
    here, there = (
        [
            Trial(str(p), str(w), s + k * (v + 0.02 * t * (-1) ** (w + p)))
            for (w, p), v in values.items()
            for t in range(2)
        ]
        for s, k in ((0.0, 1.0), (shift, scale))
    )

    for method in (by_variance, by_ranges):
        before, after = method(here), method(there)
        figures = [(each.EV, each.AV, each.GRR, each.PV, each.TV) for each in (before, after)]
        assert figures[1] == pytest.approx([abs(scale) * each for each in figures[0]], rel=1e-6, abs=1e-9)
        assert after.ndc == before.ndc


@pytest.mark.parametrize(
    ("trials", "why"),
    [
        ([Trial("1", "A", 0.0)] * 4, "two people and two parts or more, got 1 and 1"),
        (
            [Trial(p, w, 0.0) for p in "12" for w in "AB" for _ in range(2)][:-1],
            "B read part 2 1 times where 2 were due",
        ),
        ([Trial(p, w, 0.0) for p in "12" for w in "AB"], "A read part 1 1 times where 2 were due"),
    ],
)
def test_a_study_with_holes_is_refused_with_the_hole_named(trials, why):
    with pytest.raises(ValueError, match=why):
        by_variance(trials)


def test_a_gauge_without_any_scatter_has_no_number_of_categories():
    trials = [Trial(p, w, float(p)) for p in "12" for w in "AB" for _ in range(2)]

    found = by_ranges(trials)

    assert (found.GRR, found.ndc) == (0, None)
    assert found.percent == 0


def test_a_range_of_one_reading_is_refused():
    with pytest.raises(ValueError, match="two readings and one sample or more, got 1 and 1"):
        mean_range_factor(1, 1)
