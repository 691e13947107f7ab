"""Sizes and clearances at temperatures against worked figures and the GUM's own example."""

from __future__ import annotations

from math import hypot, nan, sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from capture.metrology.heat.materials import Expansion, expansion
from capture.metrology.heat.temperature import (
    REFERENCE,
    Temperature,
    clearance,
    clearance_at,
    growth,
    layer_error,
    size_at,
    size_at_20,
    temperature_that_closes,
)


def known(alpha: float) -> Expansion:
    return Expansion(alpha=alpha, u=0.0)


alphas = st.floats(3e-6, 25e-6)
warmth = st.floats(-30.0, 80.0)
sizes = st.floats(1.0, 500.0)


def test_the_reference_temperature_is_20():
    """TEMP-REF-01, published: ISO 1:2022; Phillips and others, J. Res. NIST 121 (2016)."""
    assert REFERENCE == 20.0


@pytest.mark.parametrize(
    ("millionths", "um"), [(11.7, 0.585), (12.3, 0.615), (11.4, 0.57), (18.0, 0.9), (23.6, 1.18)]
)
def test_fifty_millimetres_grow_by_what_the_table_gives_a_kelvin(millionths, um):
    """TEMP-01, derived: dL = L a dT with the coefficients of CTE-TABLE-01."""
    assert growth(50.0, known(millionths * 1e-6), 21.0) * 1000 == pytest.approx(um, abs=1e-6)


def test_a_two_inch_shaft_ten_degrees_fahrenheit_warm_measures_1_3_tenths_large():
    """TEMP-02, derived: 6.5e-6 per °F (Callister, Table B.6)."""
    grown = growth(50.8, known(6.5e-6 * 9 / 5), 20.0 + 10.0 * 5 / 9)

    assert grown / 25.4 == pytest.approx(0.00013, abs=1e-12)


def test_part_and_gauge_at_one_temperature_need_almost_no_correction():
    """TEMP-05, derived: both at 22 °C, steel 12.3e-6 against a gauge of 11.5e-6."""
    found = size_at_20(
        50.003,
        part=known(1.23e-5),
        t_part=Temperature(22.0, 0.0),
        gauge=known(1.15e-5),
        t_gauge=Temperature(22.0, 0.0),
    )

    assert found.size == pytest.approx(50.002919997, abs=2e-9)
    assert found.correction * 1000 == pytest.approx(-0.08, abs=0.001)


@pytest.mark.parametrize(
    ("bore", "t_bore", "shaft", "t_shaft", "um"),
    [
        (1.14e-5, 20.0, 1.23e-5, 25.0, 1.925),
        (1.14e-5, 30.0, 1.23e-5, 30.0, 4.5506),
        (1.8e-5, 30.0, 1.23e-5, 30.0, 7.8509),
        (1.8e-5, 10.0, 1.23e-5, 10.0, 2.1491),
    ],
)
def test_clearance_changes_with_both_temperatures(bore, t_bore, shaft, t_shaft, um):
    """TEMP-06, derived: c = Db (1 + ab dTb) - Ds (1 + as dTs); 5 µm on 50 mm at 20 °C."""
    found = clearance_at(
        bore_20=50.005, bore=known(bore), t_bore=t_bore, shaft_20=50.0, shaft=known(shaft), t_shaft=t_shaft
    )

    assert found * 1000 == pytest.approx(um, abs=0.0005)


def test_eight_kelvin_on_the_shaft_alone_take_all_of_five_micrometres():
    """TEMP-06, derived: 0.005 / (50 x 12.3e-6) = 8.13 K."""
    assert temperature_that_closes(0.005, 50.0, known(1.23e-5)) == pytest.approx(8.13, abs=0.005)


def test_the_chromium_layer_may_be_left_out():
    """Derived: 0.3 mm on diameter, 10 K, chromium 6.2e-6 on steel 12.3e-6 make 0.018 µm."""
    error = layer_error(0.3, expansion("steel 4140"), expansion("chromium"), 30.0)

    assert error * 1000 == pytest.approx(0.0183, abs=1e-4)


def test_second_order_terms_are_those_of_the_gum():
    """GUM (JCGM 100:2008) H.1.7, published: the uncertain expansion at about 20 °C leaves 1.7 nm.

    There: l = 50 mm, standard expansion (11.5 ± 2)e-6 rectangular, and a temperature
    difference of 0 ± 0.05 K rectangular.
    """
    block = Expansion(alpha=11.5e-6, u=2e-6 / sqrt(3))
    found = size_at_20(50.0, part=block, t_part=Temperature(20.0, 0.05 / sqrt(3)))

    assert found.parts["second order"] * 1e6 == pytest.approx(1.7, abs=0.05)
    assert found.parts["part temperature"] * 1e6 == pytest.approx(16.6, abs=0.05)
    assert found.parts["part expansion"] == 0.0


def test_second_order_terms_hold_when_the_difference_of_expansion_is_zero():
    """GUM H.1.7, published: (0 ± 1)e-6 rectangular at 20 ± 0.41 K leaves 11.7 nm (50 mm)."""
    same = Expansion(alpha=0.0, u=1e-6 / sqrt(3))
    found = size_at_20(50.0, part=same, t_part=Temperature(20.0, 0.41))

    assert found.u * 1e6 == pytest.approx(11.8, abs=0.15)


