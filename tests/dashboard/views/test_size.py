from __future__ import annotations

import copy
from math import ceil

import pytest

from capture.events import Down, Event, Instant, Master, Pass, Reading, Reject, Station, Up
from capture.state import session as session_of
from capture.state.cold_size import at_20
from dashboard.views.size import figures, head, way


def sized(session, sheet, value, *, t=23.0):
    """A session with one size, and a probe's word where *t* is not None."""
    one = session(sheet)
    one.say("mike", Up("x"), 0.5)
    if t is not None:
        one.say("probe", Reading(t, "degC", 1, "x"), 1.0)
    one.say("mike", Reading(value, "mm", 4, "x"), 2.0)
    return one.state


def test_the_size_now_is_brought_to_20_degrees(session, sheet):
    """3 K on 55 mm of steel at 12.3e-6/K is 2.03 µm."""
    state = sized(session, sheet, 55.0000)

    assert head(state).size == pytest.approx(55.0 - 55.0 * 12.3e-6 * 3.0, abs=2e-7)
    assert figures(state, "mm")["size"] == "54.9980"
    assert figures(state, "mm")["size-note@data-state"] is None


def test_without_a_probe_it_says_that_20_degrees_is_assumed(session, sheet):
    shown = figures(sized(session, sheet, 55.0, t=None), "mm")

    assert shown["size"] == "55.0000"
    assert shown["size-note"].startswith("No probe")
    assert shown["size-note@data-state"] == "assumed"


def test_a_probe_that_has_been_silent_too_long_no_longer_speaks(session, sheet):
    one = session(sheet)
    one.say("probe", Reading(23.0, "degC", 1, "x"), 1.0)
    one.say("mike", Reading(55.0, "mm", 4, "x"), 2.0 + 300.0)

    assert at_20(head(one.state).readings[-1], one.job).assumed


def test_a_gauge_on_the_master_gives_no_size_of_the_part(session, sheet):
    one = session(sheet)
    one.say("person", Master("mike", 55.0, 0.0003), 1.0)
    one.say("mike", Reading(55.001, "mm", 4, "x"), 2.0)

    assert head(one.state).size is None


def test_the_master_corrects_what_is_shown_next(session, sheet):
    one = session(sheet)
    one.say("person", Master("mike", 55.0, 0.0003), 1.0)
    one.say("mike", Reading(55.001, "mm", 4, "x"), 2.0)
    one.say("person", Station("shaft", 140.0, 0.0), 3.0)
    one.say("mike", Reading(55.010, "mm", 4, "x"), 4.0)

    assert head(one.state).size == pytest.approx(55.009)


def test_to_go_is_the_distance_to_the_aim_of_the_sheets_bore(session, sheet):
    """Bore 55.0021 less the clearance aimed at, 0.005, is 54.9971."""
    state = sized(session, sheet, 55.0071, t=20.0)

    assert head(state).to_go == pytest.approx(0.010, abs=1e-9)
    assert figures(state, "mm")["togo"] == "10.0"
    assert "54.9971" in figures(state, "mm")["togo-note"]


def test_an_aim_from_the_nominal_size_is_said_to_be_assumed(session, sheet):
    unmeasured = copy.deepcopy(sheet)
    del unmeasured["fit"]["bore"]
    shown = figures(sized(session, unmeasured, 55.0), "mm")

    assert "ASSUMED" in shown["togo-note"]
    assert shown["togo-note@data-state"] == "assumed"


def test_without_a_fit_nothing_is_to_go(session, sheet):
    free = {key: value for key, value in sheet.items() if key != "fit"}
    state = sized(session, free, 55.0)

    assert figures(state, "mm")["togo"] == "–"
    assert way(state, "mm") == {"way@data-state": "none"}


def test_a_part_under_the_aim_is_said_to_be_under(session, sheet):
    shown = figures(sized(session, sheet, 54.9951, t=20.0), "mm")

    assert (shown["togo"], shown["togo-unit"]) == ("2.0", "µm under")
    assert shown["togo-note"].endswith("Inside the band")


