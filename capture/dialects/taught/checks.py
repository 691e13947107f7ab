"""Checks at the end of a frame: sums, exclusive-or and cyclic redundancy, as bytes or as text."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, reduce
from operator import xor
from typing import Final, Literal, TypeAlias

from msgspec import Struct

Written: TypeAlias = Literal["big", "little", "HEX", "hex", "decimal"]
"""How a check stands in the frame: as bytes, the large or the small end first, or as digits."""


class Cyclic(Struct, frozen=True):
    """The parameters of a cyclic redundancy check, in the usual way of giving them.

    ``poly`` is written the normal way round; ``mirrored`` says that bits go in and
    come out the small end first.
    """

    bits: int
    poly: int
    init: int
    mirrored: bool
    final: int


CYCLIC: Final = {
    "crc16-modbus": Cyclic(16, 0x8005, 0xFFFF, True, 0),
    "crc16-8005-mirrored": Cyclic(16, 0x8005, 0, True, 0),
    "crc16-8005": Cyclic(16, 0x8005, 0, False, 0),
    "crc16-8005-mirrored-inverted": Cyclic(16, 0x8005, 0xFFFF, True, 0xFFFF),
    "crc16-1021-ffff": Cyclic(16, 0x1021, 0xFFFF, False, 0),
    "crc16-1021": Cyclic(16, 0x1021, 0, False, 0),
    "crc16-1021-1d0f": Cyclic(16, 0x1021, 0x1D0F, False, 0),
    "crc16-1021-inverted": Cyclic(16, 0x1021, 0xFFFF, False, 0xFFFF),
    "crc16-1021-mirrored": Cyclic(16, 0x1021, 0, True, 0),
    "crc16-1021-mirrored-ffff": Cyclic(16, 0x1021, 0xFFFF, True, 0),
    "crc16-1021-mirrored-inverted": Cyclic(16, 0x1021, 0xFFFF, True, 0xFFFF),
    "crc16-3d65": Cyclic(16, 0x3D65, 0, False, 0xFFFF),
    "crc8-07": Cyclic(8, 0x07, 0, False, 0),
    "crc8-07-ff": Cyclic(8, 0x07, 0xFF, False, 0),
    "crc8-07-55": Cyclic(8, 0x07, 0, False, 0x55),
    "crc8-07-mirrored": Cyclic(8, 0x07, 0xFF, True, 0),
    "crc8-31-mirrored": Cyclic(8, 0x31, 0, True, 0),
    "crc8-31-ff": Cyclic(8, 0x31, 0xFF, False, 0),
    "crc8-31": Cyclic(8, 0x31, 0, False, 0),
    "crc8-1d": Cyclic(8, 0x1D, 0, False, 0),
    "crc8-1d-inverted": Cyclic(8, 0x1D, 0xFF, False, 0xFF),
    "crc8-9b-mirrored": Cyclic(8, 0x9B, 0, True, 0),
    "crc8-2f-inverted": Cyclic(8, 0x2F, 0xFF, False, 0xFF),
    "crc8-d5": Cyclic(8, 0xD5, 0, False, 0),
    "crc32": Cyclic(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
}
"""Cyclic checks by name; the name tells the polynomial and what is special."""

SUMS: Final[dict[str, Callable[[bytes], int]]] = {
    "xor8": lambda span: reduce(xor, span, 0),
    "sum8": lambda span: sum(span) & 0xFF,
    "neg8": lambda span: -sum(span) & 0xFF,
    "not8": lambda span: ~sum(span) & 0xFF,
    "sum16": lambda span: sum(span) & 0xFFFF,
    "neg16": lambda span: -sum(span) & 0xFFFF,
    "xor7": lambda span: reduce(xor, span, 0) & 0x7F,
    "sum7": lambda span: sum(span) & 0x7F,
    "sum": sum,
    "digits": lambda span: sum(int(chr(byte), 16) for byte in span if chr(byte) in "0123456789ABCDEF"),
}
"""Sums by name: `sum` is the whole sum, `digits` that of the text's hexadecimal digits."""

