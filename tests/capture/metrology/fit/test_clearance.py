"""Clearance against worked fits and a brute search over positions."""

from __future__ import annotations

from math import hypot, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.fit.clearance import (
    Shared,
    StationSize,
    TravelEngagement,
    at_position,
    at_stations,
    over_travel,
    sizes_of,
)
from capture.metrology.form.profile import Diameter, profile
from capture.metrology.message import NotPossible
from capture.text.catalogue import sentence


def sizes(z, values, u=0.0):
    return [StationSize(each, value, u) for each, value in zip(z, values, strict=True)]


BORE = sizes([0, 20, 40, 60, 80], [50.0061, 50.0052, 50.005, 50.0055, 50.0064])
SHAFT = sizes([0, 40, 80, 120, 160, 200], [49.9999, 50.0003, 50.0006, 50.0007, 50.0004, 49.9998])
"""FIT-02: a sleeve of 80 mm that slides on a shaft of 200 mm; derived."""


def test_clearance_station_by_station():
    """FIT-01: arithmetic."""
    shaft = sizes([0, 20, 40, 60, 80], [49.9999, 50.0001, 50.0002, 50.0, 49.9996])

    found = at_stations(BORE, shaft)

    assert [each.value * 1e3 for each in found] == pytest.approx([6.2, 5.1, 4.8, 5.5, 6.8], abs=1e-6)
    smallest = min(found, key=lambda each: each.value)
    assert smallest.value * 1e3 == pytest.approx(4.8, abs=1e-6)
    assert found.index(smallest) == 2


def test_clearance_at_every_position():
    """FIT-02: linear interpolation."""
    found = [at_position(BORE, SHAFT, offset) for offset in (0, 30, 60, 90, 120)]

    due = [4.7, 4.475, 4.35, 4.375, 4.6]
    assert [each.smallest.value * 1e3 for each in found] == pytest.approx(due, abs=0.001)
    assert [each.smallest.z_bore for each in found] == [40] * 5


def test_the_whole_travel_reaches_its_bound_where_smallest_meets_largest():
    """FIT-02: smallest bore less largest shaft, reached at offset 80."""
    found = over_travel(BORE, SHAFT, TravelEngagement(80, 0, 120))

    assert found.bound * 1e3 == pytest.approx(4.3, abs=1e-6)
    assert found.smallest.value * 1e3 == pytest.approx(4.3, abs=1e-6)
    assert (found.smallest.z_bore, found.smallest.z_shaft, found.smallest.offset) == (40, 120, 80)
    assert found.largest.value * 1e3 == pytest.approx(6.6, abs=1e-6)
    assert (found.not_measured, found.interferes, found.said) == (0, False, ())


profiles = st.lists(st.floats(-0.01, 0.01), min_size=4, max_size=4)


@given(profiles, profiles, st.floats(0, 60), st.floats(0, 60))
def test_no_position_beats_the_extremes_that_were_found(bore, shaft, start, end):
    """Against a fine search over place and position."""
    hole = sizes([0, 25, 55, 80], [50 + each for each in bore])
    pin = sizes([0, 30, 90, 140], [50 + each for each in shaft])
    travel = over_travel(hole, pin, TravelEngagement(80, start, end))

    low, high = sorted((start, end))
    offsets, z = np.linspace(low, high, 41)[:, None], np.linspace(0, 80, 81)[None, :]
    gap = np.interp(z, [0, 25, 55, 80], [50 + each for each in bore]) - np.interp(
        z + offsets, [0, 30, 90, 140], [50 + each for each in shaft]
    )

    assert travel.smallest.value <= gap.min() + 1e-9
    assert travel.largest.value >= gap.max() - 1e-9
    assert travel.smallest.value >= travel.bound - 1e-9
    here = travel.smallest
    assert low - 1e-9 <= here.offset <= high + 1e-9
    assert here.z_shaft == pytest.approx(here.z_bore + here.offset)


def test_what_lies_beyond_the_outermost_stations_is_not_guessed():
    bore = sizes([10, 40, 70, 100, 130, 160], [55.0] * 6)
    shaft = sizes([20, 80, 140, 200, 260], [54.995] * 5)

    found = over_travel(bore, shaft, TravelEngagement(160, 20, 120))

    assert found.not_measured == pytest.approx(10 + 20)
    assert "nothing is known there" in found.said[0]
    assert max(place.z_shaft for each in found.positions for place in each.places) <= 260
    assert min(place.z_bore for each in found.positions for place in each.places) >= 10


def test_a_bore_smaller_than_the_shaft_is_said_plainly():
    found = over_travel(
        sizes([0, 80], [50.0, 50.0]), sizes([0, 200], [49.999, 50.002]), TravelEngagement(80, 0, 120)
    )

    assert found.interferes
    assert found.smallest.value == pytest.approx(-0.002)
    assert "the bore is smaller than the shaft" in found.said[0]
    assert "must not be forced" in found.said[0]


def test_uncertainties_between_stations_are_those_of_the_straight_line():
    """Halfway, two independent stations of u give u / sqrt(2)."""
    found = at_position(sizes([0, 80], [50.005] * 2, 0.001), sizes([40], [50.0], 0.0005), 0)

    assert found.smallest.u == pytest.approx(hypot(0.001 / sqrt(2), 0.0005))


