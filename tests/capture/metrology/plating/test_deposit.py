"""Plating orders against worked figures, and their limits against their sources."""

from __future__ import annotations

from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.message import NotPossible
from capture.metrology.plating.deposit import (
    ChromeLimits,
    ShopSetting,
    deposition_rate,
    order,
    stock_per_side,
    thickness_between,
    thickness_from,
)
from capture.text.catalogue import sentence

LIMITS = ChromeLimits()


def keys(found):
    return {each.key for each in found.cautions}


@pytest.mark.parametrize(("stock", "plated", "deposit"), [(0.05, 50.1, 0.2), (0.075, 50.15, 0.225)])
def test_an_order_is_strip_plate_and_deposit(stock, plated, deposit):
    """PLATE-01, derived: strip D - 2 t, plate D + 2 s, deposit t + s; 50 mm, t = 0.15 mm."""
    found = order(50.0, thickness=0.15, stock=stock)

    assert found.strip == pytest.approx(49.7, abs=1e-9)
    assert found.plated == pytest.approx(plated, abs=1e-9)
    assert found.deposit == pytest.approx(deposit, abs=1e-9)


def test_half_the_runout_comes_off_the_thinnest_side():
    """Derived: least thickness t - TIR / 2."""
    assert order(50.0, thickness=0.15, stock=0.05, runout=0.01).least == pytest.approx(0.145)


@pytest.mark.parametrize(
    ("setting", "inch"),
    [("thinnest", 0.0005), ("thickest", 0.025), ("stock_least", 0.001), ("stock_most", 0.003)],
)
def test_the_stable_range_is_that_of_its_source(setting, inch):
    """PLATE-03, published: STERC hard-chrome archive, September 2007 and October 2008, inch per side."""
    found = getattr(LIMITS, setting)

    assert found.value / 25.4 == pytest.approx(inch, abs=1e-9)
    assert "STERC" in found.source


@pytest.mark.parametrize(
    ("density", "efficiency", "um"), [(3100, 0.13, 18.35), (3100, 0.16, 22.59), (4650, 0.22, 46.59)]
)
def test_chromium_grows_by_faradays_law(density, efficiency, um):
    """PLATE-05, derived: J eta M / (6 F rho), 51.996 g/mol, 7.1 g/cm3."""
    assert deposition_rate(density, efficiency) * 1000 == pytest.approx(um, abs=0.02)


def test_hard_steel_limits_are_those_of_their_sources():
    """PLATE-06, published: AMS 2460 scope; an engine-overhaul standard practice 70-00-01."""
    assert LIMITS.repair_hardness.value == 48.0
    assert LIMITS.relief_hardness.value == 31.0
    assert (LIMITS.bake_within.value, LIMITS.bake_hours.value) == (4.0, 8.0)
    assert (LIMITS.bake_coolest.value, LIMITS.bake_hottest.value) == (190.0, 220.0)
    assert LIMITS.base_finish.value / 0.0254 == pytest.approx(32.0, rel=0.02)


def test_grinding_chrome_goes_lightly():
    """GRIND-02, common practice, no source: passes not above 0.01 mm."""
    assert LIMITS.deepest_pass.value == 0.01
    assert LIMITS.deepest_pass.basis == "common practice, no source"


@pytest.mark.parametrize(
    ("thickness", "stock", "runout", "said"),
    [
        (0.012, 0.05, 0.0, "too thin"),
        (0.0128, 0.05, 0.001, "too thin"),
        (0.6, 0.05, 0.0, "too thick"),
        (0.15, 0.02, 0.0, "little stock"),
        (0.15, 0.09, 0.0, "much stock"),
        (0.05, 0.05, 0.11, "ground through"),
    ],
)
def test_what_lies_outside_the_limits_is_said(thickness, stock, runout, said):
    assert said in keys(order(50.0, thickness=thickness, stock=stock, runout=runout))


