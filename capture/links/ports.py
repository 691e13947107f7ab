"""Serial ports there are, and which of them a person means."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from msgspec import Struct
from serial.tools import list_ports


class Port(Struct, frozen=True):
    """A serial port of this machine."""

    device: str
    """What the system calls it now; COM and ttyUSB numbers move when a cable does."""
    description: str
    identity: str = ""
    """`usb:VID:PID[:SERIAL]`, which stays with the instrument; empty where it isn't USB."""
    location: str = ""
    """The USB socket it is plugged into, which tells two of one kind without serial numbers apart."""


def ports() -> list[Port]:
    """All serial ports of this machine, by name."""
    return sorted((_port(found) for found in list_ports.comports()), key=lambda port: port.device)


def _port(found: list_ports.ListPortInfo) -> Port:
    identity = ""
    if found.vid is not None and found.pid is not None:
        identity = f"usb:{found.vid:04X}:{found.pid:04X}"
        if found.serial_number:
            identity += f":{found.serial_number}"
    return Port(found.device, found.description or "", identity, found.location or "")


_ON_NETWORK: Final = re.compile(r"(?:socket|rfc2217)://[^\s/?#]+:(\d{1,5})/?(?:\?[\w=&.]*)?")


def port_fault(spec: str) -> str:
    """Why *spec* is no address of a port, for a person; empty for one.

    A device, `usb:`, `socket://` and `rfc2217://` are addresses. Whatever else pyserial has a handler for is
    refused: `spy://` writes a log over any file that its address names.
    """
    due = "a device, usb:VID:PID, socket://host:port or rfc2217://host:port was due"
    if not spec or not spec.isprintable():
        return f"{spec!r}: {due}"
    if "://" not in spec:
        return ""
    found = _ON_NETWORK.fullmatch(spec)
    if found is None:
        return f"{spec!r} is no address of a port: {due}"
    if not 0 < int(found[1]) < 1 << 16:
        return f"{spec!r}: the port number is {found[1]}, 1 to 65535 was due"
    return ""


def device_fault(device: str) -> str:
    """Why *device* is no port though something of this name is there; empty where it is one, or nothing is.

    To open a pipe or a file, as a sheet may name one, is not harmless: another program may wait at its end.
    """
    if os.name == "nt" or "://" in device:
        return ""
    try:
        kind = Path(device).stat().st_mode
    except OSError:
        return ""  # opening says why
    return "" if stat.S_ISCHR(kind) else f"{device} is no serial port: a device of characters was due"


def device_of(spec: str, there: Iterable[Port]) -> str:
    """The device that *spec* means among the ports *there* are; anything but `usb:` is itself.

    `usb:VID:PID` names an instrument by its USB numbers (hexadecimal); a third part, its
    serial number or its socket, tells two of one kind apart. Raises OSError, with what is
    there, unless exactly one port fits.
    """
    if not spec.startswith("usb:"):
        return spec
    named = re.fullmatch(r"usb:([0-9A-Fa-f]{1,4}):([0-9A-Fa-f]{1,4})(?::(.+))?", spec)
    if named is None:
        raise OSError(f"{spec!r} is no USB identity: usb:VID:PID or usb:VID:PID:SERIAL was due")
    numbers = f"usb:{int(named[1], 16):04X}:{int(named[2], 16):04X}"
    usb = [port for port in there if port.identity]
    fitting = [
        port
        for port in usb
        if port.identity.split(":")[:3] == numbers.split(":")
        and (named[3] is None or named[3] in {port.identity[len(numbers) + 1 :], port.location})
    ]
    if len(fitting) == 1:
        return fitting[0].device
    if fitting:
        raise OSError(f"{spec} fits {len(fitting)} ports, add the serial number or socket: {_list(fitting)}")
    raise OSError(f"{spec} is not plugged in; there is: {_list(usb) or 'no USB port'}")


def _list(found: Iterable[Port]) -> str:
    return ", ".join(f"{port.identity} at {port.location or '?'} ({port.device})" for port in found)