def test_the_gauges_expansion_counts_to_second_order_too():
    """GUM 5.1.2 note: at 20 °C a gauge's uncertain expansion and temperature leave D u(a) u(T)."""
    gauge = Expansion(alpha=0.0, u=1e-6)
    found = size_at_20(
        50.0, part=known(0.0), t_part=Temperature(20.0, 0.0), gauge=gauge, t_gauge=Temperature(20.0, 0.4)
    )

    assert found.u == pytest.approx(50.0 * 1e-6 * 0.4)


def test_one_thermometer_for_part_and_gauge_cancels_between_like_materials():
    steel = Expansion(alpha=11.5e-6, u=0.0)
    at = Temperature(24.0, 0.0)
    shared = size_at_20(50.0, part=steel, t_part=at, gauge=steel, t_gauge=at, u_common=0.5)
    alone = size_at_20(
        50.0, part=steel, t_part=Temperature(24.0, 0.5), gauge=steel, t_gauge=Temperature(24.0, 0.5)
    )

    assert shared.u == pytest.approx(0.0, abs=1e-12)
    assert alone.u == pytest.approx(sqrt(2) * 50.0 * 11.5e-6 * 0.5, rel=1e-3)


@given(sizes, alphas, warmth)
def test_a_size_comes_back_from_any_temperature(size, alpha, t):
    """A part of known size, read right at any temperature, has that size at 20 °C."""
    read = size_at(size, known(alpha), t)
    found = size_at_20(read, part=known(alpha), t_part=Temperature(t, 0.0))

    assert found.size == pytest.approx(size, abs=1e-10)


@given(sizes, alphas, warmth)
def test_part_and_gauge_of_one_material_at_one_temperature_need_nothing(size, alpha, t):
    at = Temperature(t, 0.1)
    found = size_at_20(size, part=known(alpha), t_part=at, gauge=known(alpha), t_gauge=at)

    assert found.size == pytest.approx(size, rel=1e-15)


@given(sizes, alphas, warmth)
def test_inch_and_millimetre_give_the_same_correction(size, alpha, t):
    at = Temperature(t, 0.3)
    mm = size_at_20(size, part=Expansion(alpha=alpha, u=1e-6), t_part=at, u_reading=0.001)
    inch = size_at_20(size / 25.4, part=Expansion(alpha=alpha, u=1e-6), t_part=at, u_reading=0.001 / 25.4)

    assert inch.size * 25.4 == pytest.approx(mm.size, rel=1e-12)
    assert inch.u * 25.4 == pytest.approx(mm.u, rel=1e-9)


@given(sizes, alphas, warmth, st.floats(0.0, 1e-6), st.floats(0.0, 2.0))
def test_the_parts_make_up_the_uncertainty(size, alpha, t, u_alpha, u_t):
    found = size_at_20(
        size, part=Expansion(alpha=alpha, u=u_alpha), t_part=Temperature(t, u_t), u_reading=0.0003
    )

    assert found.u == pytest.approx(hypot(*found.parts.values()))
    assert found.u >= found.parts["reading"]


@given(alphas, alphas, warmth, warmth, st.floats(-0.01, 0.01))
def test_clearance_agrees_with_the_sizes_at_temperature(bore, shaft, t_bore, t_shaft, gap):
    assume(abs(gap) < 0.01)
    found = clearance_at(
        bore_20=55.0 + gap,
        bore=known(bore),
        t_bore=t_bore,
        shaft_20=55.0,
        shaft=known(shaft),
        t_shaft=t_shaft,
    )

    assert found == pytest.approx(
        size_at(55.0 + gap, known(bore), t_bore) - size_at(55.0, known(shaft), t_shaft), abs=1e-10
    )


def test_a_clearance_carries_the_growth_of_both_parts():
    """Derived: first order by hand, u^2 = u20^2 + sum (D a uT)^2 + (D dT ua)^2 + (D ua uT)^2."""
    found = clearance(
        bore_20=55.005,
        bore=expansion("grey cast iron"),
        t_bore=Temperature(22.0, 0.2),
        shaft_20=55.0,
        shaft=expansion("steel 4140"),
        t_shaft=Temperature(23.0, 0.3),
        u_20=0.0005,
    )
    ua = 1e-6 / sqrt(3)
    by_hand = hypot(
        0.0005,
        *(55.005 * 11.4e-6 * 0.2, 55.005 * 2.0 * ua, 55.005 * ua * 0.2),
        *(55.0 * 12.3e-6 * 0.3, 55.0 * 3.0 * ua, 55.0 * ua * 0.3),
    )

    assert found.u == pytest.approx(by_hand, rel=1e-9)
    assert found.value == pytest.approx(0.005 + 55.005 * 11.4e-6 * 2 - 55.0 * 12.3e-6 * 3, abs=1e-12)


def test_a_gauge_without_its_temperature_is_refused():
    with pytest.raises(ValueError, match="go together: one of them is missing"):
        size_at_20(50.0, part=known(1e-5), t_part=Temperature(21.0, 0.1), gauge=known(1e-5))


@pytest.mark.parametrize(("t", "u"), [(nan, 0.1), (20.0, nan), (20.0, -0.1)])
def test_a_temperature_that_is_none_is_refused(t, u):
    with pytest.raises(ValueError, match="is not one"):
        Temperature(t, u)