@pytest.mark.parametrize(("thickness", "stock"), [(0.0127, 0.05), (0.5588, 0.0762), (0.15, 0.0254)])
def test_what_lies_on_the_limits_is_let_pass(thickness, stock):
    out = {"too thin", "too thick", "little stock", "much stock", "ground through"}

    assert not out & keys(order(50.0, thickness=thickness, stock=stock))


@pytest.mark.parametrize(
    ("hardness", "said", "unsaid"),
    [
        (None, {"hardness not known"}, {"bake", "very hard base"}),
        (30.9, set(), {"hardness not known", "bake", "very hard base"}),
        (31.5, {"bake", "stress relief"}, {"very hard base"}),
        (48.0, {"bake", "very hard base"}, {"hardness not known"}),
    ],
)
def test_a_hard_base_is_baked_and_a_very_hard_one_asks_leave(hardness, said, unsaid):
    found = keys(order(50.0, thickness=0.15, stock=0.05, hardness=hardness))

    assert said <= found
    assert not unsaid & found


def test_edges_and_the_poison_of_the_bath_are_always_mentioned():
    assert {"edges", "hexavalent chromium"} <= keys(order(50.0, thickness=0.15, stock=0.05, hardness=30.0))


def test_a_shop_may_set_its_own_limits():
    thicker = ShopSetting(0.05, "mm per side", "our plater", "common practice, no source")
    found = order(50.0, thickness=0.04, stock=0.05, limits=ChromeLimits(thinnest=thicker))

    assert "too thin" in keys(found)


def test_less_than_the_sheet_wants_is_said():
    found = order(50.0, thickness=0.102, stock=0.05, runout=0.01, least_wanted=0.1)

    assert "under the least wanted" in keys(found)


@given(st.floats(5.0, 500.0), st.floats(0.01, 0.6), st.floats(0.01, 0.1))
def test_what_was_ordered_is_what_the_plater_lays_on(finished, thickness, stock):
    """Law: plated minus stripped is twice the deposit; ground to size, the thickness is left."""
    found = order(finished, thickness=thickness, stock=stock)

    assert thickness_from(found.plated, found.strip) == pytest.approx(found.deposit, abs=1e-9)
    assert thickness_from(finished, found.strip) == pytest.approx(thickness, abs=1e-9)


@given(st.floats(0.02, 0.2), st.floats(0.0, 0.2), st.floats(0.0, 0.05))
def test_a_thickness_between_keeps_least_and_most_with_the_runout(least, more, runout):
    most = least + runout + more
    found = thickness_between(least, most, runout)

    assert found - runout / 2 >= least - 1e-6
    assert found + runout / 2 <= most + 1e-6


def test_a_runout_that_eats_the_whole_range_is_refused():
    with pytest.raises(NotPossible) as refused:
        thickness_between(0.10, 0.11, 0.02)

    assert "cannot be held with a runout of 0.02 mm" in sentence(refused.value.said, "mm")


def test_stock_is_kept_for_taper_spring_and_heat():
    """Common practice, no source: twice the taper, the spring and a margin, half of it each side."""
    assert stock_per_side(taper=-0.02, spring=0.01, margin=0.025) == pytest.approx(0.0375)


@pytest.mark.parametrize(
    ("finished", "thickness", "stock", "runout", "why"),
    [
        (0.0, 0.1, 0.05, 0.0, "finished diameter is 0 mm"),
        (50.0, nan, 0.05, 0.0, "thickness is nan"),
        (50.0, 0.1, -0.05, 0.0, "stock is -0.05 mm"),
        (50.0, 0.1, 0.05, -0.01, "runout is -0.01 mm"),
        (0.2, 0.1, 0.05, 0.0, "leaves nothing"),
    ],
)
def test_an_order_that_cannot_be_is_refused(finished, thickness, stock, runout, why):
    with pytest.raises(NotPossible) as refused:
        order(finished, thickness=thickness, stock=stock, runout=runout)

    assert why in sentence(refused.value.said, "mm")
