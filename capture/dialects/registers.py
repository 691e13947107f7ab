"""Numbers in Modbus registers: the question, and the dialect of the answers.

Frames, functions, exception codes and register order are those of "MODBUS Application Protocol
Specification V1.1b3"; the address, the check and its polynomial those of "MODBUS over Serial Line,
Specification and Implementation Guide V1.02". Both are open; the order of the words of a long
number and the meaning of a count are the maker's, and so are settings.
"""

from __future__ import annotations

import struct
from fractions import Fraction
from math import isfinite
from typing import Literal, TypeAlias

from msgspec import Struct

from capture.dialects.decimal import SCALES, Shown
from capture.dialects.dialect import Dialect
from capture.events import Decoded, Garbled, Reading, Wire

Kind: TypeAlias = Literal["u16", "s16", "u32", "s32", "f32"]
"""How bits are a number: unsigned, two's complement, or IEEE 754 binary32."""

Order: TypeAlias = Literal["ABCD", "CDAB", "BADC", "DCBA"]
"""In which order the four bytes of a number come, A the most significant."""

_FORMATS: dict[Kind, str] = {"u16": ">H", "s16": ">h", "u32": ">I", "s32": ">i", "f32": ">f"}
_EXTREMES: dict[Kind, set[int]] = {
    "u16": {0xFFFF},
    "s16": {-0x8000, 0x7FFF},
    "u32": {0xFFFF_FFFF},
    "s32": {-0x8000_0000, 0x7FFF_FFFF},
    "f32": set(),
}
"""Counts that stand for no value or an overflow (common practice, no source)."""

_REFUSALS = {
    1: "it does not know this function: try `function = 3` or `function = 4`",
    2: "it has no such register: look up `register` and `count`",
    3: "it refuses this `count` of registers",
    4: "it failed at reading",
    6: "it is busy",
}
_LONGEST_FRAME = 256
"""Bytes in the longest frame on a serial line (V1.02, 2.3)."""


class Registers(Struct, frozen=True):
    """Where an instrument keeps its value, and how. Raises ValueError for what can't be."""

    unit: int = 1
    """Address of the instrument on the line, 1 to 247."""
    register: int = 0
    """Address of the first register as it goes over the line, from 0."""
    kind: Kind = "s32"
    order: Order = "ABCD"
    scale: float = 1.0
    """What one count is worth, in `shown`."""
    shown: Shown = "mm"
    function: Literal[3, 4] = 3
    """3 reads holding registers, 4 reads input registers."""

    def __post_init__(self) -> None:
        if not 1 <= self.unit <= 247:
            raise ValueError(f"unit = {self.unit}: an address from 1 to 247 was due")
        if not 0 <= self.register <= 0x10000 - self.count:
            raise ValueError(f"register = {self.register}: from 0 to {0x10000 - self.count} was due")
        if not (isfinite(self.scale) and self.scale != 0.0):
            raise ValueError(f"scale = {self.scale}: a number other than 0 was due")

    @property
    def count(self) -> int:
        """How many registers of 16 bits hold the number."""
        return struct.calcsize(_FORMATS[self.kind]) // 2

    @property
    def digits(self) -> int:
        """Decimal places of one count: 3 for a scale of 0.001 or 0.002; a float doesn't show how many."""
        return 6 if self.kind == "f32" else decimals(self.scale)


def decimals(step: float) -> int:
    """Decimal places that a step of this size needs, at most 15."""
    exact = Fraction(repr(step))
    return next((places for places in range(15) if (exact * 10**places).denominator == 1), 15)


def crc(data: bytes) -> bytes:
    """The check that ends a frame (V1.02, 2.5.1.2): polynomial 0xA001, from 0xFFFF, low byte first."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = (register >> 1) ^ (0xA001 if register & 1 else 0)
    return register.to_bytes(2, "little")


def question(where: Registers) -> bytes:
    """The frame that asks for the registers (V1.1b3, 6.3 and 6.4)."""
    body = struct.pack(">BBHH", where.unit, where.function, where.register, where.count)
    return body + crc(body)


class _Frames(Struct, frozen=True):
    """How answers to one question begin and end."""

    good: bytes
    """Address, function and number of bytes."""
    bad: bytes
    """Address and function, with the highest bit set."""
    size: int
    """Bytes in a whole good answer."""

    def due(self, data: bytes) -> int:
        """Length of the frame that begins here, or 0 where none does."""
        if data.startswith(self.good):
            return self.size
        return len(self.bad) + 3 if data.startswith(self.bad) else 0

    def may_begin(self, data: bytes) -> bool:
        """Whether a frame begins here as far as the bytes go."""
        return any(head.startswith(data[: len(head)]) for head in (self.good, self.bad))

    def cut(self, data: bytes) -> int:
        """Length of the first answer, or of what is none up to where the next may begin."""
        length = self.due(data)
        if len(data) < length or (not length and self.may_begin(data)):
            return 0
        if length and _checked(data[:length]):
            return length
        noise = data[: length or _LONGEST_FRAME]
        complete = bool(length) or len(noise) == _LONGEST_FRAME
        begins = self.may_begin if complete else self.due  # an end that hasn't come yet can't be judged
        starts = (at for at in range(1, len(noise)) if begins(noise[at:]))
        return next(starts, len(noise) if complete else 0)


def registers(where: Registers) -> Dialect:
    """The dialect of the answers to `question`; bytes that are no answer are garbled up to the next one."""
    good = bytes([where.unit, where.function, 2 * where.count])
    frames = _Frames(good, bytes([where.unit, where.function | 0x80]), len(good) + 2 * where.count + 2)

    def read(raw: Wire) -> Decoded:
        piece = raw.encode("latin-1")
        if not piece or len(piece) != frames.due(piece):
            return Garbled("no answer of this instrument", raw)
        if not _checked(piece):
            return Garbled(f"the check is {piece[-2:].hex()}, {crc(piece[:-2]).hex()} was due", raw)
        if not piece.startswith(good):
            return Garbled(f"the instrument refuses: {_REFUSALS.get(piece[2], f'exception {piece[2]}')}", raw)
        return _reading(where, piece[len(good) : -2], raw)

    return Dialect("registers", frames.cut, read, _LONGEST_FRAME, ask=question(where))


def _checked(frame: bytes) -> bool:
    return crc(frame[:-2]) == frame[-2:]


def _reading(where: Registers, data: bytes, raw: Wire) -> Decoded:
    count = _count(where, data)
    if not isfinite(count):
        return Garbled("the number is not finite", raw)
    if count in _EXTREMES[where.kind]:
        return Garbled(f"{count:.0f} counts, the end of what registers hold: an overflow, or no value", raw)
    scale = SCALES[where.shown]
    value = (Fraction(count) * Fraction(repr(where.scale)) + scale.offset) * scale.factor
    shown = "" if where.shown == scale.unit else where.shown
    return Reading(float(value), scale.unit, where.digits, raw, shown)


def _count(where: Registers, data: bytes) -> float:
    """The number in the registers; exact, as a double holds all of 32 bits."""
    letters = where.order if len(data) == 4 else "AB" if where.order in {"ABCD", "CDAB"} else "BA"
    ordered = bytes(data[letters.index(letter)] for letter in sorted(letters))
    (count,) = struct.unpack(_FORMATS[where.kind], ordered)
    return float(count)
