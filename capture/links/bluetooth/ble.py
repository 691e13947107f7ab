"""Bluetooth LE: a gauge whose values come over the air.

Import this where a sheet names such a gauge and not before: bleak is slow to load.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import AbstractAsyncContextManager, AsyncExitStack, asynccontextmanager, suppress
from math import inf
from time import monotonic_ns
from typing import Annotated, Any, TypeAlias

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakError
from msgspec import Meta, Struct, ValidationError, convert

from capture.dialects.dialect import Dialect
from capture.dialects.gatt import NUMBERS, battery, bordered, envelope, whole
from capture.events import AnyFact, Battery
from capture.links.bluetooth.device import CONNECT, battery_levels, battery_of, connected, offered, present
from capture.links.bluetooth.radio import ANSWER, Radio, find
from capture.links.bluetooth.trouble import BluetoothError, said, watched
from capture.links.bluetooth.values import Carries, Value, fitting, full, listed, named, plain
from capture.links.link import Link, Open

SEARCH = 10.0
"""Seconds to look for a device each time."""
BATTERY_EVERY = 300.0
"""Seconds between two questions for the battery, where it does not tell by itself."""
ECHO = 0.2
"""Seconds in which an answer may come once more as a notification, as Linux gives it."""

_LOST = "the connection was lost: out of range, switched off, or its battery is empty; it is looked for"

_Seconds: TypeAlias = Annotated[float, Meta(gt=0)]


class _Wanted(Struct, frozen=True):
    """What the sheet asks for."""

    device: Annotated[str, Meta(min_length=1)]
    measures: str
    carries: Carries
    service: str | None = None
    value: str | None = None
    write: str | None = None
    read_every: _Seconds | None = None
    silence: _Seconds | None = None
    search: float = SEARCH

    @property
    def where(self) -> str:
        return f"ble {plain(self.device)}"


def ble(
    link: Mapping[str, Any],
    dialect: Dialect = NUMBERS,
    *,
    measures: str,
    radio: Radio,
    search: float = SEARCH,
) -> tuple[Open, Dialect]:
    """How to open a Bluetooth LE gauge, and the dialect that reads it.

    The open link also is a `StatusReporter`: it reports how full the battery is, when it first learns of it
    and whenever that changes.

    Args:
        link: As the sheet has it. ``ble`` is the address or the name; ``value``, ``service``
            and ``write`` are UUIDs, where the device leaves a choice; ``bytes = true`` means
            that values are a stream without borders; ``read_every`` (seconds) reads instead of
            listening; ``silence`` is the number of seconds without a value after which the
            link is given up and opened anew (none: a gauge with a data button may be silent).
        dialect: `NUMBERS` for values that come with their format and unit; any other reads
            the values of the characteristic that the sheet names.
        measures: diameter, bore, infeed or temperature: which value fits.
        radio: One for all gauges.
        search: Seconds to look for the device at each opening.

    Raises:
        ValueError: a setting is wrong, in a sentence.
    """
    try:
        wanted = _wanted(link, dialect, measures, search)
    except (ValueError, ValidationError) as error:
        raise ValueError(f"ble {plain(str(link.get('ble')))}: {error}") from None

    def open_() -> AbstractAsyncContextManager[Link]:
        return _opened(wanted, radio)

    return open_, whole(dialect) if wanted.carries == "values" else dialect


def _wanted(link: Mapping[str, Any], dialect: Dialect, measures: str, search: float) -> _Wanted:
    carries: Carries = "bytes" if link.get("bytes") else "numbers" if dialect is NUMBERS else "values"
    if carries == "bytes" and dialect is NUMBERS:
        raise ValueError("a stream of bytes needs a dialect: name one beside bytes = true")
    if carries != "numbers" and not link.get("value"):
        raise ValueError('a dialect needs the characteristic that it reads: value = "uuid"')
    chosen = {key: link[key] for key in ("service", "value", "write", "read_every", "silence") if key in link}
    known = {"device": link.get("ble"), "measures": measures, "carries": carries, "search": search}
    wanted = convert(known | chosen, _Wanted)
    for uuid in (wanted.service, wanted.write):
        full(uuid or "0000")
    fitting([], measures=measures, carries=carries, value=wanted.value)
    return wanted


@asynccontextmanager
async def _opened(wanted: _Wanted, radio: Radio) -> AsyncIterator[Link]:
    arrived: asyncio.Queue[_Item] = asyncio.Queue()

    def lost(why: str) -> None:
        arrived.put_nowait(BluetoothError(f"{wanted.where}: {why}"))

    async with AsyncExitStack() as stack:
        with said(wanted.where):
            device = await find(radio, wanted.device, wanted.search)
            path = device.details.get("path") if isinstance(device.details, dict) else None
            await stack.enter_async_context(watched(path, lost))
            client = await stack.enter_async_context(connected(device, radio, lambda: lost(_LOST)))
            async with asyncio.timeout(CONNECT):
                line = _Line(wanted, client, await _chosen(wanted, client), arrived)
                await line.begin()
        yield line


async def _chosen(wanted: _Wanted, client: BleakClient) -> Value:
    """The one value that is the reading; refuses where none fits, and where several do."""
    values = await offered(client)
    fits = fitting(
        values,
        measures=wanted.measures,
        carries=wanted.carries,
        value=wanted.value,
        service=wanted.service,
    )
    if len(fits) == 1:
        return fits[0]
    choice = listed(await present(client, fits or values))
    if fits:
        raise BluetoothError(
            f"{wanted.where}: {len(fits)} of its values fit a gauge that measures {wanted.measures}: "
            f"name one beside ble on the sheet: {choice}"
        )
    due = f'value = "{wanted.value}"' if wanted.value else f"a value that is the {wanted.measures}"
    raise BluetoothError(
        f"{wanted.where}: it has not {due} in a format that says what it is: name a value, "
        f"and a dialect where its format needs one. It has: {choice}"
    )


_Item: TypeAlias = tuple[bytes, int] | BluetoothError


class _Line:
    """A connected gauge."""

    def __init__(
        self, wanted: _Wanted, client: BleakClient, value: Value, arrived: asyncio.Queue[_Item]
    ) -> None:
        self._wanted = wanted
        self._client = client
        self._value = value
        self._arrived = arrived
        self.tell: Callable[[AnyFact], None] | None = None
        self._time = asyncio.get_running_loop().time
        self._write = _written(wanted, client)
        self._subscribed = value.notifies and wanted.read_every is None
        self._latest: tuple[int, bytes] = (0, b"")
        self._level: float | None = None
        self._reported: float | None = None
        self._read_at = inf if self._subscribed else self._time()
        self._battery_at = self._time() if battery_levels(client) else inf
        self._silent_at = self._time() + (wanted.silence or inf)
        name = plain(client.name)
        self.detail = f"{name} ({plain(client.address)}), {value.description or named(value.uuid)}"

    async def begin(self) -> None:
        """Subscribe to the reading, and to the battery where it tells by itself."""
        if self._subscribed:
            await self._client.start_notify(self._value.handle, lambda _, data: self._receive(bytes(data)))
        for level in battery_levels(self._client):
            if "notify" in level.properties and level.handle != self._value.handle:
                with suppress(BleakError):
                    await self._client.start_notify(level, lambda _, data: self._charge(battery(bytes(data))))

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        """Each value in its envelope, or the bytes of the stream; raises OSError when the link is lost."""
        while True:
            with said(self._wanted.where):
                await self._attend()
            item: _Item | None = None
            with suppress(TimeoutError):
                async with asyncio.timeout_at(min(self._read_at, self._battery_at, self._silent_at)):
                    item = await self._arrived.get()
            if isinstance(item, BluetoothError):
                raise item
            if item is not None:
                yield item

    async def send(self, data: bytes) -> None:
        """Write *data*; on a gauge without ``write``, nothing (``b""``) reads the value now."""
        with said(self._wanted.where):
            async with asyncio.timeout(ANSWER):
                if self._write is not None:
                    await self._send(self._write, data)
                elif data:
                    raise BluetoothError(
                        f"{self._wanted.where}: nothing to write to: name the characteristic as write"
                    )
                else:
                    await self._read()

    async def _send(self, to: BleakGATTCharacteristic, data: bytes) -> None:
        answered = "write" in to.properties
        most = 512 if answered else to.max_write_without_response_size
        for start in range(0, len(data), most):
            await self._client.write_gatt_char(to, data[start : start + most], response=answered)

    def _receive(self, value: bytes, at: int | None = None) -> None:
        self._latest = (self._latest[0] + 1, value)
        self._silent_at = self._time() + (self._wanted.silence or inf)
        self._arrived.put_nowait((self._dressed(value), at or monotonic_ns()))

    def _dressed(self, value: bytes) -> bytes:
        if self._wanted.carries == "numbers" and self._value.presentation is not None:
            return envelope(value, self._value.number, self._value.presentation)
        return value if self._wanted.carries == "bytes" else bordered(value)

    def _charge(self, level: float | None) -> None:
        self._level = self._level if level is None else level
        if self.tell is not None and self._level is not None and self._level != self._reported:
            self._reported = self._level
            self.tell(Battery(self._level))

    async def _attend(self) -> None:
        """Do what is due: read, ask for the battery, or give up a gauge that is silent."""
        now = self._time()
        async with asyncio.timeout(ANSWER):
            if now >= self._read_at:
                self._read_at = now + (self._wanted.read_every or 1.0)
                await self._read()
            if now >= self._battery_at:
                self._battery_at = now + BATTERY_EVERY
                self._level = await battery_of(self._client)
        self._charge(self._level)
        if now >= self._silent_at:
            raise BluetoothError(f"{self._wanted.where}: {self._silence()}")

    def _silence(self) -> str:
        seconds = f"for {self._wanted.silence:g} s"
        if self._latest[0]:
            return f"it has fallen silent {seconds}: it is connected to anew"
        return (
            f"it is connected but has given no value {seconds}: press its data button or set it to send "
            "by itself, and see that the sheet names the right value"
        )

    async def _read(self) -> None:
        before = self._latest[0]
        value = bytes(await self._client.read_gatt_char(self._value.handle))
        at = monotonic_ns()
        if self._subscribed:
            await asyncio.sleep(ECHO)
            if self._latest[0] > before and self._latest[1] == value:
                return
        self._receive(value, at)


def _written(wanted: _Wanted, client: BleakClient) -> BleakGATTCharacteristic | None:
    """The characteristic to write to, where the sheet names one."""
    if wanted.write is None:
        return None
    for _, characteristic in sorted(client.services.characteristics.items()):
        inside = wanted.service is None or characteristic.service_uuid == full(wanted.service)
        writable = {"write", "write-without-response"} & set(characteristic.properties)
        if inside and writable and characteristic.uuid == full(wanted.write):
            return characteristic
    raise BluetoothError(f'{wanted.where}: it has no write = "{wanted.write}" that can be written to')
