from __future__ import annotations

import asyncio

import pytest
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
)
from hypothesis import given
from hypothesis import strategies as st

from capture.links.bluetooth.trouble import BluetoothError, said, sentence, watched


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (BleakDBusError("org.bluez.Error.NotReady", ["Resource Not Ready"]), "switched off"),
        (BleakDBusError("org.freedesktop.DBus.Error.ServiceUnknown", []), "not running"),
        (BleakDBusError("org.freedesktop.DBus.Error.UnknownObject", ["?"]), "looked for anew"),
        (BleakDBusError("org.bluez.Error.Failed", ["le-connection-abort"]), "says: le-connection-abort"),
        (BleakDBusError("org.bluez.Error.Failed", []), "says: org.bluez.Error.Failed"),
        (BleakDeviceNotFoundError("C0"), "looked for anew"),
        (BleakGATTProtocolError(0x05), "pair it once"),
        (BleakGATTProtocolError(0x02), "the instrument refused: GATT Protocol Error: Read Not Permitted"),
        (BleakError("Not connected"), "Not connected"),
        (BleakError(), "the connection was lost"),
        (TimeoutError(), "no answer in time"),
        (FileNotFoundError(2, "bus"), "message bus"),
        (EOFError(), "message bus"),
        (AssertionError(), "the connection was lost"),
        (KeyError("/org/bluez/hci0"), "the connection was lost"),
    ],
)
def test_whatever_goes_wrong_is_said_in_a_sentence_with_its_place(error, words):
    with pytest.raises(OSError, match=f"^ble mike: .*{words}"), said("ble mike"):
        raise error


@pytest.mark.parametrize("reason", BleakBluetoothNotAvailableReason)
def test_every_reason_for_no_bluetooth_has_a_sentence(reason):
    assert "luetooth" in sentence(BleakBluetoothNotAvailableError("Domain=9", reason))


@given(st.lists(st.text() | st.integers()))
def test_a_strangers_words_in_an_error_are_harmless(details):
    words = sentence(
        BleakDBusError("org.bluez.Error.Failed", ["Operation failed with ATT error: 0x", *details])
    )

    assert words.isprintable()
    assert len(words) < 200


def test_a_sentence_is_not_wrapped_in_another():
    with pytest.raises(OSError, match=r"^ble mike: gone$"), said("ble bore"):
        raise BluetoothError("ble mike: gone")


def test_a_mistake_of_our_own_is_not_hidden_as_trouble_with_bluetooth():
    with pytest.raises(ZeroDivisionError), said("ble mike"):
        raise ZeroDivisionError


@pytest.mark.bluetooth
def test_only_the_watched_device_and_the_service_are_told_of(on_air, bluez):
    mine, other = (bluez.Peripheral(f"C0:00:00:00:00:0{n}", "mike", {}) for n in (1, 2))

    async def script(service):
        lost: asyncio.Queue[str] = asyncio.Queue()
        for device in (mine, other):
            service._advertise(device)
        async with watched(service.path(mine), lost.put_nowait):
            service.forget(other)
            service.forget(mine)
            first = await lost.get()
            await service.stop()
            return first, await lost.get(), lost.qsize()

    forgotten, stopped, more = on_air(script)

    assert "removed from the system" in forgotten
    assert "service is not running" in stopped
    assert more == 0


def test_where_there_is_no_such_bus_nothing_is_watched():
    async def script():
        async with watched(None, pytest.fail):
            await asyncio.sleep(0)

    asyncio.run(script())
