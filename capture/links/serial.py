"""A serial port, opened by device path, USB identity or address on the network."""

from __future__ import annotations

import asyncio
import errno
import sys
import threading
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, closing, suppress
from typing import Any, Literal

import serial
from msgspec import Struct

from capture.links.link import Link, Open
from capture.links.ports import device_of, ports

_FAULTS: tuple[type[Exception], ...] = (
    OSError,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    ArithmeticError,
    RuntimeError,
)
"""What pyserial and its URL handlers raise; TypeError and AttributeError when a port goes away in use."""
if sys.platform != "win32":
    import termios

    _FAULTS = (*_FAULTS, termios.error)

_BACKLOG = 1024
"""Chunks that may wait for the program; behind them the port itself has to wait."""
_BIGGEST = 65536
"""Bytes in one chunk at most, so that an instrument that never pauses is heard at all."""
_PATIENCE = 1.0
"""Seconds that closing waits for a port which is still opening or won't close."""


class _Line(Struct, frozen=True):
    """How a port is to be opened."""

    spec: str
    options: dict[str, Any]
    dtr: bool
    rts: bool

    def open(self) -> serial.SerialBase:
        url = device_of(self.spec, ports() if self.spec.startswith("usb:") else ())
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
    or anything else that pyserial can open: `socket://host:port`, `rfc2217://host:port`, `spy://…`.
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
    """A port with the one thread that opens it, reads it and closes it."""

    def __init__(self, line: _Line) -> None:
        self.detail = line.spec
        self._line = line
        self._loop = asyncio.get_running_loop()
        self._port: serial.SerialBase | None = None
        self._open: asyncio.Future[None] = self._loop.create_future()
        self._chunks: asyncio.Queue[tuple[bytes, int] | OSError] = asyncio.Queue()
        self._sending = asyncio.Lock()
        self._ended = asyncio.Event()
        self._room = threading.Semaphore(_BACKLOG)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"port {line.spec}", daemon=True)
        self._thread.start()

    async def opened(self) -> None:
        """Wait until the port is open; raises OSError when it can't be opened."""
        await self._open

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        while True:
            item = await self._chunks.get()
            if isinstance(item, OSError):
                self._chunks.put_nowait(item)  # lost stays lost for whoever asks next
                raise item
            self._room.release()
            yield item

    async def send(self, data: bytes) -> None:
        async with self._sending:
            await asyncio.to_thread(self._write, data)

    async def close(self) -> None:
        """End the thread, which closes the port."""
        self._stop.set()
        port = self._port
        if port is not None and hasattr(port, "cancel_read"):
            with suppress(*_FAULTS):  # the port may be closing by itself at this very moment
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
        except _FAULTS as error:
            raise _fault(self._line.spec, error) from error

    # From here on: the thread.

    def _run(self) -> None:
        fault = OSError(f"{self._line.spec} was closed")
        try:
            with closing(self._line.open()) as port:
                self._port = port
                self._tell(self._say_open, port.name or self._line.spec)
                self._pump(port)
        except _FAULTS as error:
            fault = _fault(self._line.spec, error)
        finally:
            self._tell(self._say_ended, fault)

    def _pump(self, port: serial.SerialBase) -> None:
        while not self._stop.is_set():
            data = port.read(1)
            if not data:
                continue
            heard = time.monotonic_ns()
            try:
                while len(data) < _BIGGEST and (waiting := port.in_waiting):
                    data += port.read(waiting)
            finally:  # what came before the plug was pulled counts
                self._hand_over(data, heard)

    def _hand_over(self, data: bytes, heard: int) -> None:
        while not self._room.acquire(timeout=0.1):
            if self._stop.is_set():
                return
        self._tell(self._chunks.put_nowait, (data, heard))

    def _tell(self, what: Callable[..., None], *arguments: Any) -> None:
        try:
            self._loop.call_soon_threadsafe(what, *arguments)
        except RuntimeError:  # the loop is closed: nobody listens any more
            self._stop.set()

    # Called in the loop, on behalf of the thread.

    def _say_open(self, name: str) -> None:
        if name != self._line.spec:
            self.detail = f"{self._line.spec} ({name})"
        if not self._open.done():
            self._open.set_result(None)

    def _say_ended(self, fault: OSError) -> None:
        if not self._open.done():
            self._open.set_exception(fault)
        self._chunks.put_nowait(fault)
        self._ended.set()


def _fault(spec: str, error: Exception) -> OSError:
    """What happened to the port, and what to do, for a person."""
    text = str(error)
    number = error.errno if isinstance(error, OSError) else None
    if type(error) is OSError and number is None:
        return error  # ours, from looking for a USB identity
    for numbers, words, sentence in _SENTENCES:
        if number in numbers or any(word in text for word in words):
            return OSError(f"{spec}: {sentence}")
    return OSError(f"{spec}: {text or type(error).__name__}")


_SENTENCES: tuple[tuple[set[int], tuple[str, ...], str], ...] = (
    (
        {errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF, errno.EPIPE, errno.ECONNRESET},
        (
            *("disconnected", "returned no data", "reader thread died", "that is not open"),
            *("NoneType", "interpreted as an integer"),  # a port that was closed in the middle of a call
            *("ClearCommError", "ReadFile failed", "WriteFile failed", "GetOverlappedResult failed"),
        ),
        "the connection was lost: unplugged, or switched off",
    ),
    (
        {errno.ENOENT},
        ("FileNotFoundError",),
        "no such port; plug the cable in, or see `tenths gauges` for the ports there are",
    ),
    (
        {errno.EBUSY, errno.EAGAIN},
        ("exclusively lock", "PermissionError"),  # the latter is how Windows says that a port is in use
        "busy: another program has this port open; close that program",
    ),
    (
        {errno.EACCES, errno.EPERM},
        (),
        "not permitted; on Linux do `sudo usermod -aG dialout $USER` (or group uucp) and log in again",
    ),
    (
        {errno.ECONNREFUSED},
        ("refused",),
        "nothing listens there; check that the device server is on, and its address and port number",
    ),
    (
        set(),
        ("seem to support RFC2217",),
        "no RFC 2217 device server answers there; where bytes go plainly over TCP, socket:// was due",
    ),
    (
        {errno.EHOSTUNREACH, errno.ENETUNREACH, errno.ETIMEDOUT},
        ("timed out", "Name or service not known", "getaddrinfo failed", "unreachable"),
        "no way to that address; check it, the device server and the network",
    ),
    (
        {errno.EINVAL, errno.ENOTTY},
        ("Invalid argument", "Inappropriate ioctl", "configure port"),
        "this port can't do these settings (baud, bytesize, parity, stopbits), or it is no serial port",
    ),
)
"""Error numbers and words of the systems and of pyserial, and what they mean to a person."""
