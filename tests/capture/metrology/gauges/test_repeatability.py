"""Repeatability against NIST's certified values, the GUM and scipy."""

from __future__ import annotations

from fractions import Fraction
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from capture.metrology.gauges.repeatability import one_way, one_way_of_summaries, pooled_sd, sample

SIRSTV = [
    [196.3052, 196.124, 196.189, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.185, 196.0052, 196.209],
]


def strd(name):
    """Groups of a NIST StRD analysis-of-variance file, as scipy ships it."""
    text = files("scipy.stats.tests.data.nist_anova").joinpath(f"{name}.dat").read_text().splitlines()
    groups = {}
    for line in text[60:]:
        if line.strip():
            group, value = line.split()
            groups.setdefault(group, []).append(value)
    return list(groups.values())


@pytest.mark.parametrize(
    ("readings", "mean", "sd"),
    [
        ([10000001, 10000003, 10000002], 10000002, 1.0),
        ([1.2] + [1.1, 1.3] * 500, 1.2, 0.1),
        ([1000000.2] + [1000000.1, 1000000.3] * 500, 1000000.2, 0.1),
        ([10000000.2] + [10000000.1, 10000000.3] * 500, 10000000.2, 0.1),
    ],
    ids=["STRD-NumAcc1", "STRD-NumAcc2", "NumAcc3", "NumAcc4"],
)
def test_nist_numerical_accuracy_sets(readings, mean, sd):
    """NIST StRD univariate NumAcc1 to 4, certified; a one-pass variance is negative on the last."""
    found = sample(readings)

    assert found.mean == pytest.approx(mean, rel=1e-14)
    # The readings of the last two are themselves rounded, by up to 1e-9 of a value near 1e7.
    assert found.sd == pytest.approx(sd, rel=1e-7)
    assert found.u == pytest.approx(sd / len(readings) ** 0.5, rel=1e-7)


def test_nist_sirstv():
    """STRD-SiRstv: NIST StRD analysis of variance, certified."""
    found = one_way(SIRSTV)

    assert pytest.approx(1.18046237440255, rel=1e-9) == found.F
    assert found.ss_between == pytest.approx(0.0511462616, rel=1e-6)
    assert found.ss_within == pytest.approx(0.21663656, rel=1e-6)
    assert (found.df_between, found.df_within) == (4, 20)
    assert found.s_within == pytest.approx(0.104076068, rel=1e-6)


def test_nist_smls01():
    """STRD-SmLs01: certified F 21, sums of squares 1.68 and 1.8."""
    found = one_way([[float(each) for each in group] for group in strd("SmLs01")])

    assert pytest.approx(21, rel=1e-9) == found.F
    assert found.ss_between == pytest.approx(1.68, rel=1e-6)
    assert found.ss_within == pytest.approx(1.8, rel=1e-6)
    assert (found.groups, found.n, found.df_between, found.df_within) == (9, 189, 8, 180)


def test_nist_atmwtag():
    """NIST StRD AtmWtAg, certified F 15.9467335677930."""
    found = one_way([[float(each) for each in group] for group in strd("AtmWtAg")])

    assert pytest.approx(15.9467335677930, rel=1e-6) == found.F


@pytest.mark.parametrize("number", range(1, 10))
def test_nist_simulated_sets_lose_nothing_that_the_readings_still_hold(number):
    """NIST StRD SmLs01 to 09: 0.1 spread on up to 1e12, certified F 21, 201 or 2001.

    From 07 on, rounding of the readings moves F itself: what is due there is their exact F, in rationals.
    """
    groups = strd(f"SmLs0{number}")

    found = one_way([[float(each) for each in group] for group in groups])

    assert (
        pytest.approx(exact_ratio([[Fraction(float(x)) for x in group] for group in groups]), rel=1e-9)
        == found.F
    )
    certified = 10 * 2 * 10 ** ((number - 1) % 3) + 1
    assert exact_ratio([[Fraction(x) for x in group] for group in groups]) == certified
    assert pytest.approx(certified, rel=1e-7 if number < 7 else 1e-3) == found.F


