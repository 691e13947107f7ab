"""Relief and bake against ASTM B850-98 (2009) as a plater's public table reprints it; relief from memory."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.plating.relief import heat_treatment, strength_of


@pytest.mark.parametrize(
    ("strength", "hours"),
    [(1050, 8), (1150, 10), (1250, 12), (1350, 14), (1450, 16), (1550, 18), (1650, 20), (1750, 22)],
)
def test_the_bake_grows_with_strength_as_the_table_has_it(strength, hours):
    """Published: 1001 to 1100 MPa 8 h, and so on to 1701 to 1800 MPa 22 h, at 190 to 220 degrees Celsius."""
    bake = heat_treatment(strength, None).bake

    assert (bake.hours, bake.coolest, bake.hottest) == (hours, 190.0, 220.0)


@pytest.mark.parametrize(
    ("hrc", "low", "high"), [(32, 1001, 1100), (35, 1101, 1200), (41, 1301, 1400), (50, 1701, 1800)]
)
def test_hardness_stands_beside_strength_as_in_the_table(hrc, low, high):
    assert low <= strength_of(hrc) <= high


def test_it_begins_near_1000_mpa_and_a_soft_steel_needs_none():
    assert heat_treatment(999, None).bake is None
    assert heat_treatment(None, 30).bake is None
    assert heat_treatment(None, 31.5).bake.hours == 8
    assert heat_treatment(1000, None).relief is not None


def test_where_neither_is_known_nothing_is_said():
    assert heat_treatment(None, None) is None


def test_the_hours_of_the_relief_say_that_they_are_from_memory():
    assert heat_treatment(1500, None).relief.basis == "from memory"
    assert heat_treatment(1900, None).bake.basis == "from memory"
    assert heat_treatment(1500, None).bake.basis == "published"


@given(st.floats(200, 2500), st.floats(0, 400))
def test_a_stronger_steel_is_never_treated_for_less(strength, more):
    def hours(mpa):
        found = heat_treatment(mpa, None)
        return (
            0 if found.relief is None else found.relief.hours,
            0 if found.bake is None else found.bake.hours,
        )

    weak, strong = hours(strength), hours(strength + more)
    assert strong[0] >= weak[0]
    assert strong[1] >= weak[1]


@given(st.floats(20, 65), st.floats(600, 2200))
def test_of_hardness_and_strength_the_one_that_asks_for_more_holds(hardness, strength):
    both = heat_treatment(strength, hardness)

    assert both.strength == max(strength, strength_of(hardness))