def test_a_common_master_cancels_and_a_lone_one_does_not():
    bore, shaft = sizes([0, 80], [50.005] * 2, 0.0006), sizes([0, 200], [50.0] * 2, 0.0006)

    def u(on_bore, on_shaft):
        master = Shared("master", 0.0005, on_bore, on_shaft)
        return over_travel(bore, shaft, TravelEngagement(80, 0, 120), shared=[master]).smallest.u

    assert u(1, 1) == pytest.approx(0.0006 * sqrt(2))
    assert u(1, 0) == pytest.approx(sqrt(2 * 0.0006**2 + 0.0005**2))


def test_a_common_thermometer_leaves_the_difference_of_expansions():
    """50 mm of cast iron and of 4140, +-0.5 K: 50 x 0.9e-6 x 0.5 / sqrt(3); by hand."""
    shared = Shared("thermometer", 0.5, 50 * 11.4e-6, 50 * 12.3e-6, "rectangular")

    assert shared.u == pytest.approx(50 * 0.9e-6 * 0.5 / sqrt(3))


@pytest.mark.parametrize(("part", "away"), [("bore", -0.002), ("shaft", 0.002)])
def test_an_oval_part_is_tight_at_its_one_axis(part, away):
    """FORM-3ANGLE's diameters: mean 50 mm, ovality 4 um."""
    d = [50.00128558, 50.00068404, 49.99803038]
    found = profile(part, [Diameter(10, a, each, 1e-4) for a, each in zip((0, 60, 120), d, strict=True)])

    mean, tight = sizes_of(found)[0], sizes_of(found, tight=True)[0]

    assert mean.value == pytest.approx(50, abs=1e-7)
    assert tight.value == pytest.approx(50 + away, abs=2e-6)
    assert mean.u == pytest.approx(1e-4 / sqrt(3))
    assert tight.u == pytest.approx(1e-4)


def test_a_part_without_clear_ovality_is_taken_at_its_mean():
    found = profile("bore", [Diameter(10, None, 50.0, 1e-4), Diameter(60, None, 50.002, 1e-4)])

    assert sizes_of(found, tight=True) == sizes_of(found)
    assert [each.value for each in sizes_of(found)] == [50.0, 50.002]


@given(st.floats(-1, 1))
def test_what_moves_the_bore_moves_every_clearance(shift):
    moved = [StationSize(each.z, each.value + shift, each.u) for each in BORE]

    here, there = (over_travel(bore, SHAFT, TravelEngagement(80, 0, 120)) for bore in (BORE, moved))

    assert there.smallest.value == pytest.approx(here.smallest.value + shift, abs=1e-10)
    assert there.largest.value == pytest.approx(here.largest.value + shift, abs=1e-10)
    assert there.interferes == (here.smallest.value + shift < 0)


def test_a_travel_written_backwards_is_the_same_travel():
    forth, back = (over_travel(BORE, SHAFT, TravelEngagement(80, *ends)) for ends in ((0, 120), (120, 0)))

    assert forth == back


def test_both_parts_turned_end_for_end_give_the_same_fit():
    bore = [StationSize(80 - each.z, each.value, each.u) for each in BORE]
    shaft = [StationSize(200 - each.z, each.value, each.u) for each in SHAFT]

    here, there = (over_travel(b, s, TravelEngagement(80, 0, 120)) for b, s in ((BORE, SHAFT), (bore, shaft)))

    assert there.smallest.value == pytest.approx(here.smallest.value)
    assert there.smallest.z_bore == 80 - here.smallest.z_bore


def test_inches_give_the_same_fit():
    def inch(part):
        return [StationSize(each.z / 25.4, each.value / 25.4, each.u / 25.4) for each in part]

    here = over_travel(BORE, SHAFT, TravelEngagement(80, 0, 120))
    there = over_travel(inch(BORE), inch(SHAFT), TravelEngagement(80 / 25.4, 0, 120 / 25.4))

    assert there.smallest.value * 25.4 == pytest.approx(here.smallest.value, abs=1e-9)
    assert there.smallest.z_bore * 25.4 == pytest.approx(here.smallest.z_bore)


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: at_stations([], SHAFT), "one station of the bore or more, got none"),
        (lambda: over_travel(BORE, SHAFT, TravelEngagement(80, 500, 600)), "at no position of the travel"),
        (lambda: over_travel(BORE, SHAFT, TravelEngagement(0, 0, 120)), "must be more than zero, got 0"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(call, why):
    with pytest.raises(ValueError, match=why):
        call()


@pytest.mark.parametrize(
    ("call", "why"),
    [
        (lambda: at_stations(BORE, [*SHAFT, SHAFT[0]]), "the shaft has two sizes at z = 0 mm"),
        (lambda: at_position(BORE, SHAFT, 500), "at offset 500 mm no measured place of the shaft"),
    ],
)
def test_what_cannot_be_at_a_place_is_refused_with_the_place(call, why):
    with pytest.raises(NotPossible) as refused:
        call()

    assert why in sentence(refused.value.said, "mm")