KINDS: Final = (*SUMS, *CYCLIC)


def _mirror(number: int, bits: int) -> int:
    return int(f"{number:0{bits}b}"[::-1], 2)


@cache
def _table(code: Cyclic) -> tuple[int, ...]:
    """The check of each single byte, so that a frame costs one step a byte."""
    top, every = 1 << (code.bits - 1), (1 << code.bits) - 1
    poly = _mirror(code.poly, code.bits) if code.mirrored else code.poly
    table = []
    for byte in range(256):
        rest = byte if code.mirrored else byte << (code.bits - 8)
        for _ in range(8):
            if code.mirrored:
                rest = rest >> 1 ^ (poly if rest & 1 else 0)
            else:
                rest = (rest << 1 ^ (poly if rest & top else 0)) & every
        table.append(rest)
    return tuple(table)


def cyclic(code: Cyclic, span: bytes) -> int:
    """The cyclic redundancy check of *span* (table method; any text on coding theory)."""
    table, every = _table(code), (1 << code.bits) - 1
    rest = code.init
    for byte in span:
        if code.mirrored:
            rest = rest >> 8 ^ table[(rest ^ byte) & 0xFF]
        else:
            rest = (rest << 8) & every ^ table[(rest >> (code.bits - 8)) ^ byte]
    return rest ^ code.final


def total(kind: str, span: bytes) -> int:
    """The check *kind* of *span* as a number; KeyError for a kind that there is not."""
    return SUMS[kind](span) if kind in SUMS else cyclic(CYCLIC[kind], span)


class FrameCheck(Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """Where a frame's check stands, how it is written, and what it covers."""

    kind: str
    at: int
    """Where the check begins, counted back from the end: -1 is the last byte."""
    size: int = 1
    """Bytes of the frame that it takes."""
    written: Written = "big"
    start: int = 0
    """The first byte that it covers."""
    skip: int = 0
    """Bytes between what it covers and the check itself."""
    plus: int = 0
    """A number that is added to the sum (exclusive-or: mixed into it)."""

    @property
    def bits(self) -> int:
        """Bits that bytes in the wrong place must have right by chance."""
        per_byte = {"HEX": 4.0, "hex": 4.0, "decimal": 3.3}
        return int(per_byte.get(self.written, 8.0) * self.size)

    def write(self, number: int) -> bytes:
        """*number* as it stands in the frame."""
        if self.written == "decimal":
            return b"%0*d" % (self.size, number % 10**self.size)
        if self.written in ("HEX", "hex"):
            text = b"%0*X" % (self.size, number % 16**self.size)
            return text if self.written == "HEX" else text.lower()
        within = number & ((1 << 8 * self.size) - 1)
        return within.to_bytes(self.size, "big" if self.written == "big" else "little")

    def due(self, frame: bytes) -> bytes:
        """What *frame*, its check included, should have for a check."""
        number = total(self.kind, frame[self.start : len(frame) + self.at - self.skip])
        return self.write(number ^ self.plus if self.kind.startswith("xor") else number + self.plus)

    def came(self, frame: bytes) -> bytes:
        """What *frame* has for a check."""
        begin = len(frame) + self.at
        return frame[begin : begin + self.size]

    def holds(self, frame: bytes) -> bool:
        """Whether *frame* is long enough and its check is right."""
        if len(frame) + self.at - self.skip <= self.start:
            return False
        came, due = self.came(frame), self.due(frame)
        # In which letters the digits are written tells nothing, and may not have shown in the lesson.
        return came == due or (self.written in ("HEX", "hex") and came.upper() == due.upper())

    def without(self, frame: bytes) -> bytes:
        """*frame* with its check taken out."""
        begin = len(frame) + self.at
        return frame[:begin] + frame[begin + self.size :]
