"""Records: frames of one length with everything at its place, and how one is read."""

from __future__ import annotations

from decimal import Decimal
from functools import cached_property
from typing import Literal, TypeAlias, cast

from msgspec import Struct

from capture.dialects.decimal import Shown as ShownUnit
from capture.dialects.taught.values import Display, Unread, Value

Sign: TypeAlias = Literal["+", "-", "written"]
"""Never seen but positive, never seen but negative, or as the number itself has it."""


class DisplayValue(Struct, frozen=True):
    """What a gauge's display shows: a number with its decimals, and its unit."""

    value: Decimal
    unit: ShownUnit

    @property
    def text(self) -> str:
        """The number as displayed."""
        return f"{self.value:f}"


class FlagByte(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A byte that tells something beside the number: the sign, the unit."""

    at: int
    means: dict[str, str]
    """What the byte (in hexadecimal, after `mask`) means; anything else is not read."""
    mask: str = "ff"
    """The bits of the byte that tell it, in hexadecimal."""

    def tells(self, frame: bytes) -> str:
        """What the flag says in *frame*; Unread where it has a state that was never taught."""
        state = f"{frame[self.at] & int(self.mask, 16):02x}"
        if state not in self.means:
            taught = ", ".join(f"{code} = {means}" for code, means in self.means.items())
            raise Unread(f"byte {self.at} says {state}, which was never taught ({taught})")
        return self.means[state]


def _agreed(flags: tuple[FlagByte, ...], frame: bytes) -> str:
    """What all *flags* say; Unread where they contradict each other."""
    flagged = {flag.tells(frame) for flag in flags}
    if len(flagged) != 1:
        places = ", ".join(f"byte {flag.at} says {flag.tells(frame)}" for flag in flags)
        raise Unread(f"{places}: teach another reading to tell which counts")
    return flagged.pop()


class Record(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, dict=True):
    """A frame of fixed length with everything at its place."""

    length: int
    value: Value
    unit: ShownUnit | tuple[FlagByte, ...]
    sign: Sign | tuple[FlagByte, ...]
    display: dict[ShownUnit, Display]
    """How the gauge shows a number in each unit that was taught."""
    constants: dict[str, str] = {}
    """Byte number to its value and, behind a slash, the bits that count: ``{"0" = "02", "3" = "30/f0"}``."""

    @cached_property
    def fixed(self) -> list[tuple[int, int, int]]:
        """Constants as (byte, mask, value), in order."""
        found = []
        for at, text in self.constants.items():
            value, _, mask = text.partition("/")
            found.append((int(at), int(mask or "ff", 16), int(value, 16)))
        return sorted(found)

    def begins(self, head: bytes) -> bool:
        """Whether nothing in *head* contradicts the constants of a frame's beginning."""
        return all(head[at] & mask == value for at, mask, value in self.fixed if at < len(head))

    def read(self, frame: bytes) -> DisplayValue:
        """What *frame* says; Unread with the reason where it differs from all that was taught."""
        if len(frame) != self.length:
            raise Unread(f"{len(frame)} bytes, {self.length} were due")
        for at, mask, due in self.fixed:
            if frame[at] & mask != due:
                raise Unread(
                    f"byte {at} is {frame[at] & mask:02x}, {due:02x} was due: it never changed while taught"
                )
        unit = cast("ShownUnit", self.unit if isinstance(self.unit, str) else _agreed(self.unit, frame))
        number = self.value.raw(frame)
        if isinstance(self.sign, tuple):
            if number < 0:
                raise Unread("two signs")
            number = -number if _agreed(self.sign, frame) == "-" else number
        elif (self.sign == "+" and number < 0) or (self.sign == "-" and number > 0):
            raise Unread(f"{'negative' if number < 0 else 'positive'}, which was never taught")
        display = self.display[unit]
        return DisplayValue(display.shown(number), unit)
