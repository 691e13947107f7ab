"""What contacts show of lobes, against published three-point factors and a part rolled by geometry."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.form.contacts import RoundnessSetup, factor, factor_size, row, touching, unseen_by
from capture.metrology.form.lobes import v_block_factor


@pytest.mark.parametrize("angle", [60.0, 72.0, 90.0, 108.0, 120.0])
def test_the_indicator_opposite_a_v_has_the_published_factors(angle):
    """J. JSPE 43 (514), 1977, 1167, to which test_lobes holds `v_block_factor`; method of ISO 4292."""
    for n in range(2, 16):
        assert factor(n, RoundnessSetup("v", angle)).real == pytest.approx(v_block_factor(n, angle), abs=1e-9)
        assert factor(n, RoundnessSetup("v", angle)).imag == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("lobes", "size"), [(2, 1.0), (3, 2.0), (5, 2.0), (7, 0.0), (9, 0.0)])
def test_an_indicator_within_a_riding_v_of_90_degrees(lobes, size):
    """ISO 4292's rider factor ``1 - cos n(90 - alpha/2) / sin(alpha/2)``, from memory."""
    assert factor_size(lobes, "saddle", 90.0) == pytest.approx(size, abs=1e-9)


def _rolled(lobes: int, setup: RoundnessSetup, theta: float, amplitude: float = 1e-6) -> float:
    """What the indicator shows by geometry: the centre that keeps both contacts, without the formula."""

    def radius(at: float) -> float:
        return amplitude * cos(lobes * (theta + radians(at)))

    indicator, first, second = touching(setup)
    sides = np.array([[cos(radians(one)), sin(radians(one))] for one in (first, second)])
    centre = np.linalg.solve(sides, [-radius(first), -radius(second)])
    return (radius(indicator) + centre[0]) / amplitude


@given(
    st.integers(2, 15),
    st.sampled_from(["v", "saddle"]),
    st.floats(30, 150),
    st.floats(-25, 25),
    st.floats(0, 6.28),
)
def test_the_factor_is_what_geometry_gives(lobes, contacts, angle, offset, theta):
    setup = RoundnessSetup(contacts, angle, offset)

    shown = (factor(lobes, setup) * np.exp(1j * lobes * theta)).real

    assert shown == pytest.approx(_rolled(lobes, setup, theta), abs=1e-6)


@given(st.floats(30, 150), st.floats(-20, 20))
def test_no_v_sees_an_eccentricity(angle, offset):
    assert abs(factor(1, RoundnessSetup("v", angle, offset))) < 1e-9


def test_two_points_miss_odd_lobes_and_three_all_but_threes():
    two, three = RoundnessSetup("two-point"), RoundnessSetup("three-point")

    assert unseen_by([two]) == (3, 5, 7, 9, 11, 13, 15)
    assert unseen_by([three]) == (2, 4, 5, 7, 8, 10, 11, 13, 14)
    assert unseen_by([two, RoundnessSetup("v", 90.0), RoundnessSetup("v", 120.0)]) == ()


def test_a_v_off_its_bisector_sees_what_the_straight_one_misses():
    """An indicator off the bisector is ISO 4292's asymmetrical set-up; 60 degrees misses 2, 4, 5, 7 and 8."""
    assert 2 in unseen_by([RoundnessSetup("v", 60.0)])
    assert 2 not in unseen_by([RoundnessSetup("v", 60.0, 30.0)])


def test_between_centres_a_gauge_on_the_other_side_sees_the_axis_reversed():
    one, other = row(3, RoundnessSetup("centres")), row(3, RoundnessSetup("centres", at=180.0, turned=180.0))

    assert one[0] == pytest.approx(other[0])
    assert one[1] == pytest.approx(-other[1])


def test_a_v_that_is_no_v_is_refused():
    with pytest.raises(ValueError, match="between 0 and 180"):
        factor(3, RoundnessSetup("v", 0.0))
    with pytest.raises(ValueError, match="two lobes"):
        factor_size(1, "v")
