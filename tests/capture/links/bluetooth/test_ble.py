from __future__ import annotations

import asyncio
import struct
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from time import monotonic_ns

import pytest

from capture.dialects.dialect import Decoder, Dialect
from capture.dialects.gatt import NUMBERS
from capture.events import Battery, Garbled, Reading
from capture.links.bluetooth.ble import ble
from capture.links.bluetooth.radio import Radio
from capture.links.known import asked
from capture.links.link import StatusReporter
from capture.sheet.job import Gauge

pytestmark = pytest.mark.bluetooth

ADDRESS = "C0:00:00:00:00:55"
PRIVATE = "5a3e0001-88aa-4d6f-9c2b-0123456789ab"
ANSWERS = "5a3e0002-88aa-4d6f-9c2b-0123456789ab"
ASKS = "5a3e0003-88aa-4d6f-9c2b-0123456789ab"
MICROMETRES = struct.pack("<BbHBH", 0x10, -6, 0x2701, 1, 0)
SAID = (55_012, 55_013, 54_998)


@pytest.fixture
def length(bluez):
    """A spindle sleeve's diameter, 55.012 mm, as a private characteristic with its format."""
    return bluez.Characteristic(PRIVATE, value=um(55_012), descriptors={0x2904: MICROMETRES, 0x2901: b"OD"})


@pytest.fixture
def charge(bluez):
    return bluez.Characteristic(bluez.sig(0x2A19), value=b"\x57")


@pytest.fixture
def mike(bluez, length, charge):
    """A micrometer in the air."""
    services = {"5a3e0000-88aa-4d6f-9c2b-0123456789ab": [length], bluez.sig(0x180F): [charge]}
    return bluez.Peripheral(ADDRESS, "Sleeve mike", services)


def um(micrometres: int) -> bytes:
    return struct.pack("<i", micrometres)


def text_values() -> Dialect:
    """Millimetres in text, a whole value without a line end."""

    def read(piece: str) -> Reading | Garbled:
        try:
            return Reading(float(piece), "mm", 3, piece)
        except ValueError:
            return Garbled("no number", piece)

    return Dialect("text", lambda data: data.find(b"\n") + 1, read, 64)


def opener(service, link=None, **settings):
    """How to open the gauge of that address, the service's instruments being in the air."""
    settings = {"measures": "diameter", "radio": Radio(), "search": 5.0, **settings}
    return ble({"ble": ADDRESS, **(link or {})}, settings.pop("dialect", NUMBERS), **settings)


@asynccontextmanager
async def listening(open_, dialect) -> AsyncIterator:
    """An open link, and a way to hear the next of what it says as facts."""
    async with open_() as link:
        chunks, decoder = link.chunks(), Decoder(dialect)

        async def hear():
            nonlocal decoder
            chunk, at = await anext(chunks)
            assert 0 <= monotonic_ns() - at < 10**11
            decoder, (fact,) = decoder.feed(chunk)
            return fact

        yield link, hear


async def listen(link) -> None:
    async for _ in link.chunks():
        pass


async def loss(open_, breaks) -> str:
    """What an open link says when it breaks."""
    async with open_() as link:
        waiting = asyncio.ensure_future(listen(link))
        await asyncio.sleep(0.05)
        done = breaks()
        if asyncio.iscoroutine(done):
            await done
        with pytest.raises(OSError, match=f"ble {ADDRESS}: ") as lost:
            await waiting
    return str(lost.value)


async def heard_again(open_, dialect, send) -> Reading:
    """The next reading, the link being opened again and again as the daemon does it."""
    while True:
        with suppress(OSError):
            async with listening(open_, dialect) as (_, hear):
                send()
                return await hear()
        await asyncio.sleep(0.02)


def test_a_value_is_found_by_its_presentation_format_and_heard_as_a_reading(on_air, mike, length):
    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service)) as (link, hear):
            service.notify(length, um(55_013))
            assert link.detail == f"Sleeve mike ({ADDRESS}), OD"
            return await hear()

    heard = on_air(script)

    assert (heard.value, heard.unit, heard.digits, heard.shown) == (55.013, "mm", 3, "")
    assert heard.raw.endswith(um(55_013).decode("latin-1"))


