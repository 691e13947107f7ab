"""The computer's Bluetooth radio: one scan for all who look for a device, and what is in sight."""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager, suppress
from typing import TypeAlias

from bleak import BleakAdapter, BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from msgspec import Struct

from capture.dialects.gatt import battery
from capture.links.bluetooth.trouble import TROUBLE, BluetoothError, said
from capture.links.bluetooth.values import full, named, plain

Sighting: TypeAlias = tuple[BLEDevice, AdvertisementData]

ANSWER = 10.0
"""Seconds to wait for an answer of the system or of an instrument."""
SETTLE = 1.0
"""Seconds to look on after a device of the wanted name, for another of that name."""

_BATTERY_SERVICE = full("180F")
_MOST_DEVICES_HAVE = ["1801", "1800", "180A", "180F", "181A", "185A"]
_ADDRESS = re.compile(
    r"(?:[0-9A-F]{2}:){5}[0-9A-F]{2}|[0-9A-F]{8}(?:-[0-9A-F]{4}){3}-[0-9A-F]{12}", re.IGNORECASE
)


class FoundDevice(Struct, frozen=True):
    """A Bluetooth LE device in sight."""

    name: str
    """What it calls itself, made harmless; empty where it says nothing."""
    identity: str
    """What to write on the sheet: its address, or on some systems a number in its place."""
    signal: int
    """Received signal strength, dBm: -40 is beside the computer, -90 hardly there."""
    services: tuple[str, ...] = ()
    """What it says that it does, in the words of the Bluetooth SIG."""
    battery: float | None = None
    """Per cent, where it tells without being connected to."""


class Radio:
    """The radio that all gauges of a sheet share.

    The system runs one scan a program, and connects badly while it scans. So whoever looks
    for a device listens to the one scan, and it rests while somebody connects.
    """

    def __init__(self) -> None:
        self._ears: list[asyncio.Queue[Sighting]] = []
        self._scanner: BleakScanner | None = None
        self._turn = asyncio.Lock()

    @asynccontextmanager
    async def sightings(self) -> AsyncIterator[asyncio.Queue[Sighting]]:
        """Scans, and passes on every device that is found; raises what bleak raises."""
        reader: asyncio.Queue[Sighting] = asyncio.Queue()
        self._ears.append(reader)
        try:
            async with self._turn:
                # Anew for every newcomer: the system may have ended the old scan without a
                # word (adapter off and on), and tells of a device but once a scan.
                await self._stop()
                await self._start()
            yield reader
        finally:
            self._ears.remove(reader)
            async with self._turn:
                if not self._ears:
                    await self._stop()

    @asynccontextmanager
    async def quiet(self) -> AsyncIterator[None]:
        """The radio to oneself, to connect; the scan of others goes on afterwards."""
        async with self._turn:
            await self._stop()
            try:
                yield
            finally:
                if self._ears:
                    with suppress(*TROUBLE):
                        await self._start()

    async def _start(self) -> None:
        scanner = BleakScanner(self._seen)
        async with asyncio.timeout(ANSWER):
            await scanner.start()
        self._scanner = scanner

    async def _stop(self) -> None:
        scanner, self._scanner = self._scanner, None
        if scanner is not None:
            with suppress(*TROUBLE):
                async with asyncio.timeout(ANSWER):
                    await scanner.stop()

    def _seen(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        for reader in self._ears:
            reader.put_nowait((device, advertisement))


async def search(seconds: float, radio: Radio | None = None) -> list[FoundDevice]:
    """All devices in sight within that many seconds, the nearest first.

    Raises:
        OSError: Bluetooth is off, missing or not allowed, in a sentence.
    """
    seen: dict[str, Sighting] = {}
    with said("Bluetooth"):
        async with (radio or Radio()).sightings() as reader:
            with suppress(TimeoutError):
                async with asyncio.timeout(seconds):
                    while True:
                        device, advertisement = await reader.get()
                        seen[device.address] = device, advertisement
    return sorted((_found(*sighting) for sighting in seen.values()), key=lambda f: (-f.signal, f.identity))


def _found(device: BLEDevice, advertisement: AdvertisementData) -> FoundDevice:
    level = advertisement.service_data.get(_BATTERY_SERVICE)
    return FoundDevice(
        name=plain(advertisement.local_name or device.name or ""),
        identity=plain(device.address),
        signal=advertisement.rssi,
        services=tuple(named(uuid) for uuid in sorted(advertisement.service_uuids)),
        battery=None if level is None else battery(level),
    )


def rows(devices: Iterable[FoundDevice]) -> list[tuple[str, str, str, str, str]]:
    """Devices as cells of a table: name, what to write on the sheet, signal, battery, services."""
    return [
        (
            found.name or "(no name)",
            f'ble = "{found.identity}"',
            f"{found.signal} dBm",
            "" if found.battery is None else f"{found.battery:.0f} %",
            ", ".join(found.services),
        )
        for found in devices
    ]


async def find(radio: Radio, wanted: str, seconds: float) -> BLEDevice:
    """The device of that address or name.

    Raises:
        OSError: it is not in sight, or several of that name are, in a sentence.
    """
    device = await _in_sight(radio, wanted, seconds) or await _connected(wanted)
    if device is None:
        raise BluetoothError(
            f"ble {plain(wanted)}: not in sight for {seconds:g} s: switch the instrument on and bring it "
            "near; `tenths gauges` lists what is in sight"
        )
    return device


async def _in_sight(radio: Radio, wanted: str, seconds: float) -> BLEDevice | None:
    seen: dict[str, BLEDevice] = {}
    loop = asyncio.get_running_loop()
    async with radio.sightings() as reader:
        with suppress(TimeoutError):
            async with asyncio.timeout(seconds) as limit:
                while not (seen and _ADDRESS.fullmatch(wanted)):
                    device, advertisement = await reader.get()
                    if _is(wanted, device, advertisement.local_name):
                        if not seen:
                            limit.reschedule(loop.time() + SETTLE)
                        seen[device.address] = device
    if len(seen) > 1:
        raise BluetoothError(
            f"ble {plain(wanted)}: {len(seen)} devices of that name are in sight ({', '.join(sorted(seen))}):"
            " write the address of yours on the sheet"
        )
    return next(iter(seen.values()), None)


async def _connected(wanted: str) -> BLEDevice | None:
    """The device among those that the system holds connected: they do not show in a scan.

    A program that was killed leaves its gauge like that. Not every system lists them
    (`NotImplementedError`).
    """
    with suppress(*TROUBLE, NotImplementedError):
        adapter = await BleakAdapter.get()
        for device in await adapter.get_connected_devices(_MOST_DEVICES_HAVE):
            if _is(wanted, device, None):
                return device
    return None


def _is(wanted: str, device: BLEDevice, local_name: str | None) -> bool:
    if _ADDRESS.fullmatch(wanted):
        return device.address.upper() == wanted.upper()
    return plain(wanted) in {plain(name) for name in (local_name, device.name) if name}
