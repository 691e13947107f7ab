"""Tilt and offset of a bore gauge against plane geometry."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.bore.bore_gauge import (
    offset_allowed,
    offset_error,
    offset_uncertainty,
    tilt_allowed,
    tilt_error,
)

diameters = st.floats(5.0, 500.0)


@pytest.mark.parametrize(
    ("tilt", "um"), [(0.1, 0.0762), (0.25, 0.476), (0.5, 1.9039), (1.0, 7.6164), (2.0, 30.4772)]
)
def test_a_tilted_gauge_reads_too_much(tilt, um):
    """BORE-ROCK, derived: D (sec theta - 1), 50 mm."""
    assert tilt_error(50.0, tilt) * 1000 == pytest.approx(um, abs=6e-5)


@pytest.mark.parametrize(
    ("um", "tilt", "offset"), [(0.25, 0.1812, 0.0791), (0.5, 0.2562, 0.1118), (1.0, 0.3624, 0.1581)]
)
def test_so_much_tilt_or_offset_costs_so_much(um, tilt, offset):
    """BORE-LIMITS, derived: 50 mm."""
    assert tilt_allowed(50.0, um / 1000) == pytest.approx(tilt, abs=6e-5)
    assert offset_allowed(50.0, um / 1000) == pytest.approx(offset, abs=6e-5)


@pytest.mark.parametrize(("offset", "um"), [(0.05, -0.10), (0.1, -0.40), (0.2, -1.60), (0.5, -10.0)])
def test_a_gauge_off_the_centre_reads_a_chord(offset, um):
    """Derived: sqrt(D^2 - 4 e^2) - D, 50 mm."""
    assert offset_error(50.0, offset) * 1000 == pytest.approx(um, abs=0.01)


@given(diameters, st.floats(1e-6, 0.05))
def test_allowed_and_error_undo_each_other(diameter, error):
    assert tilt_error(diameter, tilt_allowed(diameter, error)) == pytest.approx(error, rel=1e-4)
    assert offset_error(diameter, offset_allowed(diameter, error)) == pytest.approx(-error, rel=1e-9)


@given(diameters, st.floats(-10.0, 10.0), st.floats(-1.0, 1.0))
def test_both_errors_are_one_sided_and_even(diameter, tilt, offset):
    assert tilt_error(diameter, tilt) == tilt_error(diameter, -tilt) >= 0.0
    assert offset_error(diameter, offset) == offset_error(diameter, -offset) <= 0.0


@given(diameters, st.floats(-2.0, 2.0))
def test_the_chord_is_that_of_pythagoras(diameter, offset):
    assert diameter + offset_error(diameter, offset) == pytest.approx(sqrt(diameter**2 - 4 * offset**2))


@given(diameters, st.floats(0.1, 5.0), st.floats(0.1, 2.0))
def test_round_tips_take_their_diameter_off_the_error(diameter, tilt, tip):
    """Derived: (D - 2 r)(sec theta - 1)."""
    assert tilt_error(diameter, tilt, tip) == pytest.approx(tilt_error(diameter - 2 * tip, tilt))


def test_outside_the_bore_is_refused():
    with pytest.raises(ValueError, match="outside a bore"):
        offset_error(50.0, 26.0)
    with pytest.raises(ValueError, match="does not come from a bore"):
        offset_allowed(50.0, 51.0)


def test_anywhere_about_the_middle_it_errs_so_much_on_the_whole():
    """Against the errors themselves at 2001 even places; 0.2 mm in 55 mm: 0.65 µm."""
    errors = [offset_error(55.0, 0.2 * n / 1000) for n in range(-1000, 1001)]

    assert offset_uncertainty(55.0, 0.2) == pytest.approx(sqrt(sum(e * e for e in errors) / 2001), rel=2e-3)
    assert offset_uncertainty(55.0, 0.2) * 1000 == pytest.approx(0.65, abs=0.005)
