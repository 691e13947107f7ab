"""Flattening of measuring faces against Hertz's formula."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.gauges.contact import STEEL, Elastic, comparison_error, flattening

forces = st.floats(0.1, 20.0)
radii = st.floats(0.5, 50.0)


@pytest.mark.parametrize(("force", "um"), [(0.5, 0.1917), (1.0, 0.3043), (2.5, 0.5605)])
def test_a_steel_ball_sinks_into_steel_as_hertz_says(force, um):
    """CONTACT-01, derived: sphere 1.5 mm on flat, E 210 GPa, Poisson 0.3; textbook formula."""
    assert flattening(1.5, force, STEEL, STEEL) * 1000 == pytest.approx(um, abs=0.0002)


@given(radii, forces)
def test_eight_times_the_force_sinks_four_times_as_deep(radius, force):
    """Hertz: delta grows as F^(2/3) and falls as R^(1/3)."""
    one = flattening(radius, force, STEEL, STEEL)

    assert flattening(radius, 8 * force, STEEL, STEEL) == pytest.approx(4 * one)
    assert flattening(8 * radius, force, STEEL, STEEL) == pytest.approx(one / 2)


@given(radii, forces)
def test_a_master_of_the_same_material_cancels_it(radius, force):
    assert comparison_error(radius, force, STEEL, STEEL, STEEL) == 0.0


def test_a_softer_part_reads_small_against_a_steel_master():
    iron = Elastic(modulus=110.0, poisson=0.26)

    assert comparison_error(1.5, 1.0, STEEL, iron, STEEL) < 0.0


def test_no_force_is_refused():
    with pytest.raises(ValueError, match="must both be over 0"):
        flattening(1.5, 0.0, STEEL, STEEL)