@pytest.mark.parametrize(
    ("number", "value", "measures", "reading"),
    [
        (0x2C08, struct.pack("<i", -123_456), "infeed", (-12.3456, "mm", 4)),
        (0x2C0A, struct.pack("<I", 550_123), "bore", (55.0123, "mm", 4)),
        (0x2A6E, struct.pack("<h", 2034), "temperature", (20.34, "degC", 2)),
    ],
)
def test_a_standard_characteristic_needs_no_descriptor(on_air, bluez, number, value, measures, reading):
    standard = bluez.Characteristic(bluez.sig(number))
    gauge = bluez.Peripheral(ADDRESS, "Probe", {bluez.sig(0x185A): [standard]})

    async def script(service):
        service.air.append(gauge)
        async with listening(*opener(service, measures=measures)) as (_, hear):
            service.notify(standard, value)
            return await hear()

    heard = on_air(script)

    assert (heard.value, heard.unit, heard.digits) == reading


def test_several_values_that_fit_are_listed_and_none_is_taken(on_air, bluez, mike, length):
    """The format does not say which number is the reading: a person picks, once."""
    limit = bluez.Characteristic(bluez.sig(0x2C0A), value=struct.pack("<I", 550_000))
    mike.services[bluez.sig(0x185A)] = [limit]

    async def script(service):
        service.air.append(mike)
        with pytest.raises(OSError, match="2 of its values fit") as refusal:
            async with opener(service)[0]():
                pass
        async with listening(*opener(service, {"value": PRIVATE.upper()})) as (_, hear):
            service.notify(length, um(55_013))
            return str(refusal.value), await hear()

    refusal, heard = on_air(script)

    assert refusal.startswith(f"ble {ADDRESS}: 2 of its values fit a gauge that measures diameter")
    assert f'value = "{PRIVATE}" “OD” now 55.012 mm' in refusal
    assert 'value = "2C0A" Length now 55.0000 mm' in refusal
    assert heard.value == 55.013


def test_two_values_of_one_uuid_are_told_apart_by_their_place(on_air, bluez):
    near, far = (
        bluez.Characteristic(bluez.sig(0x2C0A), value=struct.pack("<I", n)) for n in (10_000, 20_000)
    )
    gauge = bluez.Peripheral(ADDRESS, "Two probes", {bluez.sig(0x185A): [near, far]})

    async def script(service):
        service.air.append(gauge)
        with pytest.raises(OSError, match=r'"2C0A@0003".*"2C0A@0005"'):
            async with opener(service)[0]():
                pass
        async with listening(*opener(service, {"value": "2C0A@0005"})) as (_, hear):
            service.notify(near, struct.pack("<I", 1))
            service.notify(far, struct.pack("<I", 20_001))
            return await hear()

    assert on_air(script).value == 2.0001


def test_a_device_without_a_fitting_value_says_what_it_has(on_air, mike, length):
    length.descriptors = {}

    async def script(service):
        service.air.append(mike)
        with pytest.raises(OSError, match="has not a value that is the diameter") as refusal:
            async with opener(service)[0]():
                pass
        return str(refusal.value)

    refusal = on_air(script)

    assert f'value = "{PRIVATE}"' in refusal
    assert "Battery Level now 87 %" in refusal


def test_named_text_is_read_by_a_dialect_one_piece_a_value(on_air, mike, length):
    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service, {"value": PRIVATE}, dialect=text_values())) as (_, hear):
            service.notify(length, b"55.0")
            service.notify(length, b"12")
            return [await hear(), await hear()]

    assert [heard.value for heard in on_air(script)] == [55.0, 12.0]


def test_a_stream_over_a_pair_of_characteristics_has_no_borders(on_air, bluez, mike):
    """What is asked goes out on one, the answer comes in pieces on the other."""
    answers = bluez.Characteristic(ANSWERS, ("notify",))
    asks = bluez.Characteristic(ASKS, ("write-without-response",))
    mike.services[PRIVATE] = [answers, asks]
    link = {"value": ANSWERS, "write": ASKS, "bytes": True}

    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service, link, dialect=text_values())
        async with open_() as line:
            await line.send(b"READ?\r")
            for piece in (b"55.", b"01", b"2\n"):
                service.notify(answers, piece)
            chunks, decoder, heard = line.chunks(), Decoder(dialect), []
            while not heard:
                decoder, heard = decoder.feed((await anext(chunks))[0])
        return asks.written, heard

    written, heard = on_air(script)

    assert written == [b"READ?\r"]
    assert [fact.value for fact in heard] == [55.012]


