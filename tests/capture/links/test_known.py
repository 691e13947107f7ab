"""Gauges of a sheet over real ports, with pymodbus as the other end of a Modbus line."""

from __future__ import annotations

import asyncio
import os
from contextlib import asynccontextmanager

import pytest
from pymodbus.framer import FramerType
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from capture.dialects.dialect import Decoder
from capture.dialects.known import dialect_for
from capture.events import Garbled, Reading
from capture.links.known import wired
from capture.sheet.job import Gauge

pytestmark = pytest.mark.usefixtures("nothing_left_open")


def gauge(name="mike", **settings):
    return Gauge(name, "diameter", **settings)


def ways_of(*gauges: Gauge):
    return wired(gauges, {gauge.name: dialect_for(gauge, str) for gauge in gauges})


async def first(way, count=1):
    """The first facts heard over a way."""
    open_, dialect = way
    decoder, facts = Decoder(dialect), []
    async with asyncio.timeout(20), open_() as link:
        async for data, _ in link.chunks():
            decoder, heard = decoder.feed(data)
            facts += heard
            if len(facts) >= count:
                break
    return facts[:count]


def test_a_serial_gauge_is_heard_with_the_settings_of_its_sheet(plug):
    async def session():
        way = ways_of(gauge(link={"serial": str(plug.path), "baud": 4800}, unit="in"))["mike"]
        heard = asyncio.create_task(first(way, 2))
        await asyncio.sleep(0.2)
        plug.say(b"2.00000\r\n2.00005\r\n")

        assert [fact.value for fact in await heard] == [50.8, 50.80127]

    asyncio.run(session())


def test_two_channels_of_one_box_are_two_gauges_on_one_port(plug):
    async def session():
        link = {"serial": str(plug.path)}
        ways = ways_of(gauge("left", link=link, channel="1"), gauge("right", link=link, channel="2"))
        both = asyncio.gather(first(ways["left"], 2), first(ways["right"], 2))
        await asyncio.sleep(0.2)
        plug.say(b"1:+1.000\r\n2:+2.000\r\n1:+1.001\r\n2:+2.001\r\n")

        left, right = await both

        assert [[fact.value for fact in facts] for facts in (left, right)] == [[1.0, 1.001], [2.0, 2.001]]

    asyncio.run(session())


def test_two_channels_that_must_be_asked_take_turns_on_one_port(plug):
    async def session():
        loop, questions = asyncio.get_running_loop(), []

        def answer():
            loop.add_reader(plug.gauge, listen)
            questions.append(os.read(plug.gauge, 100))
            plug.say(questions[-1].rstrip(b"?\r") + b":+1.250\r\n")

        def listen():
            loop.remove_reader(plug.gauge)
            loop.call_later(0.03, answer)  # long enough for a second question to come too early

        loop.add_reader(plug.gauge, listen)
        link = {"serial": str(plug.path)}
        ways = ways_of(
            gauge("left", link=link, channel="1", ask={"send": "1?\r", "every": 0.01}),
            gauge("right", link=link, channel="2", ask={"send": "2?\r", "every": 0.01}),
        )

        left, right = await asyncio.gather(first(ways["left"], 5), first(ways["right"], 5))

        assert {fact.raw.strip() for fact in left} == {"1:+1.250"}
        assert {fact.raw.strip() for fact in right} == {"2:+1.250"}
        assert set(questions) == {b"1?\r", b"2?\r"}

    asyncio.run(session())


# One instrument with -12.345 mm in micrometres at register 16, another with 0.5 in as a float at 32.
BUS = [
    SimDevice(1, SimData(16, values=-12345, datatype=DataType.INT32)),
    SimDevice(2, SimData(32, values=0.5, datatype=DataType.FLOAT32)),
]
COUNTS = {"unit": 1, "register": 16, "scale": 0.001, "every": 0.01}
FLOATS = {"unit": 2, "register": 32, "kind": "f32", "every": 0.01}


