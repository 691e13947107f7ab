"""Ports of our own: pseudo-terminals that can be unplugged, and a device server on the loopback address."""

from __future__ import annotations

import asyncio
import contextlib
import importlib.util
import os
import pty
import shutil
import socket
import sys
import threading
import time
import tty
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import serial
import serial.rfc2217


class Plug:
    """A pseudo-terminal behind a name that stays, so that it can be plugged in again."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.gauge = self._held = -1
        self.plug()

    def plug(self) -> None:
        # Held open, as the gauge's end can't be read while nobody has the other open.
        self.gauge, self._held = pty.openpty()
        tty.setraw(self._held)
        self.path.symlink_to(os.ttyname(self._held))

    def unplug(self) -> None:
        os.close(self.gauge)
        os.close(self._held)
        self.gauge = self._held = -1
        self.path.unlink()

    def say(self, data: bytes) -> None:
        os.write(self.gauge, data)


@contextlib.contextmanager
def _plugged(path: Path) -> Iterator[Plug]:
    port = Plug(path)
    yield port
    if port.gauge >= 0:
        port.unplug()


@pytest.fixture
def plug(tmp_path: Path) -> Iterator[Plug]:
    """A port with the gauge's end in our hands."""
    with _plugged(tmp_path / "ttyGauge") as port:
        yield port


@pytest.fixture
def another_plug(tmp_path: Path) -> Iterator[Plug]:
    """A second port."""
    with _plugged(tmp_path / "ttyOther") as port:
        yield port


class _NoModemLines(serial.Serial):
    """A pseudo-terminal has no modem lines, which the server below polls."""

    cts = dsr = ri = cd = property(lambda _: False)

    def _update_dtr_state(self) -> None:
        pass

    def _update_rts_state(self) -> None:
        pass


class DeviceServer:
    """An RFC 2217 device server for one client at a time, made of pyserial's own protocol engine."""

    def __init__(self, path: Path) -> None:
        self.port = _NoModemLines(str(path), timeout=0.02)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"rfc2217://127.0.0.1:{self._listener.getsockname()[1]}"
        self._client: socket.socket | None = None
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()

    def write(self, data: bytes) -> None:
        """What the protocol engine has to say to the client."""
        assert self._client is not None
        self._client.sendall(data)

    def drop(self) -> None:
        """Lose the client."""
        assert self._client is not None
        self._client.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        if self._client is not None:
            with contextlib.suppress(OSError):
                self._client.shutdown(socket.SHUT_RDWR)
        self._thread.join()
        self.port.close()

    def _serve(self) -> None:
        while True:
            try:
                self._client, _ = self._listener.accept()
            except OSError:
                return
            with self._client as client, contextlib.suppress(OSError):
                engine = serial.rfc2217.PortManager(self.port, self)
                client.settimeout(0.01)
                self._carry(client, engine)

    def _carry(self, client: socket.socket, engine: serial.rfc2217.PortManager) -> None:
        while True:
            with contextlib.suppress(TimeoutError):
                data = client.recv(1024)
                if not data:
                    return
                self.port.write(b"".join(engine.filter(data)))
            if heard := self.port.read(self.port.in_waiting or 1):
                client.sendall(b"".join(engine.escape(heard)))


@pytest.fixture
def device_server(plug: Plug) -> Iterator[DeviceServer]:
    """A device server with the port in our hands behind it."""
    server = DeviceServer(plug.path)
    yield server
    server.close()


@pytest.fixture
def nothing_left_open() -> Iterator[None]:
    """Fails a test that leaves a thread or an open file behind."""

    def now() -> tuple[set[str], int]:
        threads = {thread.name for thread in threading.enumerate() if thread.name.startswith("port ")}
        return threads, len(list(Path("/proc/self/fd").iterdir()))

    before = now()
    yield
    deadline = time.monotonic() + 10
    while now() != before and time.monotonic() < deadline:
        time.sleep(0.01)

    assert now() == before


Hears = Callable[..., Awaitable[bytes]]


@pytest.fixture
def hears() -> Hears:
    """Reads chunks until so many bytes came, and checks their times."""

    async def read(chunks: AsyncIterator[tuple[bytes, int]], size: int) -> bytes:
        got, last = b"", 0
        async with asyncio.timeout(20):
            while len(got) < size:
                data, heard = await anext(chunks)
                assert last <= heard <= time.monotonic_ns()
                got, last = got + data, heard
        return got

    return read