def test_a_gauge_may_be_asked_over_the_air_and_still_tells_of_its_battery(on_air, bluez, mike):
    answers = bluez.Characteristic(ANSWERS, ("notify",))
    asks = bluez.Characteristic(ASKS, ("write",))
    mike.services[PRIVATE] = [answers, asks]
    link = {"ble": ADDRESS, "value": ANSWERS, "write": ASKS, "bytes": True}
    gauge = Gauge("mike", "diameter", link, ask={"send": "READ", "every": 0.05})

    async def script(service):
        asks.on_write = lambda _: service.notify(answers, b"55.012\n")
        service.air.append(mike)
        open_, dialect = asked(gauge, *opener(service, link, dialect=text_values()))
        told = []
        async with open_() as line:
            line.tell = told.append
            chunks, decoder, heard = line.chunks(), Decoder(dialect), []
            while len(heard) < 3:
                decoder, more = decoder.feed((await anext(chunks))[0])
                heard += more
        return heard, told

    heard, told = on_air(script)

    assert [fact.value for fact in heard] == [55.012] * 3
    assert asks.written[0] == b"READ"
    assert told == [Battery(87)]


def test_a_long_question_goes_out_in_pieces_that_the_air_can_carry(on_air, bluez, mike):
    asks = bluez.Characteristic(ASKS, ("write-without-response",))
    mike.services[PRIVATE] = [asks]

    async def script(service):
        service.air.append(mike)
        async with opener(service, {"write": ASKS})[0]() as line:
            await line.send(bytes(range(256)) * 2)

    on_air(script)

    assert b"".join(asks.written) == bytes(range(256)) * 2
    assert max(map(len, asks.written)) <= 244


def test_a_gauge_that_only_answers_is_read_as_often_as_the_sheet_says(on_air, mike, length):
    length.flags = ("read",)

    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service, {"read_every": 0.02})) as (_, hear):
            heard = []
            for said in SAID:
                length.value = um(said)
                while not heard or heard[-1].value != said / 1000:
                    heard.append(await hear())
        return heard

    assert {fact.value for fact in on_air(script)} == {55.012, 55.013, 54.998}


def test_a_read_on_request_is_heard_once_though_the_system_tells_it_twice(on_air, mike, length):
    """The service tells the answer to a read to those who listen, too: see the stand-in."""

    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service)) as (line, hear):
            await line.send(b"")
            service.notify(length, um(54_998))
            return [await hear(), await hear()]

    assert [fact.value for fact in on_air(script)] == [55.012, 54.998]


def test_writing_where_nothing_can_be_written_is_refused(on_air, mike):
    async def script(service):
        service.air.append(mike)
        async with opener(service)[0]() as line:
            with pytest.raises(OSError, match="name the characteristic as write"):
                await line.send(b"READ?")
        with pytest.raises(OSError, match="can be written to"):
            async with opener(service, {"write": ASKS})[0]():
                pass

    on_air(script)


def test_the_battery_is_told_at_first_and_when_it_changes(on_air, mike, length, charge):
    async def script(service):
        service.air.append(mike)
        told = []
        async with listening(*opener(service)) as (line, hear):
            assert isinstance(line, StatusReporter)
            line.tell = told.append
            for level in (b"\x57", b"\x56", b"\x56", b"\xff", b""):
                service.notify(length, um(55_012))
                await hear()
                service.notify(charge, level)
                await asyncio.sleep(0.02)
        return told

    assert on_air(script) == [Battery(87), Battery(86)]


def test_a_battery_that_may_not_be_read_does_not_matter(on_air, bluez, mike, length, charge):
    charge.refuses = bluez.Refused("NotPermitted", "Not paired")

    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service)) as (_, hear):
            service.notify(length, um(55_012))
            return await hear()

    assert on_air(script).value == 55.012


