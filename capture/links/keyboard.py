"""Gauges that type like a keyboard, and foot pedals: their keys, taken for us alone."""

from __future__ import annotations

import asyncio
import errno
import time
from collections.abc import AsyncIterator, Callable, Iterable, Mapping, Sequence
from contextlib import asynccontextmanager
from os import fsdecode
from pathlib import Path
from typing import Protocol, TypeAlias

from msgspec import Struct

from capture.links.keys import EV_KEY, KeyEvent, Typist
from capture.links.link import Link, Open


class Device(Protocol):
    """An open input device: what we need of `evdev.InputDevice`."""

    name: str
    phys: str
    uniq: str
    fd: int

    @property
    def path(self) -> str | bytes:
        """Where the system has it."""
        ...

    def capabilities(self) -> Mapping[int, Iterable[int]]:
        """Kinds of events, and the codes of each."""
        ...

    def grab(self) -> None:
        """Take its keys for us alone."""
        ...

    def read(self) -> Iterable[KeyEvent]:
        """What has happened since; BlockingIOError if nothing has."""
        ...

    def close(self) -> None:
        """Close it, which gives its keys back."""
        ...


Devices: TypeAlias = Callable[[], tuple[Sequence[Device], int]]
"""Opens all input devices; how many may not be opened comes along."""


class Keyboard(Struct, frozen=True):
    """An input device with keys; any of its names will do on a sheet."""

    path: str
    name: str
    phys: str
    """Where it is plugged in."""
    uniq: str
    """Its serial number or Bluetooth address, where it has one."""


def keyboards() -> list[Keyboard]:
    """All input devices with keys that we may read; raises OSError where the system has none to give."""
    there, _ = _devices()
    try:
        return [_named(device) for device in there if EV_KEY in device.capabilities()]
    finally:
        _close(there)


def keyboard_link(
    identity: str, *, keys: Mapping[str, str] | None = None, devices: Devices | None = None
) -> Open:
    r"""How to take the keys of the device whose path, name, `phys` or `uniq` is *identity*.

    What it types comes as bytes, a line ended by CR. *keys* says what else a key stands for, by its
    Linux name: `{"KEY_SLASH": "-"}` for a gauge set to another layout, `{"KEY_B": "pass 0.004\r"}`
    for a foot pedal. While the link is open the keys reach nobody else. *devices* are those of the
    system if not given.
    """

    @asynccontextmanager
    async def connect() -> AsyncIterator[Link]:
        typist = _typist(identity, keys or {})
        device = _found(identity, devices or _devices, typist.codes)
        try:
            link = _Keys(identity, device, typist)
            link.begin()
            try:
                yield link
            finally:
                link.end()
        finally:
            device.close()

    return connect


class _Keys:
    """An open device whose keys are ours."""

    def __init__(self, identity: str, device: Device, typist: Typist) -> None:
        self.detail = f"{device.name} ({fsdecode(device.path)})"
        self._identity = identity
        self._device = device
        self._typist = typist
        self._typed: asyncio.Queue[tuple[bytes, int] | OSError] = asyncio.Queue()
        self._loop = asyncio.get_running_loop()

    def begin(self) -> None:
        try:
            self._device.grab()
        except OSError as error:
            raise OSError(f"keyboard {self._identity!r}: another program has taken its keys") from error
        self._loop.add_reader(self._device.fd, self._read)

    def end(self) -> None:
        self._loop.remove_reader(self._device.fd)

    async def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        while True:
            item = await self._typed.get()
            if isinstance(item, OSError):
                self._typed.put_nowait(item)  # lost stays lost for whoever asks next
                raise item
            yield item

    async def send(self, data: bytes) -> None:
        raise OSError(f"keyboard {self._identity!r} can't be sent {data!r}: it only types")

    def _read(self) -> None:
        at = time.monotonic_ns()
        try:
            text = self._typist.text(self._device.read())
        except BlockingIOError:
            return
        except OSError as error:
            self.end()
            gone = "it was unplugged or switched off" if error.errno == errno.ENODEV else error.strerror
            self._typed.put_nowait(OSError(f"keyboard {self._identity!r}: {gone}"))
            return
        if text:
            self._typed.put_nowait((text.encode("latin-1", "replace"), at))


def _typist(identity: str, keys: Mapping[str, str]) -> Typist:
    try:
        from evdev import ecodes  # noqa: PLC0415 - Linux only
    except ImportError as error:
        raise OSError(
            f"keyboard {identity!r}: only Linux lets a program take a keyboard for itself; "
            "on this system the dashboard's page listens to the keys"
        ) from error
    try:
        return Typist(ecodes.ecodes, keys)
    except KeyError as error:
        raise OSError(f"keyboard {identity!r}: no key is called {error}, as KEY_ENTER is one") from error


def _devices() -> tuple[Sequence[Device], int]:
    try:
        from evdev import InputDevice  # noqa: PLC0415 - Linux only
    except ImportError as error:
        raise OSError("only Linux lets a program see keyboards one by one") from error
    there: list[Device] = []
    refused = 0
    for path in sorted(Path("/dev/input").glob("event*")):
        try:
            there.append(InputDevice(str(path)))
        except PermissionError:
            refused += 1
        except OSError:  # gone since it was listed
            continue
    return there, refused


def _found(identity: str, devices: Devices, codes: set[int]) -> Device:
    """The one device that *identity* names and that has keys of ours; all others are closed again."""
    there, refused = devices()
    named = [device for device in there if identity in {device.path, device.name, device.phys, device.uniq}]
    # One instrument often shows as several devices, of which one has the keys.
    fitting = [device for device in named if codes.intersection(device.capabilities().get(EV_KEY, ()))]
    _close(device for device in there if [device] != fitting)
    if len(fitting) == 1:
        return fitting[0]
    listed = "; ".join(map(_words, fitting or there)) or "no input device"
    if fitting:
        raise OSError(
            f"keyboard {identity!r} fits {len(fitting)} devices, use another of their names: {listed}"
        )
    hint = "; do `sudo usermod -aG input $USER` and log in again" if refused else ""
    raise OSError(
        f"keyboard {identity!r} is not there; there is: {listed}, and {refused} not permitted{hint}"
    )


def _named(device: Device) -> Keyboard:
    return Keyboard(fsdecode(device.path), device.name, device.phys, device.uniq)


def _words(device: Device) -> str:
    return f"{device.name!r} at {fsdecode(device.path)}, phys {device.phys!r}, uniq {device.uniq!r}"


def _close(devices: Iterable[Device]) -> None:
    for device in devices:
        device.close()
