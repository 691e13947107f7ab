"""GATT values: numbers that a Bluetooth LE instrument gives with their format and unit. Pure.

A value that a characteristic gives is one piece with its own border, and a dialect gets a
stream. So the link lays each value in an envelope, together with what the instrument itself
said about it, and a recording can be read again without the instrument:

    2 bytes   length of all that follows
    2 bytes   number of the characteristic, where the Bluetooth SIG gave it one, else 0
    7 bytes   its Characteristic Presentation Format (descriptor 0x2904)
    the value

All numbers have the little end first, as on the air. Formats, units and numbers are those of
the Bluetooth SIG's "Assigned Numbers"; the presentation format is in the Core Specification,
volume 3, part G, 3.3.3.5; SFLOAT and FLOAT are those of ISO/IEEE 11073-20601.
"""

from __future__ import annotations

import struct
from fractions import Fraction
from math import floor, isfinite, log10
from typing import TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from capture.dialects.dialect import Dialect
from capture.events import Decoded, Garbled, Reading, Unit, Wire

LONGEST_VALUE = 512
"""Bytes in the longest value of an attribute (Core Specification, volume 3, part F, 3.2.9)."""

TEMPERATURE, BATTERY_LEVEL, LINEAR_POSITION, LENGTH = 0x2A6E, 0x2A19, 0x2C08, 0x2C0A

_HEAD = struct.Struct("<HBbHBH")
_LONGEST = 2 + _HEAD.size + LONGEST_VALUE + 1
_TOO_LONG = f"a value of more than {LONGEST_VALUE} bytes, which none may have; the rest was dropped"
_PRESENTATION = struct.Struct("<BbHBH")
_FINEST = 6
"""Most decimals of a floating-point value, a nanometre: a float can't show how many are meant."""
_FINEST_SHOWN = 15
"""Most decimals of any value; our own numbers hold no more."""


class Presentation(Struct, frozen=True):
    """How a characteristic presents its value: descriptor 0x2904."""

    format: int
    exponent: int
    """Power of ten; means something for integer formats only."""
    unit: int
    namespace: int = 1
    description: int = 0

    @classmethod
    def unpack(cls, descriptor: bytes) -> Presentation:
        """Read the seven bytes of a descriptor 0x2904; ValueError where there are not seven."""
        if len(descriptor) != _PRESENTATION.size:
            raise ValueError(f"a presentation format has 7 bytes, not {len(descriptor)}")
        return cls(*_PRESENTATION.unpack(descriptor))


STANDARD = {
    TEMPERATURE: Presentation(0x0E, -2, 0x272F),
    BATTERY_LEVEL: Presentation(0x04, 0, 0x27AD),
    LINEAR_POSITION: Presentation(0x10, -7, 0x2701),
    LENGTH: Presentation(0x08, -7, 0x2701),
}
"""Characteristics that the SIG defines so far that they need no descriptor."""

_NOT_KNOWN = {
    TEMPERATURE: b"\x00\x80",
    LINEAR_POSITION: b"\xff\xff\xff\x7f",
    LENGTH: b"\xff\xff\xff\xff",
}
"""Values by which a standard characteristic says that it does not know."""


class _Measure(Struct, frozen=True):
    """A unit of the SIG in terms of ours: ``ours = scale · theirs + offset``."""

    unit: Unit
    scale: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)
    shown: str = ""
    shift: int = 0
    """Decimals that go when the point moves; a millimetre is written as 10⁻³ metre, as there is none."""


_UNITS = {
    0x2700: _Measure("1"),
    0x2701: _Measure("mm", scale=Fraction(1000), shift=3),
    0x27A2: _Measure("mm", scale=Fraction("25.4"), shown="in"),
    0x27A3: _Measure("mm", scale=Fraction("304.8"), shown="ft"),
    0x2705: _Measure("degC", offset=Fraction("-273.15"), shown="K"),
    0x272F: _Measure("degC"),
    0x27AC: _Measure("degC", scale=Fraction(5, 9), offset=Fraction(-160, 9), shown="degF"),
    0x27AD: _Measure("%"),
    0x2763: _Measure("deg"),
    0x2764: _Measure("deg", scale=Fraction(1, 60), shown="arcmin"),
    0x2765: _Measure("deg", scale=Fraction(1, 3600), shown="arcsec"),
    0x2723: _Measure("N"),
}

_INTEGERS = {
    **dict(zip(range(0x01, 0x0C), (1, 2, 4, 8, 12, 16, 24, 32, 48, 64, 128), strict=True)),
    **dict(zip(range(0x0C, 0x14), (-8, -12, -16, -24, -32, -48, -64, -128), strict=True)),
}
"""Bits of each integer format, negative where it is signed."""

_FLOATS = {0x14: ("<f", 6), 0x15: ("<d", 15)}
"""IEEE 754 formats, with the decimal digits that each can always hold."""

_MEDICAL = {0x16: (12, 4), 0x17: (24, 8)}
"""SFLOAT and FLOAT: bits of the mantissa and of the exponent, both two's complement."""

_OPAQUE = {
    0x18: "a pair of nibbles (duint16)",
    0x19: "text in UTF-8",
    0x1A: "text in UTF-16",
    0x1B: "a structure of its own",
    0x1C: "a list of data types",
}


class _Number(Struct, frozen=True):
    size: Fraction
    decimals: int


_Scalar: TypeAlias = _Number | str
"""A number, or why there is none."""


def unit_of(presentation: Presentation) -> Unit | None:
    """The unit that such values have as readings; None where they can't be read."""
    numeric = presentation.format in (_INTEGERS | _FLOATS | _MEDICAL)
    measure = _UNITS.get(presentation.unit)
    return measure.unit if numeric and measure else None


