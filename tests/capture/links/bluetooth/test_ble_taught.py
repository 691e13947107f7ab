"""A gauge of private values taught over the air, by the command that the screen starts."""

from __future__ import annotations

import asyncio
import json
import struct
import sys

import pytest

pytestmark = pytest.mark.bluetooth
ADDRESS = "C0:00:00:00:00:55"


@pytest.fixture
def gauge(bluez):
    """A device that sends text of its own on a characteristic of its own, and tells a length beside it."""
    text = bluez.Characteristic(bluez.sig(0xFFE1), ("notify",))
    length = bluez.Characteristic(bluez.sig(0x2C0A), ("read",), struct.pack("<I", 550_123))
    services = {bluez.sig(0xFFE0): [text], bluez.sig(0x185A): [length]}
    return bluez.Peripheral(ADDRESS, "Sleeve mike", services), text


async def tenths(*words: str):
    return await asyncio.create_subprocess_exec(
        sys.executable, "-m", "capture.cli", *words, "--json", stdin=-1, stdout=-1
    )


def test_what_a_device_offers_is_told_and_what_needs_no_teaching_reads_already(on_air, gauge):
    found = {}

    async def script(service):
        service.air.append(gauge[0])
        asked = await tenths("gauges", "--ask", ADDRESS)
        said, _ = await asked.communicate()
        found.update(json.loads(said))

    on_air(script)

    offers = {offer["value"]: offer for offer in found["offers"]}
    assert (offers["FFE1"]["reads"], offers["FFE1"]["unit"]) == ("", "")
    assert (offers["2C0A"]["reads"], offers["2C0A"]["unit"]) == ("55.0123 mm", "mm")
    assert "Length" in offers["2C0A"]["what"]


def test_a_gauge_is_taught_over_the_air(on_air, gauge):
    device, text = gauge
    reads = {}

    async def script(service):
        service.air.append(device)
        lesson = await tenths("teach", "--ble", ADDRESS, "--value", "FFE1")

        async def until(kind, **wanted):
            while line := await lesson.stdout.readline():
                said = json.loads(line)
                if said["kind"] == kind and wanted.items() <= said.items():
                    return said
            raise AssertionError(f"no {kind} with {wanted}")

        await until("trouble", why="")
        for shown in ("123.456", "-98.765", "0.004"):
            service.notify(text, f"V{float(shown):+09.3f}\r\n".encode())
            await until("came", since=12)
            wish = {"do": "take", "shown": shown, "unit": "mm"}
            lesson.stdin.write(json.dumps(wish).encode() + b"\n")
            await until("answered", why="")
        service.notify(text, b"V+0055.120\r\n")
        reads.update(await until("reads", shown="55.120"))
        lesson.stdin.close()
        await lesson.wait()

    on_air(script)

    assert reads["unit"] == "mm"
