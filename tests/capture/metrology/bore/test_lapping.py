"""Lapping: what came off, what is left, and when to stop."""

from __future__ import annotations

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.bore.lapping import BoreSize, LapWork, guidance, largest_bore
from capture.metrology.plating.deposit import order
from capture.text.catalogue import sentences

BEFORE = {(20.0, 0.0): BoreSize(55.004, 0.0002), (80.0, 0.0): BoreSize(55.001, 0.0002)}
AFTER = {(20.0, 0.0): BoreSize(55.005, 0.0002), (80.0, 0.0): BoreSize(55.003, 0.0002)}


def told(found, units="mm"):
    return " ".join(sentences(found.said, units))


def test_what_came_off_where_and_what_is_still_tight():
    found = guidance(AFTER, BEFORE)

    assert [stock.removed for stock in found.stocks] == [pytest.approx(0.001), pytest.approx(0.002)]
    assert [stock.tight for stock in found.stocks] == [pytest.approx(0.0), pytest.approx(0.002)]
    assert found.goal == 55.005
    assert "80 mm" in told(found)
    assert "say the strokes or minutes" in told(found)


def test_strokes_left_and_their_uncertainty_are_those_of_a_reference_library():
    """GUM Tree Calculator; the size that both quotients share is taken once there, so ours is the larger."""
    found = guidance(AFTER, BEFORE, LapWork(strokes=60))

    before, after = GTC.ureal(55.001, 0.0002), GTC.ureal(55.003, 0.0002)
    independent = GTC.ureal(0.002, 0.0002) / GTC.ureal(0.002, (2 * 0.0002**2) ** 0.5) * 60
    shared = (55.005 - after) / (after - before) * 60
    assert found.strokes_left == pytest.approx(GTC.value(shared))
    assert found.u_strokes_left == pytest.approx(GTC.uncertainty(independent), rel=1e-6)
    assert found.per_stroke == pytest.approx(0.0015 / 60)


def test_minutes_do_where_nobody_counted_strokes():
    found = guidance(AFTER, BEFORE, LapWork(minutes=3))

    assert found.strokes_left is None
    assert found.minutes_left == pytest.approx(3.0)
    assert "minutes" in told(found)


def test_a_lap_that_surely_took_nothing_off_tells_no_rate():
    found = guidance(BEFORE, BEFORE, LapWork(strokes=60))

    assert found.strokes_left is None


def test_a_straight_bore_stops_the_lapping():
    found = guidance({(20.0, 0.0): BoreSize(55.0050, 0.0002), (80.0, 0.0): BoreSize(55.0046, 0.0002)})

    assert found.stop
    assert "straight" in told(found)


def test_a_bore_is_not_called_straight_while_places_of_the_plan_are_open():
    even = {(20.0, 0.0): BoreSize(55.0050, 0.0002), (80.0, 0.0): BoreSize(55.0046, 0.0002)}

    assert told(guidance(even, open_places=1)).startswith("No difference so far: measure one more place")
    assert told(guidance(even, open_places=4)).startswith("No difference so far: measure 4 more places")
    assert not guidance(even, goal=55.005, open_places=1).stop


def test_one_place_alone_shows_no_shape():
    one = {(20.0, 0.0): BoreSize(55.0050, 0.0002)}

    assert not guidance(one).stop
    assert "one more place" in told(guidance(one))
    assert guidance(one, goal=55.005).stop, "a goal that is reached is reached"


def test_a_bore_that_may_not_grow_is_left_off_however_much_is_open():
    assert guidance(AFTER, stop_at=55.0053, open_places=9).stop


def test_a_bore_as_large_as_the_plating_can_fill_stops_it_before_it_is_surely_so():
    under = guidance(AFTER, stop_at=55.0056)
    near = guidance(AFTER, stop_at=55.0053)

    assert not under.stop
    assert near.stop
    assert told(near).startswith("Stop")


def test_the_largest_bore_is_the_plated_shafts_finished_size_and_its_clearance():
    """Held to the plating order: what is stripped to gives the finished diameter back."""
    plan = order(55.0, thickness=0.2, stock=0.06)

    assert largest_bore(plan.strip, 0.2, 0.005) == pytest.approx(55.005)
    assert largest_bore(plan.strip, 0.2, 0.005, runout=0.01) == pytest.approx(54.995)
    assert largest_bore(plan.strip, 0.2, 0.005, u_shaft=0.001) == pytest.approx(55.003)


@given(shift=st.floats(-1, 1))
def test_what_moves_all_diameters_by_a_constant_moves_no_stock(shift):
    def moved(sizes):
        return {spot: BoreSize(size.value + shift, size.u) for spot, size in sizes.items()}

    one, two = guidance(AFTER, BEFORE, LapWork(60)), guidance(moved(AFTER), moved(BEFORE), LapWork(60))

    assert two.strokes_left == pytest.approx(one.strokes_left, rel=1e-6)
    assert two.goal - shift == pytest.approx(one.goal)


def test_cleaning_and_the_expanding_lap_are_cautioned_of():
    keys = {caution.key for caution in guidance(AFTER).cautions}

    assert {"clean before measuring", "expanding lap"} <= keys


def test_nothing_measured_is_refused():
    with pytest.raises(ValueError, match="no place"):
        guidance({})