def says(number: int, presentation: Presentation, value: bytes, raw: Wire) -> Decoded:
    """What a value says: a reading, or why it is none.

    Args:
        number: The SIG's number of the characteristic, 0 where it has none.
        presentation: Its format and unit.
        value: The value as it came.
        raw: What to record as the bytes that came.
    """
    if _NOT_KNOWN.get(number) == value:
        return Garbled("the instrument says that it does not know the value", raw)
    measure = _UNITS.get(presentation.unit)
    if measure is None:
        return Garbled(f"unit 0x{presentation.unit:04X} is none of a length or a temperature", raw)
    scalar = _scalar(presentation, value)
    if isinstance(scalar, str):
        return Garbled(scalar, raw)
    try:
        size = float(measure.scale * scalar.size + measure.offset)
    except OverflowError:
        return Garbled("the value is too large for any instrument", raw)
    finest = _FINEST if presentation.format in _FLOATS else _FINEST_SHOWN
    digits = min(max(scalar.decimals - measure.shift, 0), finest)
    return Reading(size, measure.unit, digits, raw, measure.shown)


def battery(value: bytes) -> float | None:
    """Per cent of a Battery Level; None where it is none (0 to 100, the rest is reserved)."""
    return float(value[0]) if len(value) == 1 and value[0] <= 100 else None


def envelope(value: bytes, number: int, presentation: Presentation) -> bytes:
    """A value with all that is needed to read it, for `NUMBERS`."""
    p = presentation
    head = _HEAD.pack(number, p.format, p.exponent, p.unit, p.namespace, p.description)
    return bordered(head + value)


def bordered(value: bytes) -> bytes:
    """A value with its border, for a dialect made by `whole`.

    Of a value longer than an attribute may be, enough is kept to show that it is.
    """
    kept = value[: _HEAD.size + LONGEST_VALUE + 1]
    return len(kept).to_bytes(2, "little") + kept


def whole(dialect: Dialect) -> Dialect:
    """A *dialect* whose pieces come one a value, each with its border.

    For text or a private packing in a characteristic: a value needs no line end there.
    """

    def read(piece: Wire) -> Decoded | None:
        inner = piece[2:]
        if len(inner) > LONGEST_VALUE:
            return Garbled(_TOO_LONG, piece)
        if 0 < dialect.cut(inner.encode("latin-1")) < len(inner):
            why = "more than one piece in a value: with bytes = true it is read as a stream"
            return Garbled(why, piece)
        said = dialect.read(inner)
        return None if said is None else replace(said, raw=piece)

    return Dialect(f"{dialect.name}, one a value", _cut, read, _LONGEST, hello=dialect.hello, ask=dialect.ask)


def _cut(data: bytes) -> int:
    size = 2 + int.from_bytes(data[:2], "little")
    return size if size <= len(data) else 0


def _read(piece: Wire) -> Decoded:
    body = piece.encode("latin-1")[2:]
    if len(body) < _HEAD.size:
        return Garbled("an envelope without its head", piece)
    number, *presentation = _HEAD.unpack_from(body)
    return says(number, Presentation(*presentation), body[_HEAD.size :], piece)


NUMBERS = Dialect("gatt", _cut, _read, _LONGEST)
"""Numbers that an instrument gives with their format and unit."""


def _scalar(presentation: Presentation, value: bytes) -> _Scalar:
    form = presentation.format
    if form in _INTEGERS:
        return _integer(_INTEGERS[form], presentation.exponent, value)
    if form in _FLOATS:
        return _float(*_FLOATS[form], value)
    if form in _MEDICAL:
        return _medical(*_MEDICAL[form], value)
    what = _OPAQUE.get(form, f"of the reserved format 0x{form:02X}")
    return f"the value is {what}: name a dialect that reads it"


def _wrong_length(value: bytes, due: int) -> str:
    return f"a value of {len(value)} bytes where its format has {due}"


def _integer(bits: int, exponent: int, value: bytes) -> _Scalar:
    width = abs(bits)
    if len(value) != (width + 7) // 8:
        return _wrong_length(value, (width + 7) // 8)
    count = int.from_bytes(value, "little") & ((1 << width) - 1)
    if bits < 0:
        count = _signed(count, width)
    return _Number(count * Fraction(10) ** exponent, max(-exponent, 0))


def _float(code: str, holds: int, value: bytes) -> _Scalar:
    if len(value) != struct.calcsize(code):
        return _wrong_length(value, struct.calcsize(code))
    (number,) = struct.unpack(code, value)
    if not isfinite(number):
        return "the value is not a finite number"
    shortest = next(
        text
        for text in (f"{number:.{digits}g}" for digits in range(holds, 18))
        if struct.pack(code, float(text)) == value
    )
    decimals = holds - 1 - floor(log10(abs(number))) if number else holds
    return _Number(Fraction(shortest), max(decimals, 0))


def _medical(mantissa_bits: int, exponent_bits: int, value: bytes) -> _Scalar:
    width = mantissa_bits + exponent_bits
    if len(value) != width // 8:
        return _wrong_length(value, width // 8)
    word = int.from_bytes(value, "little")
    mantissa = _signed(word & ((1 << mantissa_bits) - 1), mantissa_bits)
    exponent = _signed(word >> mantissa_bits, exponent_bits)
    top = 1 << (mantissa_bits - 1)
    if exponent == 0 and (mantissa >= top - 2 or mantissa <= 2 - top):
        return "the value is not a number: infinite, out of resolution, or reserved"
    return _Number(mantissa * Fraction(10) ** exponent, max(-exponent, 0))


def _signed(count: int, bits: int) -> int:
    return count - (1 << bits) if count >> (bits - 1) else count
