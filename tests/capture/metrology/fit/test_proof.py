"""What a gauge can prove, against the arithmetic of the decision rules."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.fit.decision import SpecificationLimits
from capture.metrology.fit.proof import proof

JOB = SpecificationLimits(2, 8)


def test_a_good_gauge_can_prove_the_fit():
    """DR-02: u 0.8761 um leaves 3.441..6.559 um of 2..8 um."""
    found = proof("guarded", JOB, systematic=0.8761, repeat=0.0, readings=1, band=3.0)

    assert found.enough
    assert (found.acceptance.least, found.acceptance.most) == pytest.approx((3.441, 6.559), abs=0.002)
    assert found.said == "this gauge can prove this fit"


def test_a_four_micron_micrometer_cannot_and_no_averaging_helps():
    found = proof("guarded", JOB, systematic=4 / 3**0.5, repeat=0.5, readings=3, band=1.0)

    assert not found.enough
    assert not found.acceptance.left
    assert found.readings_due is None
    assert "cannot prove this fit" in found.said
    assert "more readings cannot" in found.said


def test_a_scattering_gauge_could_with_more_readings():
    """Guarded by U = 2 u: 3 um of band leaves u = 0.75; (2 / sqrt(0.75^2 - 0.5^2))^2 = 12.8."""
    found = proof("guarded-U", JOB, systematic=0.5, repeat=2.0, readings=1, band=3.0)

    assert found.u_due == pytest.approx(0.75)
    assert found.readings_due == 13
    assert "13 readings averaged at each place could" in found.said


@given(
    st.sampled_from(["guarded", "guarded-U"]),
    st.floats(0, 0.5),
    st.floats(0.1, 5),
    st.floats(0.5, 3),
)
def test_the_readings_that_are_due_are_just_enough(rule, systematic, repeat, band):
    due = proof(rule, JOB, systematic=systematic, repeat=repeat, readings=1, band=band).readings_due

    if due is not None and due > 1:
        few = proof(rule, JOB, systematic=systematic, repeat=repeat, readings=due - 1, band=band)
        assert proof(rule, JOB, systematic=systematic, repeat=repeat, readings=due, band=band * 0.999).enough
        assert not few.enough


def test_a_band_wider_than_the_limits_is_said():
    found = proof("guarded", JOB, systematic=0.1, repeat=0.1, readings=1, band=7.0)

    assert not found.enough
    assert found.said == "the band that is wanted is wider than the limits allow"


def test_no_readings_prove_nothing():
    with pytest.raises(ValueError, match="one reading or more"):
        proof("guarded", JOB, systematic=0.1, repeat=0.1, readings=0, band=1.0)
