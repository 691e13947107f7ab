from __future__ import annotations

import copy

import pytest

from capture.events import Beat, Down, Flag, Garbled, Note, Reading, Reject
from dashboard.sources.scene import Scene
from dashboard.views.gauges import gauges, heat, lately
from dashboard.views.setup.instruments import instruments


def row(state, name, extra=0.0):
    scene = Scene("live", "a.jsonl", state, age=extra)
    return next(row for row in gauges(scene, state, "mm")["gauges[]"] if row[0][0] == name)


def test_a_gauge_tells_link_value_age_and_battery(ground):
    mike = row(ground.state, "mike")

    assert mike[1] == ["● connected", "up"]
    assert mike[2][0].endswith(" mm")
    assert mike[5][0] == "71 %"


def test_the_age_goes_on_while_nothing_comes(ground):
    before, after = (row(ground.state, "mike", extra)[3][0] for extra in (0.0, 60.0))

    assert int(after.split()[0]) == int(before.split()[0]) + 60


def test_a_lost_link_is_told_in_words_and_shape(ground):
    ground.say("mike", Down("unplugged"), 900.0)

    assert row(ground.state, "mike")[1] == ["✕ not connected", "down"]


def test_a_gauge_never_heard_is_no_gauge_that_is_down(session):
    assert row(session().state, "mike")[1] == ["○ nothing yet", "never"]


def test_garbled_pieces_are_counted_and_marked_until_a_reading_comes(ground, reading):
    ground.say("mike", Garbled("no number", "??"), 900.0)
    assert row(ground.state, "mike")[4] == ["1", "bad"]

    ground.say("mike", reading(55.0), 901.0)
    assert row(ground.state, "mike")[4] == ["1", None]


def test_a_silent_gauge_is_told_apart_from_one_that_is_up(session, sheet, reading):
    quiet = copy.deepcopy(sheet)
    quiet["gauge"][0]["silence"] = 10.0
    one = session(quiet)
    one.say("mike", reading(55.0), 1.0)

    one.say("daemon", Beat(), 6.0)
    assert row(one.state, "mike")[1][1] == "up"

    one.say("daemon", Beat(), 16.0)
    assert row(one.state, "mike")[1][1] == "silent"


@pytest.mark.parametrize(
    ("age", "closed", "how"), [(1.0, "", "up"), (60.0, "", "unknown"), (1.0, "no capture", "ended")]
)
def test_no_gauge_is_connected_that_no_capture_reads(ground, age, closed, how):
    """A capture beats once a second; one that is silent, or was stopped, knows nothing of its gauges now."""
    scene = Scene("live", "a.jsonl", ground.state, age=age, closed=closed)
    cards = {card[0][0]: card for card in instruments(scene, "mm")["gauges-cards[]"]}

    assert {row[1][1] for row in gauges(scene, ground.state, "mm")["gauges[]"]} == {how}
    assert cards["mike"][2][1] == how
    assert ("nothing to do" in cards["mike"][11][0]) == (how == "up")
    assert ("was open for" in cards["mike"][9][0]) == (how != "up")


def test_temperatures_stand_with_their_place(session):
    one = session()
    one.say("probe", Reading(23.14, "degC", 2, "x"), 1.0)

    assert heat(one.state)["heat[]"] == [[["shaft"], ["23.1 °C"], [""]]]


def test_an_old_temperature_is_said_to_be_old(session, reading):
    one = session()
    one.say("probe", Reading(23.1, "degC", 1, "x"), 1.0)
    one.say("mike", reading(55.0), 400.0)

    assert heat(one.state)["heat[]"][0][2] == ["old"]


def test_flags_and_notes_are_told_newest_first(ground):
    ground.say("person", Note("wheel dressed"), 900.0)
    rows = lately(ground.state)["lately[]"]

    assert rows[0][1] == ["Note: wheel dressed", "note"]
    assert [row[1][1] for row in rows[1:]] == [event.fact.what for event in reversed(ground.state.flags)]


def test_a_hint_is_told_in_its_own_words(session):
    one = session()
    one.say("desk", Flag("silent", 0, (0,), gauge="mike", text="mike has said nothing for 10 s"), 1.0)

    assert lately(one.state)["lately[]"][0][1][0] == "mike has said nothing for 10 s"


def test_a_note_set_aside_is_no_longer_told(session):
    one = session()
    one.say("person", Note("wrong part"), 1.0)
    one.say("person", Reject(one.state.notes[0].seq, "slip"), 2.0)

    assert lately(one.state)["lately[]"] == []
