from __future__ import annotations

import pytest

from capture.events import Up
from dashboard.views.setup.in_sight import shown, ways

NOTHING = {"ports": [], "bluetooth": [], "trouble": ""}


def port(device, identity="", description="n/a", location=""):
    return {"device": device, "description": description, "identity": identity, "location": location}


def device(identity, name="", signal=-60, battery=None, services=()):
    return {
        "name": name,
        "identity": identity,
        "signal_dbm": signal,
        "battery": battery,
        "services": list(services),
    }


def seen(*, ports=(), bluetooth=(), own=None, state=None, live=False):
    found = {"ports": list(ports), "bluetooth": list(bluetooth), "trouble": ""}
    return ways(found, own or {}, state, live=live, look="1")


def test_a_port_is_named_for_the_sheet_by_what_stays_with_the_gauge():
    plain, usb = seen(ports=[port("/dev/ttyS0"), port("/dev/ttyUSB0", "usb:0403:6001:A1", "a cable")])

    assert plain.link == {"serial": "/dev/ttyS0"}
    assert usb.link == {"serial": "usb:0403:6001:A1"}
    assert (usb.opens, usb.about, plain.about) == ("/dev/ttyUSB0", "a cable", "")
    assert plain.state == "on no gauge of this job"


def test_two_of_one_kind_are_told_apart_by_their_sockets():
    twins = [
        port("/dev/ttyUSB0", "usb:0403:6001", location="1-1"),
        port("/dev/ttyUSB1", "usb:0403:6001", location="1-2"),
        port("/dev/ttyUSB2", "usb:0403:6001"),
    ]

    assert [way.link["serial"] for way in seen(ports=twins)] == [
        "usb:0403:6001:1-1",
        "usb:0403:6001:1-2",
        "/dev/ttyUSB2",
    ]


@pytest.mark.parametrize("live", [True, False])
def test_a_port_that_the_sheet_has_is_known_and_one_that_is_read_is_not_to_be_taught(session, live):
    one = session()
    one.say("mike", Up("serial:/dev/ttyUSB0 9600"), 1.0)
    found = seen(ports=[port("/dev/ttyUSB0"), port("/dev/ttyUSB1")], state=one.state, live=live)

    assert [way.gauge for way in found] == ["mike", "probe"]
    assert [way.busy for way in found] == [live, False]
    assert "mike" in found[0].state


def test_the_sheets_own_name_of_a_port_counts_and_is_listed_once(session, sheet):
    named = {**sheet, "gauge": [{**sheet["gauge"][0], "link": {"serial": "/dev/mike"}}]}
    own = {"/dev/mike": "/dev/ttyUSB0"}
    state = session(named).state
    (there,) = seen(ports=[port("/dev/ttyUSB0")], own=own, state=state)
    (alone,) = seen(own=own, state=state)

    assert there.gauge == alone.gauge == "mike"
    assert (alone.link, alone.opens) == ({"serial": "/dev/mike"}, "/dev/ttyUSB0")


def test_a_bluetooth_device_tells_its_signal_its_battery_and_what_it_does():
    named, bare = seen(
        bluetooth=[device("AA:BB", "Gauge 7", -48, 71.0, ["Length (2C0A)"]), device("CC:DD", signal=-90)]
    )

    assert (named.title, named.about) == ("Gauge 7", "AA:BB, signal -48 dBm, battery 71 %, Length (2C0A)")
    assert (bare.title, bare.about) == ("CC:DD", "signal -90 dBm")
    assert named.link == {"ble": "AA:BB"}


def test_a_device_of_the_sheet_is_known_by_its_address_however_it_is_written(session, sheet):
    named = {**sheet, "gauge": [{**sheet["gauge"][0], "link": {"ble": "aa:bb", "value": "2C0A"}}]}

    assert seen(bluetooth=[device("AA:BB")], state=session(named).state)[0].gauge == "mike"


def test_where_nothing_is_in_sight_what_to_check_is_said():
    told = shown([], "Bluetooth: there is no adapter")

    assert told["said"] == "0 ports and 0 Bluetooth devices in sight."
    assert any("cable" in line for line in told["check"])
    assert any("driver" in line for line in told["check"])
    assert "Bluetooth: there is no adapter" in told["check"]


def test_where_all_is_in_sight_nothing_is_to_be_checked():
    told = shown(seen(ports=[port("/dev/ttyS0")], bluetooth=[device("AA:BB")]), "")

    assert told["said"] == "1 port and 1 Bluetooth device in sight."
    assert told["check"] == []
    assert [row["key"] for row in told["ways"]] == ["1-0", "1-1"]


def test_no_key_of_an_older_look_fits():
    found = {**NOTHING, "ports": [port("/dev/ttyS0")]}

    assert (
        ways(found, {}, None, live=False, look="1")[0].key
        != ways(found, {}, None, live=False, look="2")[0].key
    )