@asynccontextmanager
async def bus_over_tcp():
    """Modbus RTU frames over TCP, as a device server carries them."""
    server = ModbusTcpServer(BUS, framer=FramerType.RTU, address=("127.0.0.1", 0))
    serving = asyncio.create_task(server.serve_forever(background=True))
    await serving
    yield f"socket://127.0.0.1:{server.transport.sockets[0].getsockname()[1]}"
    await server.shutdown()


@asynccontextmanager
async def bus_over_wire(ours, theirs):
    """Two pseudo-terminals with their far ends joined, which is a cable."""
    loop = asyncio.get_running_loop()
    for here, there in ((ours, theirs), (theirs, ours)):
        loop.add_reader(here.gauge, lambda here=here, there=there: there.say(os.read(here.gauge, 512)))
    server = ModbusSerialServer(BUS, framer=FramerType.RTU, port=str(theirs.path), baudrate=9600)
    await server.serve_forever(background=True)
    yield str(ours.path)
    await server.shutdown()
    for end in (ours, theirs):
        loop.remove_reader(end.gauge)


def test_two_instruments_on_one_modbus_line_are_read_over_a_wire(plug, another_plug):
    async def session():
        async with bus_over_wire(plug, another_plug) as port:
            ways = ways_of(
                gauge("one", link={"modbus": port, **COUNTS}),
                gauge("two", link={"modbus": port, **FLOATS}, unit="in"),
            )
            one, two = await asyncio.gather(first(ways["one"], 3), first(ways["two"], 3))

        assert [(fact.value, fact.digits) for fact in one] == [(-12.345, 3)] * 3
        assert [(fact.value, fact.shown) for fact in two] == [(12.7, "in")] * 3

    asyncio.run(session())


@pytest.mark.parametrize(
    ("settings", "due"),
    [
        (COUNTS, Reading),
        (COUNTS | {"function": 4}, Reading),
        (COUNTS | {"order": "CDAB"}, Reading),
        (COUNTS | {"register": 99}, Garbled),
    ],
)
def test_registers_are_read_over_tcp(settings, due):
    async def session():
        async with bus_over_tcp() as port:
            (fact,) = await first(ways_of(gauge(link={"modbus": port, **settings}))["mike"])

        assert isinstance(fact, due)
        assert (getattr(fact, "value", None) == -12.345) == (due is Reading and "order" not in settings)
        assert due is Reading or "no such register" in fact.why

    asyncio.run(session())


def test_an_address_where_nobody_is_does_not_answer(plug):
    link = {"modbus": str(plug.path), **COUNTS}

    with pytest.raises(OSError, match=r"ttyGauge: no answer to .*, 3 times within 0.05 s"):
        asyncio.run(first(ways_of(gauge(link=link, ask={"timeout": 0.05}))["mike"]))


def test_a_keyboard_gauge_has_a_way_with_its_dialect():
    ways = ways_of(gauge(link={"keyboard": "no such keyboard", "keys": {"KEY_SLASH": "-"}}))

    async def session():
        async with ways["mike"][0]():
            pass

    with pytest.raises(OSError, match="no such keyboard"):
        asyncio.run(session())

    assert ways["mike"][1].name == "decimal-line"


def test_gauges_reached_otherwise_are_left_out():
    assert wired([gauge(link={"ble": "mike"})], {}) == {}


@pytest.mark.parametrize(
    ("gauges", "words"),
    [
        ([gauge(link={"keyboard": "k"}, ask={"send": "?"})], "a keyboard can't be asked"),
        ([gauge(link={"serial": "COM3"}, ask={"send": "€"})], "ASCII text was due"),
        ([gauge(link={"serial": "COM3"}, ask={"send": "?", "every": 0})], "'mike': ask: every = 0"),
        (
            [gauge(link={"serial": "COM3"}), gauge("two", link={"serial": "COM3", "baud": 1200})],
            "'mike' and 'two' share COM3: the same baud",
        ),
    ],
)
def test_settings_that_contradict_each_other_are_named(gauges, words):
    with pytest.raises(ValueError, match="gauge") as caught:
        ways_of(*gauges)

    assert words in str(caught.value)