@pytest.mark.parametrize("forgotten", [False, True], ids=["remembered", "forgotten"])
def test_a_gauge_that_was_out_of_range_or_off_is_found_again(on_air, mike, length, forgotten):
    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service)
        for said in SAID:
            async with listening(open_, dialect) as (_, hear):
                service.notify(length, um(said))
                assert (await hear()).value == said / 1000
                service.lose(mike)
                if forgotten:
                    service.forget(mike)
                with pytest.raises(OSError, match=f"ble {ADDRESS}: .*out of range, switched off") as lost:
                    await hear()
        return str(lost.value)

    assert "it is looked for" in on_air(script)
    assert mike.connections == len(SAID)


def test_a_gauge_that_is_not_there_is_said_and_heard_when_it_comes(on_air, mike, length):
    mike.in_range = False

    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service, search=0.1)
        with pytest.raises(OSError, match=r"not in sight for 0\.1 s: switch the instrument on"):
            async with open_():
                pass
        mike.in_range = True
        async with listening(open_, dialect) as (_, hear):
            service.notify(length, um(55_012))
            return await hear()

    assert on_air(script).value == 55.012


def test_an_adapter_switched_off_and_on_is_lost_said_and_used_again(on_air, mike, length):
    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service, search=1.0)
        await loss(open_, lambda: service.power(on=False))
        with pytest.raises(OSError, match="Bluetooth is switched off on this computer: switch it on"):
            async with open_():
                pass
        service.power(on=True)
        return await heard_again(open_, dialect, lambda: service.notify(length, um(55_012)))

    assert on_air(script).value == 55.012


def test_an_adapter_pulled_out_is_noticed_though_nothing_says_disconnected(on_air, mike, length):
    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service, search=1.0)
        why = await loss(open_, service.unplug)
        with pytest.raises(OSError, match="no Bluetooth adapter: plug one in"):
            async with open_():
                pass
        service.plug()
        return why, await heard_again(open_, dialect, lambda: service.notify(length, um(55_012)))

    why, heard = on_air(script)

    assert "its Bluetooth adapter was unplugged" in why
    assert heard.value == 55.012


def test_a_bluetooth_service_that_restarts_is_noticed_and_the_gauge_found_again(on_air, mike, length):
    """The library goes on saying "connected"."""

    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service, search=1.0)
        why = await loss(open_, service.stop)
        with pytest.raises(OSError, match="Bluetooth service is not running"):
            async with open_():
                pass
        await service.start()
        return why, await heard_again(open_, dialect, lambda: service.notify(length, um(55_012)))

    why, heard = on_air(script)

    assert "the system's Bluetooth service is not running: it is awaited" in why
    assert heard.value == 55.012


def test_a_service_that_restarts_at_once_is_noticed_too(on_air, mike, length):
    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service, search=1.0)

        async def restart():
            await service.stop()
            await service.start()

        await loss(open_, restart)
        return await heard_again(open_, dialect, lambda: service.notify(length, um(55_012)))

    assert on_air(script).value == 55.012


def test_a_service_that_hangs_is_given_up(on_air, mike, length, monkeypatch):
    """It hangs while the gauge is connected to, while it is read, and while it is looked for."""
    for limit in ("ble.ANSWER", "radio.ANSWER", "device.ANSWER", "device.CONNECT"):
        monkeypatch.setattr(f"capture.links.bluetooth.{limit}", 0.3)
    length.flags = ("read",)

    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service, {"read_every": 0.02}, search=0.3)

        async def refused():
            with pytest.raises(OSError, match=f"ble {ADDRESS}: ") as lost:
                async with open_():
                    pass
            return str(lost.value)

        service.publish("Connect")
        connecting = await refused()
        service.publish(False)
        reading = await loss(open_, lambda: service.publish(True))
        looking = await refused()
        service.publish(False)
        return [connecting, reading, looking], await heard_again(open_, dialect, lambda: None)

    whys, heard = on_air(script)

    assert all("no answer in time" in why for why in whys)
    assert heard.value == 55.012


