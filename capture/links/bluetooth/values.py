"""Which of a device's values is the reading: what it offers, and what the sheet asks for. Pure.

The Bluetooth SIG's presentation format says what a number means, but not which of a
device's numbers is *the* reading. Where one fits the gauge it is taken; where several do,
the person picks once, from a list.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Literal, TypeAlias
from uuid import UUID

from msgspec import Struct

from capture.dialects.gatt import STANDARD, Presentation, unit_of
from capture.events import Decoded, Reading

Carries: TypeAlias = Literal["numbers", "values", "bytes"]
"""What the values of a characteristic are: numbers with their format, private values, a stream."""

_SIG = "-0000-1000-8000-00805f9b34fb"
"""Tail of every UUID that the SIG gave out (Core Specification, volume 3, part B, 2.5.1)."""

_NAMED = {
    0x185A: "Industrial Measurement Device",
    **dict(zip(STANDARD, ("Temperature", "Battery Level", "Linear Position", "Length"), strict=True)),
}


class Value(Struct, frozen=True):
    """One characteristic of a device."""

    uuid: str
    """All 128 bits, lower case."""
    handle: int
    """Its place on the device: tells two of one UUID apart."""
    service: str
    presentation: Presentation | None = None
    description: str = ""
    """What the device says it is (descriptor 0x2901), made harmless."""
    notifies: bool = False
    readable: bool = False
    present: Decoded | None = None
    """What it says now, where it was asked."""

    @property
    def number(self) -> int:
        """The SIG's number of the characteristic, 0 where it has none."""
        return number(self.uuid)


def full(uuid: str) -> str:
    """All 128 bits of a UUID that may be written short: ``2C08``, ``0x2C08`` or whole.

    >>> full("2C08")
    '00002c08-0000-1000-8000-00805f9b34fb'
    >>> full("reading")
    Traceback (most recent call last):
        ...
    ValueError: 'reading' is no UUID: due four hexadecimal digits such as 2C08, or all 32
    """
    plainly = uuid.strip().lower().removeprefix("0x")
    if re.fullmatch(r"[0-9a-f]{4}|[0-9a-f]{8}", plainly):
        return plainly.zfill(8) + _SIG
    try:
        return str(UUID(plainly))
    except ValueError:
        due = "due four hexadecimal digits such as 2C08, or all 32"
        raise ValueError(f"{uuid!r} is no UUID: {due}") from None


def number(uuid: str) -> int:
    """The 16 bits of a UUID that the SIG gave out, else 0."""
    return int(uuid[4:8], 16) if uuid.startswith("0000") and uuid.endswith(_SIG) else 0


def short(uuid: str) -> str:
    """A UUID as short as it can be written on a sheet."""
    return f"{number(uuid):04X}" if number(uuid) else uuid


def named(uuid: str) -> str:
    """A UUID in the words of the Bluetooth SIG, with its number; a private one as it is."""
    from bleak.uuids import uuid16_dict  # noqa: PLC0415 - slow to load, and only people need it

    known = number(uuid)
    if known in _NAMED:
        return f"{_NAMED[known]} ({known:04X})"
    # Above 0x18FF the table has members' names, which say nothing about what a service does.
    if 0x1800 <= known <= 0x18FF and known in uuid16_dict:
        return f"{uuid16_dict[known]} ({known:04X})"
    return short(uuid)


def plain(text: str, longest: int = 48) -> str:
    """Text from a stranger, made harmless for a terminal, a log or a page's line.

    Control characters, marks that turn the direction of writing, and everything
    unassigned or private go; runs of white space become one blank.
    """
    printable = "".join(" " if c.isspace() else c for c in text if c.isspace() or _shows(c))
    line = " ".join(printable.split())
    return line if len(line) <= longest else line[: longest - 1] + "…"


def _shows(character: str) -> bool:
    return not unicodedata.category(character).startswith("C")


def fitting(
    values: Iterable[Value],
    *,
    measures: str,
    carries: Carries,
    value: str | None = None,
    service: str | None = None,
) -> list[Value]:
    """The values that can be the reading.

    Args:
        values: All that the device has.
        measures: What the gauge measures: diameter, bore, infeed, table or temperature.
        carries: What its values are.
        value: UUID of the characteristic, as on the sheet; ``uuid@handle`` where one UUID
            stands for several.
        service: UUID of the service that it is in.

    Raises:
        ValueError: one of the UUIDs is none.
    """
    found = [v for v in values if service is None or v.service == full(service)]
    if value is not None:
        uuid, handle = _place(value)
        found = [v for v in found if v.uuid == uuid and handle in {None, v.handle}]
    if carries == "numbers":
        due = {"temperature": "degC", "power": "W"}.get(measures, "mm")
        found = [v for v in found if v.presentation and unit_of(v.presentation) == due]
    return [v for v in found if v.notifies or v.readable]


def _place(value: str) -> tuple[str, int | None]:
    uuid, at, handle = value.partition("@")
    if at and not re.fullmatch(r"[0-9A-Fa-f]{1,4}", handle):
        raise ValueError(f"{value!r}: after @ is due the place on the device, such as 002A")
    return full(uuid), int(handle, 16) if at else None


def listed(values: Sequence[Value]) -> str:
    """Values in one line for a person, each as it can be named on the sheet."""
    return (
        "; ".join(
            " ".join((f'value = "{offer["value"]}"', *filter(None, (offer["what"], offer["says"]))))
            for offer in offers(values)
        )
        or "nothing that can be read"
    )


def offers(values: Sequence[Value]) -> list[dict[str, str]]:
    """Of each value its name for the sheet, what it is, what it says, what it reads now, and its unit.

    `reads` is empty where nothing was said; `unit` where a dialect is needed.
    """
    again = {v.uuid for v in values if sum(w.uuid == v.uuid for w in values) > 1}
    return [_offer(v, twice=v.uuid in again) for v in values]


def _offer(value: Value, *, twice: bool) -> dict[str, str]:
    what = [_NAMED[value.number]] if value.number in _NAMED else []
    what += [f"“{value.description}”"] if value.description else []
    says, reads = "", ""
    match value.present:
        case Reading(value=size, digits=digits, unit=unit):
            reads = f"{size:.{digits}f} {unit}"
            says = f"now {reads}"
        case None if value.presentation is not None:
            says = f"in {unit_of(value.presentation) or 'a format that needs a dialect'}"
        case _:
            pass
    name = short(value.uuid) + (f"@{value.handle:04X}" if twice else "")
    known = None if value.presentation is None else unit_of(value.presentation)
    return {"value": name, "what": " ".join(what), "says": says, "reads": reads, "unit": known or ""}
