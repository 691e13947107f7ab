"""Ports of our own: pseudo-terminals that can be unplugged, and a device server on the loopback address."""

from __future__ import annotations

import asyncio
import contextlib
import os
import pty
import socket
import threading
import time
import tty
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from pathlib import Path

import pytest
import serial
import serial.rfc2217


class Plug:
    """A pseudo-terminal behind a name that stays, so that it can be plugged in again."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.gauge = -1
        self.plug()

    def plug(self) -> None:
        self.gauge, terminal = pty.openpty()
        tty.setraw(terminal)
        self.path.symlink_to(os.ttyname(terminal))
        os.close(terminal)

    def unplug(self) -> None:
        os.close(self.gauge)
        self.gauge = -1
        self.path.unlink()

    def say(self, data: bytes) -> None:
        os.write(self.gauge, data)


@pytest.fixture
def plug(tmp_path: Path) -> Iterator[Plug]:
    """A port with the gauge's end in our hands."""
    port = Plug(tmp_path / "ttyGauge")
    yield port
    if port.gauge >= 0:
        port.unplug()


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
