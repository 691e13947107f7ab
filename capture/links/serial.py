"""A serial port, opened by device path, USB identity or address on the network."""

from __future__ import annotations

import asyncio
import errno
import os
import sys
import threading
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, closing, suppress
from typing import Any, Literal

import serial
from msgspec import Struct

from capture.links.link import Link, Open
from capture.links.ports import device_fault, device_of, port_fault, ports
from capture.links.serial_trouble import FAULTS, fault_of

_LOOP_WAITS = sys.platform == "linux"
"""Whether the loop itself can wait for a port: it cannot on Windows, and nobody tried it elsewhere."""
_UNDER_WAY = 0.03
"""Seconds in which bytes that are on their way when a port opens come out of an interface cable, which
holds them back for 16 ms (the usual setting of USB converters: common practice, no source); on a slow
line three characters, of ten bits each."""
_BACKLOG = 1024
"""Chunks that may wait for the program; behind them the port itself has to wait."""
_MOST = 4096
"""Bytes that the loop takes from a port at a time; Linux has no more of them ready."""
_BIGGEST = 65536
"""Bytes in one chunk at most, so that an instrument that never pauses is read at all."""
_PATIENCE = 1.0
"""Seconds that closing waits for a port which is still opening or won't close."""


class _Line(Struct, frozen=True):
    """How a port is to be opened."""

    spec: str
    options: dict[str, Any]
    dtr: bool
    rts: bool

    def open(self) -> serial.SerialBase:
        if fault := port_fault(self.spec):
            raise OSError(fault)
        url = device_of(self.spec, ports() if self.spec.startswith("usb:") else ())
        if fault := device_fault(url):
            raise OSError(fault)
        port = serial.serial_for_url(url, do_not_open=True, exclusive=True, **self.options)
        # What can't be cancelled from outside must look up by itself, soon.
        port.timeout = 0.5 if hasattr(port, "cancel_read") else 0.1
        if not url.startswith("rfc2217:"):  # whose handler refuses to open when this is set
            port.write_timeout = 2.0
        # Before opening, as some cables live on these lines and a glitch resets the instrument.
        port.dtr, port.rts = self.dtr, self.rts
        port.open()
        return port


def serial_link(
    spec: str,
    *,
    baud: int = 9600,
    bytesize: Literal[5, 6, 7, 8] = 8,
    parity: Literal["N", "E", "O", "M", "S"] = "N",
    stopbits: float = 1,
    dtr: bool = True,
    rts: bool = True,
    xonxoff: bool = False,
    rtscts: bool = False,
) -> Open:
    """How to open a serial port.

    *spec* is a device (`/dev/ttyUSB0`, `COM3`), a USB identity (`usb:VID:PID` or `usb:VID:PID:SERIAL`)
    or an address on the network (`socket://host:port`, `rfc2217://host:port`); see `port_fault`.
    *dtr* and *rts* are the
    levels of these lines from the moment of opening; some interface cables take their current from them.
    """
    options = {
        "baudrate": baud,
        "bytesize": bytesize,
        "parity": parity,
        "stopbits": stopbits,
        "xonxoff": xonxoff,
        "rtscts": rtscts,
    }
    line = _Line(spec, options, dtr, rts)

    @asynccontextmanager
    async def connect() -> AsyncIterator[Link]:
        connection = _Connection(line)
        try:
            await connection.opened()
            yield connection
        finally:
            await connection.close()

    return connect


