"""Lap, grain and strokes for what is left (common practice, no source; the lap's diameter is geometry)."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from capture.metrology.bore.lap_choice import choose_lap, form_of

U = 0.0003


@pytest.mark.parametrize(
    ("row", "form"),
    [
        ([55.000, 55.0001, 55.0, 55.0001], "straight"),
        ([55.000, 55.003, 55.006, 55.009], "taper"),
        ([55.009, 55.006, 55.003, 55.000], "taper"),
        ([55.000, 55.006, 55.006, 55.000], "barrel"),
        ([55.008, 55.000, 55.000, 55.000, 55.007], "bell mouth"),
        ([55.006, 55.006, 55.000, 55.006, 55.006], "tight place"),
        ([55.000, 55.006], "not known"),
    ],
)
def test_the_form_along_the_bore_is_named(row, form):
    assert form_of(dict(enumerate(row)), U) == form


def test_the_lap_fills_the_smallest_place_with_its_grains_between():
    """D = D - 2 g: 55.000 less two grains of 15 µm is 54.970; at the goal of 55.010, 54.980."""
    found = choose_lap({10: 55.0, 40: 55.004, 70: 55.01}, 55.01, U)

    assert found.grain == (0.009, 0.015)
    assert (found.start, found.end) == (pytest.approx(54.970), pytest.approx(54.980))
    assert found.basis == "common practice, no source"


def test_where_nothing_is_left_no_lap_is_chosen():
    assert choose_lap({10: 55.0, 40: 55.0}, 55.0, U) is None
    assert choose_lap({}, 55.0, U) is None


@given(st.floats(0.0001, 0.1), st.floats(0.0001, 0.1))
def test_less_left_never_takes_a_coarser_grain(one, other):
    assume(one != other)
    small, large = sorted((one, other))

    fine, coarse = (choose_lap({0: 55.0, 1: 55.0}, 55.0 + left, U) for left in (small, large))

    assert fine.grain[1] <= coarse.grain[1]


@given(st.lists(st.floats(54.99, 55.01), min_size=3, max_size=8))
def test_a_bore_turned_end_for_end_has_the_same_form(row):
    assert form_of(dict(enumerate(row)), U) == form_of(dict(enumerate(row[::-1])), U)