def test_a_gauge_that_went_down_keeps_its_last_size(session, sheet):
    one = session(sheet)
    one.say("mike", Reading(55.0, "mm", 4, "x"), 1.0)
    one.say("mike", Down("unplugged"), 2.0)

    assert head(one.state).readings[-1].value == 55.0


def test_the_prediction_has_its_interval_in_both_units(ground):
    found = ground.state.grind.row.outlook
    metric, inch = figures(ground.state, "mm"), figures(ground.state, "in")

    assert metric["cold"] == f"{found.predicted:.4f}"
    assert float(inch["cold"]) * 25.4 == pytest.approx(found.predicted, abs=0.00013)
    # rounded up: nothing outside what is shown is ever inside the 95 %
    assert metric["cold-note"] == f"± {ceil(19600 * found.u_predicted - 1e-6) / 10:.1f} µm (95 %)"


@pytest.mark.parametrize("value", [54.0, 54.9, 54.9941, 54.9971, 54.9992, 55.0, 55.06, 56.0])
def test_every_place_on_the_way_is_on_the_page_and_in_order(session, sheet, value):
    """Larger is further left: the band's top, the aim, the band's foot."""
    shown = way(sized(session, sheet, value, t=20.0), "mm")
    places = {key: float(text[:-1]) for key, text in shown.items() if "@--" in key}

    assert all(0.0 <= place <= 100.0 for place in places.values())
    assert places["way@--high"] < places["way@--aim"] < places["way@--low"]
    assert (places["way@--now"] < places["way@--aim"]) == (value > 54.9971)


def test_a_size_keeps_the_temperature_that_it_was_taken_at(session, sheet):
    """A part read warm is not made larger by cooling afterwards without being read again."""
    one = session(sheet)
    one.say("probe", Reading(26.7, "degC", 1, "x"), 1.0)
    one.say("mike", Reading(55.0110, "mm", 4, "x"), 2.0)
    before = figures(one.state, "mm")["size"]
    one.say("probe", Reading(20.1, "degC", 1, "x"), 60.0)

    assert figures(one.state, "mm")["size"] == before == "55.0065"


def test_a_rejected_size_gives_way_to_the_one_before(session, sheet):
    one = session(sheet)
    one.say("mike", Reading(55.01, "mm", 4, "x"), 1.0)
    one.say("mike", Reading(55.06, "mm", 4, "x"), 2.0)
    one.say("person", Reject(one.state.stations.taken.last.seq, "chip under the anvil"), 3.0)

    assert head(one.state).readings[-1].value == 55.01


def test_a_reading_that_is_not_taken_yet_moves_no_figure(session, sheet):
    """As it stands between the reading on disk and the program's word of it."""
    one = session(sheet)
    event = Event(0, Instant(1, 1), "mike", Reading(55.02, "mm", 4, "x"))

    assert head(session_of.step(one.state, event)).size is None


def test_a_pass_made_since_is_said_at_every_figure(ground):
    ground.say("person", Pass(0.01), 900.0)
    shown = figures(ground.state, "mm")

    for name in ("size", "togo", "cold", "come"):
        assert shown[f"{name}-note"].startswith("Before pass 14")
        assert shown[f"{name}-note@data-state"] == "assumed"


def test_of_several_places_what_is_to_go_is_their_mean(session, sheet):
    several = copy.deepcopy(sheet)
    several["shaft"]["stations"] = [20, 140, 260]
    one = session(several)
    for n, (infeed, step) in enumerate([(0.004, 0.0), (0.004, 0.004), (0.004, 0.008)]):
        one.say("person", Pass(infeed), 100.0 * n)
        for k, off in enumerate((0.000, 0.002, 0.004)):
            one.say("mike", Reading(55.02 + off - step, "mm", 4, "x"), 100.0 * n + 10 * k + 5)
    state = one.state

    assert head(state).to_go == pytest.approx(55.014 - 54.9971, abs=1e-4)
    assert figures(state, "mm")["size-note"].startswith("Mean of 3 places")
