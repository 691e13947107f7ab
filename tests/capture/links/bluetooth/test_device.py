from __future__ import annotations

import struct

import pytest

from capture.events import Garbled, Reading
from capture.links.bluetooth.device import portray

pytestmark = pytest.mark.bluetooth

ADDRESS = "C0:00:00:00:00:55"


def test_a_device_tells_what_it_offers_and_how_full_its_battery_is(on_air, bluez):
    length = bluez.Characteristic(
        "5a3e0001-88aa-4d6f-9c2b-0123456789ab",
        value=struct.pack("<i", 55_012),
        descriptors={0x2904: struct.pack("<BbHBH", 0x10, -6, 0x2701, 1, 0), 0x2901: b"OD"},
    )
    warmth = bluez.Characteristic(bluez.sig(0x2A6E), ("read",), b"\x00\x80")
    deaf = bluez.Characteristic(bluez.sig(0x2C0A), ("write",))
    odd = bluez.Characteristic(bluez.sig(0xFFE1), ("notify",), descriptors={0x2904: b"\x10"})
    charge = bluez.Characteristic(bluez.sig(0x2A19), ("read",), b"\x57")
    services = {bluez.sig(0xFFE0): [length, warmth, deaf, odd], bluez.sig(0x180F): [charge]}
    gauge = bluez.Peripheral(ADDRESS, "Sleeve \x1bmike", services)

    async def script(service):
        service.air.append(gauge)
        portrait = await portray(ADDRESS, search=5.0)
        return portrait, service._connected(service.path(gauge))

    portrait, connected = on_air(script)

    assert (portrait.name, portrait.identity, portrait.battery) == ("Sleeve mike", ADDRESS, 87.0)
    assert [value.number for value in portrait.values] == [0, 0x2A6E, 0xFFE1, 0x2A19]
    assert portrait.values[0].description == "OD"
    assert portrait.values[0].present == Reading(55.012, "mm", 3, "\xe4\xd6\0\0")
    assert isinstance(portrait.values[1].present, Garbled)
    assert portrait.values[2].presentation is None
    assert not connected


def test_attributes_that_refuse_to_be_read_are_left_out_and_do_not_hide_the_others(on_air, bluez):
    locked = bluez.Characteristic(bluez.sig(0x2C08), refuses=bluez.Refused("NotPermitted", "Not paired"))
    length = bluez.Characteristic(bluez.sig(0x2C0A), value=struct.pack("<I", 550_123))
    gauge = bluez.Peripheral(ADDRESS, "mike", {bluez.sig(0x185A): [locked, length]})

    async def script(service):
        service.air.append(gauge)
        return await portray(ADDRESS, search=5.0)

    portrait = on_air(script)

    assert [value.present and value.present.value for value in portrait.values] == [None, 55.0123]
    assert portrait.battery is None


def test_a_device_that_is_not_there_is_said(on_air):
    async def script(service):
        with pytest.raises(OSError, match=f"ble {ADDRESS}: not in sight"):
            await portray(ADDRESS, search=0.1)

    on_air(script)
