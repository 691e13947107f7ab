"""The walk along the plan."""

from __future__ import annotations

from capture.sheet.job import Workpiece
from capture.sheet.measuring_plan import Place, walk

SHAFT = Workpiece(stations=(20.0, 80.0), angles=(0.0, 90.0))


def test_a_station_is_finished_before_the_next_and_the_end_leads_to_the_start():
    state = walk(SHAFT)
    visited = []
    for _ in range(5):
        visited.append(state.here)
        state = state.beyond(state.here)

    assert visited == [Place(20, 0), Place(20, 90), Place(80, 0), Place(80, 90), Place(20, 0)]


def test_after_a_pass_measuring_starts_where_a_person_last_pointed():
    state = walk(SHAFT).pointed(Place(80, 0))
    state = state.beyond(Place(80, 0))

    assert state.here == Place(80, 90)
    assert state.restarted().here == Place(80, 0)


def test_a_place_outside_the_plan_stays_in_hand():
    state = walk(SHAFT).pointed(Place(55, 45))

    assert state.beyond(Place(55, 45)).here == Place(55, 45)


def test_back_goes_one_place_back():
    state = walk(SHAFT).beyond(Place(20, 90))

    assert state.back().here == Place(20, 90)


def test_without_a_plan_there_is_one_place_without_a_name():
    state = walk(None)

    assert state.here == Place(None, None)
    assert state.beyond(state.here).here == Place(None, None)
