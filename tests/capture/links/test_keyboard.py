from __future__ import annotations

import asyncio
import errno
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from capture.links.keyboard import keyboard_link

pytestmark = pytest.mark.usefixtures("nothing_left_open")
on_linux = pytest.mark.skipif(sys.platform != "linux", reason="only Linux lets a program take a keyboard")
GAUGE = {"name": "gauge keyboard", "phys": "usb-1/input0", "uniq": "c0:ff:ee:00:00:01"}


class Played:
    """An input device whose events are a script; a byte in its pipe says that the next batch is there."""

    def __init__(self, path, *, name, phys="", uniq="", keys=range(1, 112), taken=False) -> None:
        self.path, self.name, self.phys, self.uniq = path, name, phys, uniq
        self.keys, self.taken = keys, taken
        self.fd, self._wake = os.pipe()
        self.batches, self.grabbed = [], False

    def capabilities(self):
        return {1: list(self.keys)}

    def grab(self):
        if self.taken:
            raise OSError(errno.EBUSY, "Device or resource busy")
        self.grabbed = True

    def play(self, batch):
        self.batches.append(batch)
        os.write(self._wake, b"!")

    def read(self):
        os.read(self.fd, 1)
        batch = self.batches.pop(0)
        if isinstance(batch, OSError):
            raise batch
        return batch

    def close(self):
        if self.fd >= 0:
            os.close(self.fd)
            os.close(self._wake)
        self.fd, self.grabbed = -1, False


def keys(*names: str):
    from evdev import InputEvent, ecodes

    return [InputEvent(0, 0, 1, ecodes.ecodes[name], value) for name in names for value in (1, 0)]


@on_linux
@pytest.mark.parametrize("identity", ["/dev/input/event3", *GAUGE.values()])
def test_a_device_is_taken_by_any_of_its_names_and_its_keys_are_bytes(identity, hears):
    async def session():
        gauge = Played("/dev/input/event3", **GAUGE)
        other = Played("/dev/input/event1", name="keyboard")
        async with keyboard_link(identity, devices=lambda: ([other, gauge], 0))() as link:
            assert (gauge.grabbed, other.grabbed, other.fd) == (True, False, -1)
            assert link.detail == "gauge keyboard (/dev/input/event3)"

            gauge.play(keys("KEY_MINUS", "KEY_1"))
            gauge.play(BlockingIOError())
            gauge.play(keys("KEY_DOT", "KEY_5", "KEY_ENTER"))

            assert await hears(link.chunks(), 5) == b"-1.5\r"

            with pytest.raises(OSError, match="it only types"):
                await link.send(b"?")

            gauge.play(OSError(errno.ENODEV, "No such device"))
            for _ in range(2):
                with pytest.raises(OSError, match="unplugged or switched off"):
                    await hears(link.chunks(), 1)

        assert gauge.fd == -1

    asyncio.run(session())


@on_linux
def test_a_foot_pedal_says_what_the_sheet_has_for_its_keys(hears):
    async def session():
        pedal = Played("/dev/input/event4", name="pedal", keys=[272])
        words = {"BTN_LEFT": "pass 0.004\r"}
        async with keyboard_link("pedal", keys=words, devices=lambda: ([pedal], 0))() as link:
            pedal.play(keys("BTN_LEFT"))

            assert await hears(link.chunks(), 11) == b"pass 0.004\r"

    asyncio.run(session())


@on_linux
def test_of_the_devices_of_one_instrument_the_one_with_the_keys_is_taken():
    async def session():
        volume = Played("/dev/input/event3", **GAUGE, keys=[113, 114, 115])
        typing = Played("/dev/input/event4", **GAUGE)
        async with keyboard_link(GAUGE["uniq"], devices=lambda: ([volume, typing], 0))() as link:
            assert link.detail == "gauge keyboard (/dev/input/event4)"

    asyncio.run(session())


@on_linux
@pytest.mark.parametrize(
    ("identity", "refused", "settings", "sentence"),
    [
        ("pedal", 0, {}, "is not there; there is: 'gauge' at /dev/input/event3, phys 'one'"),
        ("pedal", 2, {}, "2 not permitted; do `sudo usermod -aG input"),
        ("gauge", 0, {}, "fits 2 devices, use another of their names: .*'one'.*'two'"),
        ("two", 0, {}, "another program has taken its keys"),
        ("one", 0, {"KEY_PEDAL": "x"}, "no key is called 'KEY_PEDAL'"),
    ],
)
def test_what_cannot_be_opened_is_said_and_everything_closed(identity, refused, settings, sentence):
    async def session():
        def devices():
            return [
                Played("/dev/input/event3", name="gauge", phys="one"),
                Played("/dev/input/event4", name="gauge", phys="two", taken=True),
            ], refused

        with pytest.raises(OSError, match=sentence):
            async with keyboard_link(identity, keys=settings, devices=devices)():
                pass

    asyncio.run(session())


def test_elsewhere_than_on_linux_the_page_is_pointed_to(monkeypatch):
    monkeypatch.setitem(sys.modules, "evdev", None)

    async def session():
        async with keyboard_link("gauge")():
            pass

    with pytest.raises(OSError, match="the dashboard's page listens to the keys"):
        asyncio.run(session())


LISTEN = """
import asyncio, json, sys
from capture.links.keyboard import keyboard_link, keyboards

async def session():
    async with keyboard_link(sys.argv[1])() as link:
        heard = b""
        async for data, _ in link.chunks():
            heard += data
            if b"\\r" in heard:
                return link.detail, heard.decode()

print(json.dumps([[board.uniq for board in keyboards()], *asyncio.run(session())]))
"""


@on_linux
def test_evdev_itself_types_a_line_from_a_played_device(played_keyboard):
    """The real evdev on a device that umockdev (package `umockdev`) plays: no such hardware is needed."""
    run = [*played_keyboard("-12.345\r"), sys.executable, "-c", LISTEN, "c0:ff:ee:00:00:01"]

    done = subprocess.run(run, capture_output=True, text=True, check=True, timeout=60, cwd=Path.cwd())

    assert json.loads(done.stdout) == [
        ["c0:ff:ee:00:00:01"],
        "played gauge (/dev/input/event3)",
        "-12.345\r",
    ]
