"""The ways to a gauge, and what may stand beside its address: a part of the sheet's schema.

A gauge keeps its link and its questions as the sheet has them; links and dialects read them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final, Literal

from msgspec import Struct

from capture.sheet.schema import Key, entries_of

PORT = (
    "`/dev/ttyUSB0`, `COM3`, `usb:VID:PID`, `usb:VID:PID:SERIAL`, `socket://host:port` or "
    "`rfc2217://host:port`"
)


def _some(value: float) -> bool:
    return value != 0


class SerialLine(Struct, frozen=True):
    """A serial line; gauges on one port have it in common."""

    baud: Annotated[int, Key("Baud", "symbols a second", "Bd", least=1)] = 9600
    bytesize: Annotated[Literal[5, 6, 7, 8], Key("Data bits", "in a character", rare=True)] = 8
    parity: Annotated[
        Literal["N", "E", "O", "M", "S"], Key("Parity", "none, even, odd, mark or space", rare=True)
    ] = "N"
    stopbits: Annotated[Literal[1, 1.5, 2], Key("Stop bits", "after a character", rare=True)] = 1  # type: ignore[valid-type]  # a literal of TOML
    dtr: Annotated[
        bool,
        Key(
            "DTR high",
            "level of this line from the moment of opening; some cables take their current from it",
            rare=True,
        ),
    ] = True
    rts: Annotated[bool, Key("RTS high", "the same of this line", rare=True)] = True
    xonxoff: Annotated[bool, Key("XON/XOFF", "software flow control", rare=True)] = False
    rtscts: Annotated[bool, Key("RTS/CTS", "hardware flow control", rare=True)] = False


class SerialLink(Struct, frozen=True):
    """A serial port, on this machine or over a network."""

    serial: Annotated[str, Key("Address", PORT)]


class ModbusLink(Struct, frozen=True):
    """Registers over a serial line; the words are those of the standard."""

    modbus: Annotated[str, Key("Address", "the port, as for `serial`")]
    unit: Annotated[
        int, Key("Address on the bus", "address of the instrument", least=1, most=247, rare=True)
    ] = 1
    function: Annotated[
        Literal[3, 4], Key("Function", "3 reads holding registers, 4 input registers", rare=True)
    ] = 3
    register: Annotated[
        int,
        Key(
            "First register",
            "address of the first, as it goes over the line, from 0",
            least=0,
            most=65535,
            rare=True,
        ),
    ] = 0
    count: Annotated[
        int | None,
        Key("Registers", "that hold the number", least=1, most=2, default="by `kind`", rare=True),
    ] = None
    kind: Annotated[
        Literal["u16", "s16", "u32", "s32", "f32"] | None,
        Key(
            "Kind of number",
            "unsigned, two's complement, or IEEE 754 binary32",
            default="s32; s16 for one register",
            rare=True,
        ),
    ] = None
    order: Annotated[
        Literal["ABCD", "CDAB", "BADC", "DCBA"],
        Key("Order of its bytes", "of the four bytes of a number, A the most significant", rare=True),
    ] = "ABCD"
    scale: Annotated[
        float | None,
        Key(
            "One count is worth",
            "in `unit` of the gauge; must be given, but for `f32`",
            due="a number other than 0",
            ok=_some,
            rare=True,
        ),
    ] = None
    every: Annotated[float, Key("Read every", "time between two questions", "s", above=0, rare=True)] = 0.5


class BleLink(Struct, frozen=True):
    """A Bluetooth LE device."""

    ble: Annotated[str, Key("Address", "the device's address or name, as `gauges` shows it")]
    service: Annotated[str | None, Key("Service", "UUID, where the device leaves a choice", rare=True)] = None
    value: Annotated[
        str | None,
        Key(
            "Characteristic that is read",
            "UUID of the one that carries the value; must be given beside a dialect",
            rare=True,
        ),
    ] = None
    write: Annotated[
        str | None,
        Key("Characteristic that is written", "UUID of the one that takes questions", rare=True),
    ] = None
    bytes: Annotated[
        bool, Key("Values run together", "values are a stream of bytes without borders", rare=True)
    ] = False
    read_every: Annotated[
        float | None,
        Key("Read every", "read so often, where the device does not notify", "s", above=0, rare=True),
    ] = None
    silence: Annotated[
        float | None,
        Key(
            "Open anew after silence",
            "time without a value after which the link is opened anew",
            "s",
            above=0,
            rare=True,
        ),
    ] = None


class KeyboardLink(Struct, frozen=True):
    """A gauge that types as a keyboard does."""

    keyboard: Annotated[
        str,
        Key("Address", "device path, name, place (`phys`) or serial number, as `gauges` or `teach` show it"),
    ]
    keys: Annotated[
        Mapping[str, str] | None,
        Key(
            "What keys stand for",
            'what else a key types, by its name: `{ KEY_KPENTER = "\\r" }`',
            rare=True,
        ),
    ] = None


class Ask(Struct, frozen=True):
    """The question of a gauge that only answers."""

    send: Annotated[
        str,
        Key(
            "Ask with",
            "the text that makes it answer; `\\r` is Return",
            due="the text that makes it answer",
            rare=True,
            escaped=True,
        ),
    ]
    every: Annotated[
        float, Key("Ask every", "time from one question to the next", "s", above=0, rare=True)
    ] = 1.0
    timeout: Annotated[
        float, Key("Wait for an answer", "time to wait for an answer", "s", above=0, rare=True)
    ] = 1.0


TABLES: Final[Mapping[str, tuple[type[Struct], ...]]] = {
    "serial": (SerialLink, SerialLine),
    "ble": (BleLink,),
    "modbus": (ModbusLink, SerialLine),
    "keyboard": (KeyboardLink,),
}
"""The ways to a gauge, and what each table has."""

LINKS: Final[Mapping[str, frozenset[str]]] = {
    kind: frozenset(entry.name for table in tables for entry in entries_of(table)) - {kind}
    for kind, tables in TABLES.items()
}
"""The settings that each way may have beside its address."""