def test_a_message_bus_that_dies_is_said_and_the_gauge_found_on_the_next(private_bus, bluez, mike, length):
    """A bus of the test's own, so that it may be killed."""

    async def script(bus):
        service = bluez.Bluez()
        await service.start()
        service.air.append(mike)
        open_, dialect = opener(service, search=1.0)
        why = await loss(open_, bus.kill)
        await service.stop()
        with pytest.raises(OSError, match=r"message bus .* can't be reached"):
            async with open_():
                pass
        bus.start()
        await service.start()
        heard = await heard_again(open_, dialect, lambda: service.notify(length, um(55_012)))
        await service.stop()
        return why, heard

    with bluez.PrivateBus() as bus:
        why, heard = asyncio.run(script(bus))

    assert "the connection was lost" in why
    assert heard.value == 55.012


def test_a_value_that_wants_pairing_says_so(on_air, bluez, mike, length):
    """ATT error 0x0F is insufficient encryption (Core Specification, volume 3, part F, 3.4.1.1)."""
    length.flags = ("read",)
    length.refuses = bluez.Refused("Failed", "Operation failed with ATT error: 0x0f")

    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service)) as (_, hear):
            with pytest.raises(OSError, match=f"ble {ADDRESS}: it wants to be paired: pair it once"):
                await hear()

    on_air(script)


def test_a_gauge_lost_in_the_middle_of_connecting_is_tried_again(on_air, bluez, mike, length):
    mike.faults = [
        bluez.Refused("Failed", "le-connection-abort-by-peer"),
        bluez.Refused("InProgress", "busy"),
        bluez.Refused("AuthenticationFailed", "no"),
    ]

    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service)
        for due in ("le-connection-abort-by-peer", "busy with another device", "pair it once"):
            with pytest.raises(OSError, match=due):
                async with open_():
                    pass
        async with listening(open_, dialect) as (_, hear):
            service.notify(length, um(55_012))
            return await hear()

    assert on_air(script).value == 55.012


def test_a_gauge_lost_while_its_services_are_looked_for_is_tried_again(on_air, mike, length):
    mike.resolves = False

    async def script(service):
        service.air.append(mike)
        open_, dialect = opener(service)
        opening = asyncio.ensure_future(open_().__aenter__())
        await service.connected.wait()
        service.lose(mike)
        with pytest.raises(OSError, match=f"ble {ADDRESS}: failed to discover services"):
            await opening
        mike.resolves = True
        async with listening(open_, dialect) as (_, hear):
            service.notify(length, um(55_012))
            return await hear()

    assert on_air(script).value == 55.012


def test_a_gauge_left_connected_by_a_killed_program_is_found_though_it_does_not_advertise(
    on_air, mike, length
):
    async def script(service):
        service.air.append(mike)
        async with Radio().sightings() as reader:
            await reader.get()
        await service._connect("Connect", service.path(mike))
        async with listening(*opener(service, search=0.1)) as (_, hear):
            service.notify(length, um(55_012))
            return await hear()

    assert on_air(script).value == 55.012


@pytest.mark.parametrize(
    ("spoken", "said"),
    [(0, "is connected but has given no value for 0.1 s: press its data button"), (1, "has fallen silent")],
)
def test_a_device_that_connects_but_does_not_speak_is_said_after_a_set_time(
    on_air, mike, length, spoken, said
):
    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service, {"silence": 0.1})) as (_, hear):
            for _ in range(spoken):
                service.notify(length, um(55_012))
                await hear()
            with pytest.raises(OSError, match=said):
                await hear()

    on_air(script)


def test_a_gauge_that_goes_on_speaking_is_never_called_silent(on_air, mike, length):
    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service, {"silence": 0.6})) as (_, hear):
            for _ in range(5):
                await asyncio.sleep(0.2)
                service.notify(length, um(55_012))
                assert (await hear()).value == 55.012

    on_air(script)


def test_a_gauge_with_a_data_button_may_be_silent_when_nobody_set_a_time(on_air, mike, length):
    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service)) as (_, hear):
            waiting = asyncio.ensure_future(hear())
            await asyncio.sleep(0.3)
            assert not waiting.done()
            service.notify(length, um(55_012))
            return await waiting

    assert on_air(script).value == 55.012