class _Connection:
    """A port with the one thread that opens it, reads it and closes it.

    Where the loop can wait for a port by itself the thread leaves the reading to it, so that what
    is received is not handed from one thread to another first.
    """

    def __init__(self, line: _Line) -> None:
        self.detail = line.spec
        self.midway = False
        self.push: Callable[[bytes, int], None] | None = None
        self._line = line
        self._loop = asyncio.get_running_loop()
        self._port: serial.SerialBase | None = None
        self._open: asyncio.Future[None] = self._loop.create_future()
        self._chunks: asyncio.Queue[tuple[bytes, int] | Exception] = asyncio.Queue()
        self._sending = asyncio.Lock()
        self._ended = asyncio.Event()
        self._room = threading.Semaphore(_BACKLOG)
        self._stop = threading.Event()
        self._file: int | None = None
        """The port, where the loop waits for it."""
        self._fault: Exception | None = None
        self._thread = threading.Thread(target=self._run, name=f"port {line.spec}", daemon=True)
        self._thread.start()

    async def opened(self) -> None:
        """Wait until the port is open; raises OSError when it can't be opened."""
        await self._open

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        while True:
            item = await self._chunks.get()
            if isinstance(item, Exception):
                self._chunks.put_nowait(item)  # lost stays lost for whoever asks next
                raise item
            if self._file is None:
                self._room.release()
            elif self._chunks.qsize() == _BACKLOG - 1:
                self._loop.add_reader(self._file, self._receive)
            yield item

    async def send(self, data: bytes) -> None:
        async with self._sending:
            await asyncio.to_thread(self._write, data)

    async def close(self) -> None:
        """End the thread, which closes the port."""
        self._let_go()
        port = self._port
        if port is not None and hasattr(port, "cancel_read"):
            with suppress(*FAULTS):  # the port may be closing by itself at this very moment
                port.cancel_read()
        with suppress(TimeoutError):
            async with asyncio.timeout(_PATIENCE):
                await self._ended.wait()
            self._thread.join()

    def _write(self, data: bytes) -> None:
        try:
            if self._port is None:
                raise serial.PortNotOpenError
            self._port.write(data)
        except FAULTS as error:
            raise fault_of(self._line.spec, error) from error

    # In the loop, where it waits for the port.

    def _receive(self) -> None:
        at = time.monotonic_ns()
        if self._file is None:
            return
        try:
            data = os.read(self._file, _MOST)
        except BlockingIOError:
            return
        except OSError as error:
            self._lose(fault_of(self._line.spec, error))
            return
        if not data:
            self._lose(fault_of(self._line.spec, OSError(errno.EIO, "hung up")))
        elif self.push is None or not self._chunks.empty():
            self._chunks.put_nowait((data, at))
            if self._chunks.qsize() == _BACKLOG:
                self._loop.remove_reader(self._file)
        else:
            try:
                self.push(data, at)
            except Exception as error:  # noqa: BLE001 - raised again by `chunks`, where somebody listens
                self._lose(error)

    def _lose(self, fault: Exception) -> None:
        self._fault = fault
        self._let_go()

    def _let_go(self) -> None:
        if self._file is not None:
            self._loop.remove_reader(self._file)
            self._file = None
        self._stop.set()

    # From here on: the thread.

    def _run(self) -> None:
        fault: Exception = OSError(f"{self._line.spec} was closed")
        try:
            with closing(self._line.open()) as port:
                self._port = port
                self._stop.wait(max(_UNDER_WAY, 30.0 / self._line.options["baudrate"]))
                midway = port.in_waiting > 0
                file = port.fileno() if _LOOP_WAITS and type(port) is serial.Serial else None
                self._tell(self._say_open, port.name or self._line.spec, midway, file)
                if file is None:
                    self._pump(port)
                else:
                    self._stop.wait()
        except FAULTS as error:
            fault = fault_of(self._line.spec, error)
        finally:
            self._tell(self._say_ended, fault)

    def _pump(self, port: serial.SerialBase) -> None:
        while not self._stop.is_set():
            data = port.read(1)
            if not data:
                continue
            at = time.monotonic_ns()
            try:
                while len(data) < _BIGGEST and (waiting := port.in_waiting):
                    data += port.read(waiting)
            finally:  # what came before the plug was pulled counts
                self._hand_over(data, at)

    def _hand_over(self, data: bytes, at: int) -> None:
        while not self._room.acquire(timeout=0.1):
            if self._stop.is_set():
                return
        self._tell(self._chunks.put_nowait, (data, at))

    def _tell(self, what: Callable[..., None], *arguments: Any) -> None:
        try:
            self._loop.call_soon_threadsafe(what, *arguments)
        except RuntimeError:  # the loop is closed: nobody listens any more
            self._stop.set()

    # Called in the loop, on behalf of the thread.

    def _say_open(self, name: str, midway: bool, file: int | None) -> None:
        if name != self._line.spec:
            self.detail = f"{self._line.spec} ({name})"
        self.midway = midway
        if file is not None and not self._stop.is_set():
            self._file = file
            self._loop.add_reader(file, self._receive)
        if not self._open.done():
            self._open.set_result(None)

    def _say_ended(self, fault: Exception) -> None:
        fault = self._fault or fault
        if not self._open.done():
            self._open.set_exception(fault)
        self._chunks.put_nowait(fault)
        self._ended.set()
