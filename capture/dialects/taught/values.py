"""Values in a frame: text, digits in bytes or nibbles, binary counts and floating-point numbers."""

from __future__ import annotations

import re
import struct
from decimal import ROUND_HALF_UP, Decimal
from functools import reduce
from math import isfinite
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from capture.dialects.taught.written_numbers import Signed, numbers, with_sign

Order: TypeAlias = Literal["ABCD", "DCBA", "CDAB", "BADC"]
"""Order of bytes, A the most significant: large end first, small end first, words swapped, bytes swapped."""

Packing: TypeAlias = Literal["bytes", "high first", "low first"]
"""Digits one a byte (in its low half), or two a byte, the one in the high or in the low half first."""


class Unread(ValueError):
    """A frame that is not read, and why, for a person."""


class Display(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """How the gauge's display shows a number of the frame."""

    decimals: int
    """Digits behind the point on the display."""
    scale: str = "1"
    """The number in the frame times this is the number on the display."""
    limit: str = "1000000"
    """Numbers so large, or larger, were not taught and are not read."""
    rounds: bool = False
    """The frame has finer steps than the display."""
    spread: str = "0"
    """How far the scale may be off, as a share of it: what the display shows otherwise then is not read."""

    def shown(self, number: Decimal) -> Decimal:
        """The number on the display; Unread where it would be a guess."""
        value = number * Decimal(self.scale)
        step = Decimal(1).scaleb(-self.decimals)
        if abs(value) >= Decimal(self.limit):
            raise Unread(f"{value:.6g} is beyond all that was taught (limit {self.limit})")
        shown = value.quantize(step, ROUND_HALF_UP)
        if self.rounds and self.spread != "0":
            least, most = (
                (value * (1 + way * Decimal(self.spread))).quantize(step, ROUND_HALF_UP) for way in (-1, 1)
            )
            if least != most:
                raise Unread(f"the display shows {least} or {most}: teach a reading near full travel")
            return abs(shown) if shown == 0 else shown
        off = abs(value - shown) / step
        if self.rounds and off > Decimal("0.49"):
            raise Unread(f"{value:.9g} is between two steps of the display")
        if not self.rounds and off > max(Decimal("0.02"), abs(value) / step * FLOAT_NOISE):
            raise Unread(f"{value:.9g} has finer steps than {self.decimals} decimals")
        return abs(shown) if shown == 0 else shown


FLOAT_NOISE: Final = Decimal(2) ** -23
"""Relative error of a single-precision number that was worked out, not only stored."""


class Columns(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="columns"
):
    """A number written as text in fixed columns, padded with blanks or zeros."""

    at: int
    size: int
    point: Literal[".", ",", ""] = ""

    def raw(self, frame: bytes) -> Decimal:
        """The number as written; Unread if anything else stands there."""
        text = frame[self.at : self.at + self.size].decode("latin-1")
        found = numbers(text, self.point or ".")
        if len(text) != self.size or len(found) != 1 or text[: found[0].begin].strip(" "):
            raise Unread(f"{text!r} is no number")
        if text[found[0].end :] or found[0].pointed != bool(self.point):
            raise Unread(f"{text!r} is no number with {'a' if self.point else 'no'} point")
        return found[0].value

    def bits(self) -> dict[int, int]:
        """The bits of the frame that hold the value: byte to mask."""
        return dict.fromkeys(range(self.at, self.at + self.size), 0xFF)


_SWAPPED: Final = bytes(byte << 4 & 0xF0 | byte >> 4 for byte in range(256))
"""Each byte with its halves swapped."""


class Digits(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="digits"
):
    """Binary-coded decimal digits."""

    at: int
    """The first digit, counted in digits: with two digits a byte, byte 3 begins with digit 6."""
    size: int
    packing: Packing
    backward: bool = False
    """The last digit comes first."""
    blank: bool = False
    """Leading zeros are sent as hexadecimal F."""

    def text(self, frame: bytes) -> str:
        """The digits in hexadecimal, the most significant first."""
        if self.packing == "bytes":
            text = frame.hex()[1::2]
        else:
            text = (frame if self.packing == "high first" else frame.translate(_SWAPPED)).hex()
        text = text[self.at : self.at + self.size].upper()
        return text[::-1] if self.backward else text

    def raw(self, frame: bytes) -> Decimal:
        """The digits as a whole number; Unread if one is no digit."""
        text = self.text(frame)
        if self.blank:
            text = text.lstrip("F").rjust(self.size, "0") if text.strip("F") else text
        if len(text) != self.size or not text.isdecimal():
            raise Unread(f"digits {text} are not {self.size} decimal digits")
        return Decimal(int(text))

    def bits(self) -> dict[int, int]:
        """The bits of the frame that hold the value: byte to mask."""
        if self.packing == "bytes":
            return dict.fromkeys(range(self.at, self.at + self.size), 0x0F)
        held: dict[int, int] = {}
        for place in range(self.at, self.at + self.size):
            high = (place % 2 == 0) == (self.packing == "high first")
            held[place // 2] = held.get(place // 2, 0) | (0xF0 if high else 0x0F)
        return held


SWAPS_WORDS: Final = ("CDAB", "BADC")


def _ordered(data: bytes, order: Order) -> bytes:
    """*data* with its most significant byte first."""
    if order in ("DCBA", "CDAB"):
        data = data[::-1]
    if order in SWAPS_WORDS:
        swapped = bytearray(data)
        swapped[0::2], swapped[1::2] = data[1::2], data[0::2]
        return bytes(swapped)
    return data


_MIRRORED: Final = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


class Count(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="count"
):
    """A binary count of steps."""

    at: int
    size: int
    order: Order = "ABCD"
    signed: Signed = "no"
    hexadecimal: bool = False
    """Written as text, two hexadecimal digits a byte."""
    halves: bool = False
    """The two halves of each byte are swapped: the less significant four bits are sent first."""
    mirrored: bool = False
    """The bits of each byte are the other way round: the least significant was sent first."""
    flagged: bool = False
    """The four most significant bits are none of the count: they tell the sign or the unit."""
    width: int = 0
    """Bits of the count: the least significant ones of its bytes, the highest of them its sign; 0: all."""
    sevens: bool = False
    """Each byte holds seven bits; its top bit is none of the count."""

    def raw(self, frame: bytes) -> Decimal:
        """The count, with its sign if it carries one."""
        width = self.size * (2 if self.hexadecimal else 1)
        data = frame[self.at : self.at + width]
        if self.hexadecimal:
            if len(data) != width or not re.fullmatch(rb"[0-9A-Fa-f]+", data):
                raise Unread(f"{data!r} is no hexadecimal number of {width} digits")
            data = bytes.fromhex(data.decode())
        if len(data) != self.size:
            raise Unread(f"{len(data)} bytes of a count, {self.size} were due")
        if self.halves:
            data = data.translate(_SWAPPED)
        if self.mirrored:
            data = data.translate(_MIRRORED)
        if self.sevens:
            count = reduce(lambda above, byte: above << 7 | byte & 0x7F, _ordered(data, self.order), 0)
            return with_sign(count, 7 * self.size, self.signed)
        count = int.from_bytes(_ordered(data, self.order))
        if self.flagged:
            count &= (1 << (8 * self.size - 4)) - 1
        if self.width:
            count &= (1 << self.width) - 1
        return with_sign(count, self.width or 8 * self.size, self.signed)

    def bits(self) -> dict[int, int]:
        """The bits of the frame that hold the value: byte to mask."""
        bits = dict.fromkeys(range(self.at, self.at + self.size * (2 if self.hexadecimal else 1)), 0xFF)
        if self.flagged:
            bits[self.top()] = 0xF0 if self.halves or self.mirrored else 0x0F
        if self.sevens:
            bits = dict.fromkeys(bits, 0x7F)
        if self.width:
            bits[self.top()] = (1 << (self.width - 8 * (self.size - 1))) - 1
        return bits

    def top(self) -> int:
        """The byte that holds the most significant bits."""
        return self.at + _ordered(bytes(range(self.size)), self.order)[0]


class Float(
    Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, tag_field="kind", tag="float"
):
    """A floating-point number of IEEE 754, single or double."""

    at: int
    size: Literal[4, 8] = 4
    order: Order = "ABCD"

    def raw(self, frame: bytes) -> Decimal:
        """The number; Unread if it is not a finite one."""
        data = frame[self.at : self.at + self.size]
        if len(data) != self.size:
            raise Unread(f"{len(data)} bytes of a float, {self.size} were due")
        (number,) = struct.unpack(">f" if self.size == 4 else ">d", _ordered(data, self.order))
        if not isfinite(number):
            raise Unread(f"{number} is no reading")
        return Decimal(number)

    def bits(self) -> dict[int, int]:
        """The bits of the frame that hold the value: byte to mask."""
        return dict.fromkeys(range(self.at, self.at + self.size), 0xFF)


Value: TypeAlias = Columns | Digits | Count | Float