@pytest.fixture(scope="session")
def bluez() -> ModuleType:
    """The stand-in of the Bluetooth service, a module beside this file."""
    spec = importlib.util.spec_from_file_location("bluez", Path(__file__).with_name("bluez.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bluez"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def private_bus(bluez: ModuleType) -> Iterator[Any]:
    """A message bus of our own; missing on a user's machine it is said, in CI it is a failure."""
    if shutil.which("dbus-daemon") is None:
        missing = pytest.fail if os.environ.get("CI") == "true" else pytest.skip
        missing("dbus-daemon is not installed: Bluetooth is not tested here (Debian: apt install dbus)")
    with bluez.PrivateBus() as bus:
        yield bus


@pytest.fixture
def on_air(bluez: ModuleType, private_bus: Any) -> Callable[[Callable[[Any], Awaitable[Any]]], Any]:
    """Runs a coroutine with a fresh Bluetooth service on the private bus, and no task left behind."""

    def run(script: Callable[[Any], Awaitable[Any]]) -> Any:
        async def main() -> Any:
            service = bluez.Bluez()
            await service.start()
            try:
                async with asyncio.timeout(30):
                    return await script(service)
            finally:
                await service.stop()

        return asyncio.run(main())

    return run


def _ioctl(name: str, answer: int, data: bytes, size: int) -> str:
    return f"{name} {answer} {data.ljust(size, bytes(1)).hex().upper()}"


@pytest.fixture
def played_keyboard(tmp_path: Path) -> Callable[[str], list[str]]:
    """The command before a command that lets it see a keyboard which types a text, by umockdev."""
    name, phys, uniq = b"played gauge\0", b"02:00:00:00:00:01\0", b"c0:ff:ee:00:00:01\0"
    kinds = (1 << 0 | 1 << 1 | 1 << 4).to_bytes(4, "little")
    keys = sum(1 << key for key in range(1, 112)).to_bytes(96, "little")
    misc = (1 << 4).to_bytes(8, "little")
    answers = [
        "@DEV /dev/input/event3",
        "EVIOCGID 0 0500341278560100",
        "EVIOCGVERSION 0 01000100",
        _ioctl("EVIOCGNAME", len(name), name, 256),
        _ioctl("EVIOCGPHYS", len(phys), phys, 256),
        _ioctl("EVIOCGUNIQ", len(uniq), uniq, 256),
        _ioctl("EVIOCGBIT(0)", 4, kinds, 4),
        _ioctl("EVIOCGBIT(1)", 96, keys, 96),
        _ioctl("EVIOCGBIT(4)", 96, misc, 96),
        _ioctl("EVIOCGBIT(0)", 96, kinds, 96),
        "EVIOCGEFFECTS 0 00000000",
    ]
    device = [
        "P: /devices/virtual/misc/uhid/0005:1234:5678.0001/input/input7/event3",
        "N: input/event3",
        "E: DEVNAME=/dev/input/event3",
        "E: MAJOR=13",
        "E: MINOR=67",
        "E: SUBSYSTEM=input",
        "E: ID_INPUT=1",
        "E: ID_INPUT_KEYBOARD=1",
        "A: dev=13:67",
    ]
    # Numbers of keys: linux/input-event-codes.h.
    codes = {"-": 12, ".": 52, "\r": 28, "0": 11} | {str(digit): digit + 1 for digit in range(1, 10)}

    def command(text: str) -> list[str]:
        pressed = [(codes[character], value) for character in text for value in (1, 0)]
        events = [
            f"E: {at * 0.008:.6f} {kind:04x} {code:04x} {value}"
            for at, (key, down) in enumerate(pressed)
            for kind, code, value in ((1, key, down), (0, 0, 0))
        ]
        for file, lines in (("device", device), ("ioctl", answers), ("events", events)):
            (tmp_path / file).write_text("\n".join(lines) + "\n")
        return [
            *("umockdev-run", "--device", str(tmp_path / "device")),
            *("--ioctl", f"/dev/input/event3={tmp_path / 'ioctl'}"),
            *("--evemu-events", f"/dev/input/event3={tmp_path / 'events'}", "--"),
        ]

    return command
