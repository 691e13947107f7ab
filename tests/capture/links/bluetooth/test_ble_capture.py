"""A whole capture over the air: sheet to recording, through every loss, without restarting anything."""

from __future__ import annotations

import asyncio
import struct

import pytest

from capture.events import Battery, Down, Reading, Up
from capture.host.clock import Clock
from capture.ingest.daemon import capture
from capture.ingest.instruments import instruments_of
from capture.ingest.sequencer import DecisionEngine
from capture.recording.opening import create
from capture.sheet.reader import read_sheet

pytestmark = pytest.mark.bluetooth

SHEET = """
[job]
name = "Jig-borer spindle sleeve"

[[gauge]]
name = "mike"
measures = "diameter"
link = { ble = "C0:00:00:00:00:55" }

[[gauge]]
name = "probe"
measures = "temperature"
part = "shaft"
link = { ble = "Probe", read_every = 0.1 }
"""


@pytest.fixture
def gauges(bluez):
    length = bluez.Characteristic(bluez.sig(0x2C0A), ("notify",))
    charge = bluez.Characteristic(bluez.sig(0x2A19), value=b"\x57")
    warmth = bluez.Characteristic(bluez.sig(0x2A6E), ("read",), struct.pack("<h", 2034))
    mike = bluez.Peripheral("C0:00:00:00:00:55", "Sleeve mike", {bluez.sig(0x185A): [length, charge]})
    probe = bluez.Peripheral("C0:00:00:00:00:56", "Probe", {bluez.sig(0x181A): [warmth]})
    return mike, probe, length


def test_a_capture_goes_on_through_every_loss(on_air, gauges, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    mike, probe, length = gauges
    job, plain = read_sheet(SHEET, "sleeve.toml")
    events, coming = [], asyncio.Queue()

    def step(state, event):
        events.append(event)
        coming.put_nowait(event)
        return state

    desk = DecisionEngine(None, step, lambda state, _at: (state, []), lambda words, _: words, str)

    async def heard(wanted, source="mike"):
        event = await coming.get()
        while not (isinstance(event.fact, wanted) and event.source == source):
            event = await coming.get()

    async def script(service):
        service.air += [mike, probe]
        clock = Clock.start()
        recorder = create(tmp_path / "sleeve.jsonl", plain, clock)
        stop = asyncio.Event()
        running = asyncio.create_task(
            capture(
                instruments_of(job, tmp_path),
                recorder,
                clock,
                desk,
                folder=tmp_path,
                on_ready=lambda *_: None,
                on_trouble=pytest.fail,
                stop=stop,
                signals=False,
            )
        )
        await heard(Battery)
        for size, (breaks, mends) in enumerate(_losses(service, mike), 550_000):
            service.notify(length, struct.pack("<I", size))
            await heard(Reading)
            await breaks()
            await heard(Down)
            await mends()
            await heard(Up)
        service.notify(length, struct.pack("<I", 559_999))
        await heard(Reading)
        await heard(Reading, "probe")
        stop.set()
        await running

    on_air(script)

    mikes = [event.fact for event in events if event.source == "mike"]
    sizes = [fact.value for fact in mikes if isinstance(fact, Reading)]
    assert sizes == [55.0, 55.0001, 55.0002, 55.0003, 55.0004, 55.9999]
    assert Battery(87.0) in mikes
    assert {e.fact.value for e in events if e.source == "probe" and isinstance(e.fact, Reading)} == {20.34}


def _losses(service, mike):
    """Pairs of what breaks and what mends."""

    async def nothing():
        pass

    async def lose():
        service.lose(mike)

    async def forget():
        service.forget(mike)

    async def switch_off():
        service.power(on=False)

    async def switch_on():
        service.power(on=True)

    async def unplug():
        service.unplug()

    async def plug():
        service.plug()

    return [
        (lose, nothing),
        (forget, nothing),
        (switch_off, switch_on),
        (unplug, plug),
        (service.stop, service.start),
    ]