def test_two_gauges_look_connect_and_speak_side_by_side(on_air, bluez, mike, length):
    """The service refuses a second scan by one program, and connects badly during a scan."""
    other_length = bluez.Characteristic(bluez.sig(0x2C0A))
    other = bluez.Peripheral("C0:00:00:00:00:56", "Bore gauge", {bluez.sig(0x185A): [other_length]})

    async def script(service):
        radio = Radio()
        ways = [
            ble({"ble": name}, measures="diameter", radio=radio, search=10.0)
            for name in (ADDRESS, "Bore gauge")
        ]
        absent = ble({"ble": "Depth gauge"}, measures="infeed", radio=radio, search=0.5)[0]

        async def never():
            with pytest.raises(OSError, match="ble Depth gauge: not in sight"):
                async with absent():
                    pass

        async def one(way, characteristic, value):
            async with listening(*way) as (_, hear):
                service.notify(characteristic, value)
                return await hear()

        service.air += [mike, other]
        async with asyncio.TaskGroup() as group:
            group.create_task(never())
            tasks = [
                group.create_task(one(ways[0], length, um(55_012))),
                group.create_task(one(ways[1], other_length, struct.pack("<I", 550_123))),
            ]
        return [task.result().value for task in tasks], service.most_scanning

    assert on_air(script) == ([55.012, 55.0123], 0)


@pytest.mark.parametrize("moment", ["scanning", "connecting", "listening"])
def test_a_link_cancelled_at_any_moment_leaves_nothing_behind(on_air, mike, moment):
    mike.in_range = moment != "scanning"
    mike.resolves = moment != "connecting"

    async def script(service):
        service.air.append(mike)
        before = asyncio.all_tasks()

        async def hold():
            async with opener(service)[0]() as line:
                await listen(line)

        task = asyncio.ensure_future(hold())
        await asyncio.sleep(0.3)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        await asyncio.sleep(0.05)
        left = [t for t in asyncio.all_tasks() - before if "_monitor_bus_disconnect" not in repr(t)]
        connected = service.path(mike) in service.objects and service._connected(service.path(mike))
        return left, service.scanning, connected

    left, scanning, connected = on_air(script)

    assert not left
    assert not scanning
    assert not connected


@pytest.mark.parametrize("value", [b"", b"\x01", b"\x1b[31m", b"\xff" * 512, b"\0" * 4000, b"<b>55</b>"])
def test_hostile_bytes_are_garbled_and_the_next_value_is_heard(on_air, mike, length, value):
    async def script(service):
        service.air.append(mike)
        async with listening(*opener(service)) as (_, hear):
            service.notify(length, value)
            service.notify(length, um(55_012))
            heard = [await hear()]
            while not isinstance(heard[-1], Reading):
                heard.append(await hear())
        return heard

    *garbled, reading = on_air(script)

    assert garbled
    assert all(isinstance(fact, Garbled) for fact in garbled)
    assert reading.value == 55.012


def test_a_hostile_description_comes_out_harmless(on_air, mike, length):
    length.descriptors[0x2901] = b"\x1b[2J\r\nOD\xff\xe2\x80\xae" + b"x" * 400

    async def script(service):
        service.air.append(mike)
        async with opener(service)[0]() as line:
            return line.detail

    detail = on_air(script)

    assert detail.isprintable()
    assert len(detail) < 120


@pytest.mark.parametrize(
    ("link", "settings", "why"),
    [
        ({"ble": ""}, {}, "`str` of length >= 1"),
        ({"ble": 55}, {}, "Expected `str`, got `int`"),
        ({"read_every": 0}, {}, "`float` > 0.0 - at `\\$.read_every`"),
        ({"silence": "long"}, {}, "got `str` - at `\\$.silence`"),
        ({"value": "reading"}, {}, f"^ble {ADDRESS}: 'reading' is no UUID"),
        ({"value": "2C08@here"}, {}, "after @ is due the place on the device"),
        ({"service": "0x2"}, {}, "'0x2' is no UUID"),
        ({"bytes": True, "value": PRIVATE}, {}, "a stream of bytes needs a dialect"),
        ({}, {"dialect": text_values()}, "a dialect needs the characteristic that it reads"),
    ],
)
def test_a_wrong_setting_is_refused_before_anything_is_opened(link, settings, why):
    with pytest.raises(ValueError, match=why):
        opener(None, link, **settings)
