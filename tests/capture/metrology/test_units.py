"""Lengths, temperatures and dials against their definitions."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.units import (
    celsius,
    fahrenheit,
    from_mm,
    infeed_on_diameter,
    kelvin,
    per_kelvin,
    shown_on_dial,
    to_mm,
)

lengths = st.floats(-1000.0, 1000.0)


@pytest.mark.parametrize(("inch", "um"), [(0.0001, 2.54), (0.0002, 5.08), (0.0005, 12.7), (1e-6, 0.0254)])
def test_an_inch_is_25_4_mm_exactly(inch, um):
    """UNIT-01, published: international inch; UCUM [in_i] and [mil_i]."""
    assert from_mm(to_mm(inch, "in"), "um") == pytest.approx(um, abs=1e-12)


def test_a_tenth_is_a_ten_thousandth_of_an_inch():
    """UNIT-01, published: what a shop calls a tenth is 2.54 µm, a thou ten of them."""
    assert to_mm(1.0, "tenth") == pytest.approx(to_mm(0.0001, "in"), rel=1e-15)
    assert to_mm(1.0, "thou") == pytest.approx(to_mm(10.0, "tenth"), rel=1e-15)


@pytest.mark.parametrize(("dial", "um"), [("radius", 10.16), ("diameter", 5.08)])
def test_an_infeed_dial_reads_on_radius_or_on_diameter(dial, um):
    """UNIT-03, common practice: 5.08 µm on the dial."""
    assert infeed_on_diameter(5.08, dial) == pytest.approx(um, abs=1e-9)


def test_the_reference_temperature_is_68_fahrenheit():
    """TEMP-REF-01, published: ISO 1:2022; 20 °C = 68 °F = 293.15 K."""
    assert (celsius(68.0), fahrenheit(20.0), kelvin(20.0)) == (20.0, 68.0, 293.15)


def test_an_expansion_per_fahrenheit_degree_is_larger_per_kelvin():
    """TEMP-02, derived: 6.5e-6 per °F is 11.7e-6 per K (Callister, Table B.6 prints both)."""
    assert per_kelvin(6.5e-6) == pytest.approx(11.7e-6, rel=1e-12)


@given(lengths, st.sampled_from(["mm", "um", "in", "thou", "tenth"]))
def test_a_length_comes_back_from_any_unit(value, unit):
    assert from_mm(to_mm(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-12)


@given(st.floats(-200.0, 1000.0))
def test_a_temperature_comes_back_from_fahrenheit(t):
    assert celsius(fahrenheit(t)) == pytest.approx(t, abs=1e-9)


@given(lengths, st.sampled_from(["radius", "diameter"]))
def test_a_dial_shows_what_an_infeed_was_read_from(shown, dial):
    assert shown_on_dial(infeed_on_diameter(shown, dial), dial) == pytest.approx(shown)


def test_an_unknown_unit_or_dial_is_refused_with_what_is_known():
    with pytest.raises(ValueError, match="'cm' is not known; say one of mm, um, in, thou, tenth"):
        to_mm(1.0, "cm")
    with pytest.raises(ValueError, match="'both'; it reads on 'radius' or on 'diameter'"):
        infeed_on_diameter(1.0, "both")
