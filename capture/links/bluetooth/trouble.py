"""What can go wrong with Bluetooth, said in sentences, and a watch over the system's service."""

from __future__ import annotations

import sys
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from typing import TYPE_CHECKING

from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
    BleakError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)

from capture.links.bluetooth.values import plain

if TYPE_CHECKING:
    from dbus_fast import Message

TROUBLE = (BleakError, OSError, EOFError, AssertionError, KeyError)
"""What bleak raises, or lets through, when devices, service or bus go in the middle of a call.

It asserts that its bus is there and looks devices up in tables that are emptied when the
bus or a device goes; both show as what they are not.
"""

_SERVICE = "org.bluez"
_NO_SERVICE = (
    "the system's Bluetooth service is not running: it is awaited; if it does not come back, "
    "start it (systemctl start bluetooth)"
)
_UNPAIRED = "it wants to be paired: pair it once in the system's Bluetooth settings"
_GONE = "the connection was lost: out of range, switched off, or its battery is empty"

_NOT_AVAILABLE = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: "this computer has no Bluetooth adapter: plug one in",
    BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE: (
        "this computer's Bluetooth adapter can't do Bluetooth LE: use another"
    ),
    BleakBluetoothNotAvailableReason.POWERED_OFF: (
        "Bluetooth is switched off on this computer: switch it on"
    ),
    BleakBluetoothNotAvailableReason.DENIED_BY_USER: (
        "this program may not use Bluetooth: allow it in the system's privacy settings"
    ),
    BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM: (
        "the system does not let this user use Bluetooth: ask whoever looks after the computer"
    ),
}

_BUS = {
    "org.freedesktop.DBus.Error.ServiceUnknown": _NO_SERVICE,
    "org.freedesktop.DBus.Error.NameHasNoOwner": _NO_SERVICE,
    "org.freedesktop.DBus.Error.NoReply": "the system's Bluetooth service stopped in the middle of an answer",
    "org.freedesktop.DBus.Error.UnknownObject": "the system has forgotten the device: it is looked for anew",
    "org.freedesktop.DBus.Error.UnknownMethod": "the system has forgotten the device: it is looked for anew",
    "org.freedesktop.DBus.Error.AccessDenied": (
        "the system does not let this user use Bluetooth: ask whoever looks after the computer"
    ),
    "org.bluez.Error.NotReady": "Bluetooth is switched off on this computer: switch it on",
    "org.bluez.Error.NotConnected": _GONE,
    "org.bluez.Error.InProgress": "the adapter is busy with another device: it is tried again",
    "org.bluez.Error.AuthenticationFailed": _UNPAIRED,
    "org.bluez.Error.NotAuthorized": _UNPAIRED,
}

_WANTS_PAIRING = {
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHENTICATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHORIZATION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION,
    BleakGATTProtocolErrorCode.INSUFFICIENT_ENCRYPTION_KEY_SIZE,
}


class BluetoothError(OSError):
    """Trouble already said in a sentence for a person."""


@contextmanager
def said(where: str) -> Iterator[None]:
    """Turn whatever bleak raises into OSError with a sentence that begins with *where*."""
    try:
        yield
    except BluetoothError:
        raise
    except TROUBLE as error:
        raise BluetoothError(f"{where}: {sentence(error)}") from error


def sentence(error: Exception) -> str:
    """What happened and what to do, for a person."""
    match error:
        case BleakBluetoothNotAvailableError(reason=reason):
            return _NOT_AVAILABLE.get(reason, "Bluetooth is not available on this computer")
        case BleakDeviceNotFoundError():
            return "the system has forgotten the device: it is looked for anew"
        case BleakGATTProtocolError(code=code) if code in _WANTS_PAIRING:
            return _UNPAIRED
        case BleakGATTProtocolError():
            return f"the instrument refused: {plain(str(error.args[1]))}"
        case BleakDBusError():
            # Not its own words: bleak takes them apart, and fails on those that it does not expect.
            words = plain(" ".join(map(str, error.args[1:])) or error.dbus_error, 120)
            return _BUS.get(error.dbus_error, f"the system's Bluetooth service says: {words}")
        case TimeoutError():
            return "no answer in time: bring the instrument nearer, or switch it off and on"
        case FileNotFoundError() | ConnectionRefusedError():
            return "the system's message bus (D-Bus) can't be reached, and Bluetooth goes through it"
        case EOFError() | ConnectionError():
            return "the system's message bus (D-Bus) went away: it is awaited"
        case BleakError() | OSError():
            return plain(str(error), 120) or _GONE
        case _:
            return _GONE


@asynccontextmanager
async def watched(path: str | None, lost: Callable[[str], None]) -> AsyncIterator[None]:
    """Watches the Bluetooth service and one device in it, on Linux.

    bleak notices neither that the service stopped nor that a device or its adapter was
    taken away: it goes on saying "connected". *lost* is called with a sentence.

    Args:
        path: The device's object on the bus; None where there is no such bus.
        lost: Called once or more, from the event loop.
    """
    if sys.platform != "linux" or path is None:
        yield
        return

    from dbus_fast import BusType, Message  # noqa: PLC0415 - exists on Linux only
    from dbus_fast.aio import MessageBus  # noqa: PLC0415

    def receive(message: Message) -> None:
        why = _missed(message, path)
        if why:
            lost(why)

    bus = MessageBus(bus_type=BusType.SYSTEM)
    try:
        await bus.connect()
        bus.add_message_handler(receive)
        for rule in _rules(path):
            await bus.call(
                Message(
                    destination="org.freedesktop.DBus",
                    path="/org/freedesktop/DBus",
                    interface="org.freedesktop.DBus",
                    member="AddMatch",
                    signature="s",
                    body=[rule],
                )
            )
        yield
    finally:
        bus.disconnect()
        with suppress(*TROUBLE):
            await bus.wait_for_disconnect()  # type: ignore[no-untyped-call]  # dbus-fast left it so


def _rules(path: str) -> tuple[str, str]:
    """The signals of the bus that tell that the service or the device at *path* went away."""
    return (
        f"type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged',arg0='{_SERVICE}'",
        f"type='signal',sender='{_SERVICE}',member='InterfacesRemoved',arg0path='{path}'",
    )


def _missed(message: Message, path: str) -> str | None:
    match message.member, message.body:
        case "NameOwnerChanged", [name, _, new] if name == _SERVICE:
            return "the system's Bluetooth service was restarted" if new else _NO_SERVICE
        case "InterfacesRemoved", [gone, interfaces] if gone == path and "org.bluez.Device1" in interfaces:
            return "the device was removed from the system, or its Bluetooth adapter was unplugged"
        case _:
            return None