def exact_ratio(groups):
    n, k = sum(map(len, groups)), len(groups)
    grand = sum(map(sum, groups)) / n
    means = [sum(group) / len(group) for group in groups]
    between = sum(len(g) * (m - grand) ** 2 for g, m in zip(groups, means, strict=True)) / (k - 1)
    within = sum((x - m) ** 2 for g, m in zip(groups, means, strict=True) for x in g) / (n - k)
    return float(between / within)


def test_gum_h5_voltage_standard_between_days():
    """GUM-H5: JCGM 100:2008 H.5, Table H.9; published, daily means and deviations from memory."""
    means = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41]
    sds = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86]

    found = one_way_of_summaries([10 + m * 1e-6 for m in means], [s * 1e-6 for s in sds], 5)

    assert pytest.approx(2.25, abs=0.02) == found.F
    assert (found.ss_between / found.df_between) ** 0.5 == pytest.approx(128e-6, abs=1e-6)
    assert found.s_within == pytest.approx(85e-6, abs=0.6e-6)
    assert found.u == pytest.approx(18e-6, abs=0.5e-6)
    assert found.s_between == pytest.approx(43e-6, abs=0.6e-6)


@given(st.lists(st.lists(st.floats(-1, 1), min_size=2, max_size=6), min_size=2, max_size=5))
def test_analysis_of_variance_is_that_of_the_reference_library(groups):
    found = one_way(groups)
    if found.F is not None and found.ss_within > 1e-6:
        reference = stats.f_oneway(*groups)
        # Where all means are one the library rounds to a hair under 0, and gives no p.
        p = 1.0 if abs(reference.statistic) < 1e-9 else reference.pvalue

        assert pytest.approx(reference.statistic, rel=1e-6, abs=1e-9) == found.F
        assert found.p == pytest.approx(p, rel=1e-6, abs=1e-4 if p == 1.0 else 1e-9)


@given(st.lists(st.integers(-1000, 1000), min_size=2, max_size=30), st.integers(-(10**6), 10**6))
def test_a_constant_shift_moves_the_mean_and_nothing_else(microns, shift):
    """In whole units, so that the shift itself loses nothing."""
    here, there = sample(microns), sample([each + shift for each in microns])

    assert there.mean == pytest.approx(here.mean + shift)
    assert (there.sd, there.u, there.range) == (pytest.approx(here.sd), pytest.approx(here.u), here.range)


@given(st.lists(st.floats(-1, 1), min_size=2, max_size=30))
def test_a_mirrored_sample_has_the_mirrored_mean_and_the_same_spread(readings):
    here, there = sample(readings), sample([-each for each in readings])

    assert there.mean == -here.mean
    assert there.sd == pytest.approx(here.sd, abs=1e-15)


def test_the_spread_of_one_reading_is_not_known():
    assert sample([55.0]).sd is None
    assert sample([55.0]).u is None


def test_groups_without_scatter_have_no_ratio():
    found = one_way([[1, 1], [2, 2]])

    assert (found.F, found.p, found.s_within) == (None, None, 0)


def test_pooling_weighs_by_degrees_of_freedom():
    """GUM 4.2.4: by hand, (1 * 9 + 3 * 1) / 4 = 3."""
    assert pooled_sd([3, 1], [2, 4]) == pytest.approx(3**0.5)


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: sample([]), "one reading or more, got none"),
        (lambda: one_way([[1, 2]]), "two groups or more"),
        (lambda: one_way([[1], [2]]), "one with two readings"),
        (lambda: one_way([[1, 2], []]), "none empty"),
        (lambda: one_way_of_summaries([1], [1], 5), "two groups or more"),
        (lambda: pooled_sd([1], [1]), "a count of two or more"),
    ],
)
def test_too_little_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()
