"""A connected device: what it offers, what its values are now, how full its battery is."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.exc import BleakDBusError, BleakGATTProtocolError
from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.gatt import BATTERY_LEVEL, STANDARD, Presentation, battery, says
from capture.links.bluetooth.radio import ANSWER, Radio, find
from capture.links.bluetooth.trouble import TROUBLE, said
from capture.links.bluetooth.values import Value, full, number, plain

CONNECT = 20.0
"""Seconds to connect, and seconds to ask what a device offers."""

_MOST_ASKED = 24
"""Values asked of one device for a list; a person can't choose among more."""

_REFUSED = (BleakGATTProtocolError, BleakDBusError)
"""One attribute that can't be read now; a lost connection shows at the next step too."""


class Portrait(Struct, frozen=True):
    """What a device tells when it is connected to."""

    name: str
    identity: str
    battery: float | None
    values: tuple[Value, ...]


async def portray(wanted: str, *, radio: Radio | None = None, search: float = 10.0) -> Portrait:
    """Connect to the device of that address or name, and ask it for all that it offers.

    Raises:
        OSError: it can't be found or connected to, in a sentence.
    """
    where = f"ble {plain(wanted)}"
    radio = radio or Radio()
    with said(where):
        device = await find(radio, wanted, search)
        async with connected(device, radio) as client, asyncio.timeout(CONNECT):
            values = await present(client, await offered(client))
            level = await battery_of(client)
    return Portrait(plain(device.name or ""), plain(device.address), level, tuple(values))


@asynccontextmanager
async def connected(
    device: BLEDevice, radio: Radio, lost: Callable[[], None] = lambda: None
) -> AsyncIterator[BleakClient]:
    """A connection to a device, closed at the end whatever happens.

    Args:
        device: As it was found just now: an older sighting may be forgotten by the system.
        radio: Rests while the connection is made.
        lost: Called when the connection ends.
    """
    client = BleakClient(device, disconnected_callback=lambda _: lost(), timeout=CONNECT)
    try:
        # Past its own time bleak asks the system to give up, and waits for an answer to that.
        async with radio.quiet(), asyncio.timeout(CONNECT + ANSWER):
            await client.connect()
        yield client
    finally:
        with suppress(*TROUBLE):
            async with asyncio.timeout(ANSWER):
                await client.disconnect()


async def offered(client: BleakClient) -> list[Value]:
    """Every characteristic that can be read or subscribed to, in the device's own order."""
    return [
        await _value(client, characteristic)
        for _, characteristic in sorted(client.services.characteristics.items())
        if {"read", "notify", "indicate"} & set(characteristic.properties)
    ]


async def _value(client: BleakClient, characteristic: BleakGATTCharacteristic) -> Value:
    presentation = STANDARD.get(number(characteristic.uuid))
    format_ = await _described(client, characteristic, 0x2904)
    if presentation is None and format_ is not None:
        with suppress(ValueError):
            presentation = Presentation.unpack(format_)
    words = await _described(client, characteristic, 0x2901) or b""
    return Value(
        uuid=characteristic.uuid,
        handle=characteristic.handle,
        service=characteristic.service_uuid,
        presentation=presentation,
        description=plain(words.decode("utf-8", "replace")),
        notifies=bool({"notify", "indicate"} & set(characteristic.properties)),
        readable="read" in characteristic.properties,
    )


async def _described(client: BleakClient, characteristic: BleakGATTCharacteristic, kind: int) -> bytes | None:
    for descriptor in characteristic.descriptors:
        if number(descriptor.uuid) == kind:
            with suppress(*_REFUSED):
                return bytes(await client.read_gatt_descriptor(descriptor))
    return None


async def present(client: BleakClient, values: list[Value]) -> list[Value]:
    """The same values with what they are now, where they can be read."""
    asked = []
    for value in values[:_MOST_ASKED]:
        now = value
        if value.readable and value.presentation is not None:
            with suppress(*_REFUSED):
                data = bytes(await client.read_gatt_char(value.handle))
                raw = data.decode("latin-1")
                now = replace(value, present=says(value.number, value.presentation, data, raw))
        asked.append(now)
    return asked


async def battery_of(client: BleakClient) -> float | None:
    """How full the battery is, per cent; None where the device does not say."""
    for characteristic in battery_levels(client):
        if "read" in characteristic.properties:
            with suppress(*_REFUSED):
                return battery(bytes(await client.read_gatt_char(characteristic)))
    return None


def battery_levels(client: BleakClient) -> list[BleakGATTCharacteristic]:
    """The Battery Level characteristics that a device has: seldom more than one."""
    wanted = full(f"{BATTERY_LEVEL:04X}")
    return [c for _, c in sorted(client.services.characteristics.items()) if c.uuid == wanted]
