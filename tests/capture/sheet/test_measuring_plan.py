"""The walk along the plan."""

from __future__ import annotations

from capture.sheet.job import Workpiece
from capture.sheet.measuring_plan import PlannedPlace, measuring_plan

SHAFT = Workpiece(stations=(20.0, 80.0), angles=(0.0, 90.0))


def test_a_station_is_finished_before_the_next_and_the_end_leads_to_the_start():
    state = measuring_plan(SHAFT)
    visited = []
    for _ in range(5):
        visited.append(state.here)
        state = state.beyond(state.here)

    assert visited == [
        PlannedPlace(20, 0),
        PlannedPlace(20, 90),
        PlannedPlace(80, 0),
        PlannedPlace(80, 90),
        PlannedPlace(20, 0),
    ]


def test_after_a_pass_measuring_starts_where_a_person_last_pointed():
    state = measuring_plan(SHAFT).pointed(PlannedPlace(80, 0))
    state = state.beyond(PlannedPlace(80, 0))

    assert state.here == PlannedPlace(80, 90)
    assert state.restarted().here == PlannedPlace(80, 0)


def test_a_place_outside_the_plan_stays_in_hand():
    state = measuring_plan(SHAFT).pointed(PlannedPlace(55, 45))

    assert state.beyond(PlannedPlace(55, 45)).here == PlannedPlace(55, 45)


def test_back_goes_one_place_back():
    state = measuring_plan(SHAFT).beyond(PlannedPlace(20, 90))

    assert state.back().here == PlannedPlace(20, 90)


def test_without_a_plan_there_is_one_place_without_a_name():
    state = measuring_plan(None)

    assert state.here == PlannedPlace(None, None)
    assert state.beyond(state.here).here == PlannedPlace(None, None)
