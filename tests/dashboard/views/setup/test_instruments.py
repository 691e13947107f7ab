from __future__ import annotations

import copy

import pytest

from capture.events import Battery, Beat, Down, Garbled, Reading, Up
from capture.state.health import GARBLED_HINT, STOPPED
from dashboard.sources.scene import Scene
from dashboard.views.setup.instruments import instruments


def card(state, name="mike", units="mm", **more):
    """The texts and states of a gauge's card, joined for looking into."""
    scene = Scene(more.pop("kind", "live"), "a.jsonl", state, age=more.pop("age", 0.0))
    rows = instruments(scene, units)["gauges-cards[]"]
    return next(row for row in rows if row[0][0] == name)


def texts(row):
    return [cell[0] for cell in row]


def test_a_gauge_tells_its_value_age_rate_and_battery(ground):
    told = texts(card(ground.state))

    assert told[0] == "mike"
    assert told[1] == "diameter of the shaft"
    assert told[3].startswith("54.99")
    assert told[4].endswith(" ago")
    assert told[5].startswith("a reading every ")
    assert told[7] == "battery 71 %"
    assert told[8] == "none unreadable"
    assert told[-1] == "✓ nothing to do"


def test_a_quick_gauge_tells_its_rate(session, reading):
    one = session()
    for n in range(20):
        one.say("mike", reading(55.0), 1.0 + n / 20)

    assert texts(card(one.state))[5] == "20.0 readings a second"


def test_the_age_goes_on_while_nothing_comes_but_not_in_a_replay(session, reading):
    one = session()
    one.say("mike", reading(55.0), 1.0)

    assert texts(card(one.state, age=30.0))[4] == "30 s ago"
    assert texts(card(one.state, age=30.0, kind="replay"))[4] == "0 s ago"


def test_garbled_pieces_are_counted_with_the_reason_of_the_last(session):
    one = session()
    one.say("mike", Garbled("no number", "??"), 1.0)
    one.say("mike", Garbled("cut short", "+05"), 2.0)
    row = card(one.state)

    assert row[8] == ["2 unreadable, the last: cut short", "bad"]


def test_the_history_of_a_link_tells_how_often_it_was_lost(session):
    one = session()
    one.say("mike", Up("serial:/dev/ttyUSB0 9600"), 1.0)
    one.say("mike", Down("unplugged"), 2.0)
    one.say("mike", Up("serial:/dev/ttyUSB0 9600"), 3.0)

    one.say("daemon", Beat(), 133.0)
    assert texts(card(one.state))[9] == "serial:/dev/ttyUSB0 9600, open for 2 min; lost 1 ×"


@pytest.mark.parametrize(
    ("facts", "hint"),
    [
        ([], "Look for gauges"),
        ([Up("a"), Down("unplugged")], "Trying again"),
        ([Up("a"), Down(STOPPED)], "Start it again"),
        ([Up("a"), *[Garbled("no number", "?")] * GARBLED_HINT], "baud rate"),
        ([Reading(55.0, "mm", 3, "x"), Battery(8.0)], "battery"),
        ([Reading(55.0, "degC", 3, "x")], "unit"),
    ],
    ids=["never", "down", "stopped", "garbled", "battery", "unit"],
)
def test_what_to_do_about_a_gauge_is_said(session, facts, hint):
    one = session()
    for fact in facts:
        one.say("mike", fact, 1.0)
    row = card(one.state)

    assert hint in row[-1][0]
    assert row[-1][1] == "hint"


def test_a_silent_gauge_is_asked_about(session, sheet, reading):
    quiet = copy.deepcopy(sheet)
    quiet["gauge"][0]["silence"] = 10.0
    one = session(quiet)
    one.say("mike", reading(55.0), 1.0)

    one.say("daemon", Beat(), 6.0)
    assert "nothing to do" in texts(card(one.state))[-1]

    one.say("daemon", Beat(), 16.0)
    assert "No reading" in texts(card(one.state))[-1]


def test_what_was_sent_is_shown_byte_for_byte_and_never_at_length(session):
    one = session()
    one.say("mike", Reading(55.0, "mm", 3, "\x02+55\x03" + "9" * 500 + "\r\n"), 1.0)
    sent = texts(card(one.state))[10]

    assert sent.startswith("sent: \\x02+55\\x03")
    assert len(sent) < 80


def test_an_empty_page_says_what_to_do():
    assert "tenths run JOB" in instruments(Scene("waiting"), "mm")["gauges-cards-none"]
