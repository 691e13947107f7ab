"""Invented gauges of the kinds that shops have, by family; nothing in them is any maker's own."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from decimal import Decimal
from typing import Final, Literal

from msgspec import Struct, field


class InventedGauge(Struct):
    """An invented gauge."""

    frame: Callable[[Decimal, str], bytes]
    """What it sends for what its display shows, in a unit."""
    decimals: dict[str, int]
    """Of the display, by unit; the first is that of the lesson's beginning."""
    span: float = 25.0
    """mm that it measures at most."""
    negative: bool = True
    rate: float = 0.0
    """Frames a second; 0: on a press."""
    times: int = 1
    """Frames a press."""
    before: Callable[[], bytes] = bytes
    """What stands on the line before a press."""
    step: int = 1
    noise: bool = field(default=False)
    chopped: bool = False
    """Whether a stream is heard a few bytes at a time, not a frame at a time."""


def _word(rng: random.Random, letters: str = "ABCDGHKLMPQRSTVWXYZ", most: int = 3) -> str:
    return "".join(rng.choice(letters) for _ in range(rng.randint(1, most)))


def _units(rng: random.Random) -> dict[str, int]:
    d = rng.choice((2, 3, 3, 4))
    return {"mm": d, "in": d + 1} if rng.random() < 0.6 else {"mm": d}


def _digits(rng: random.Random) -> Callable[[Decimal], str]:
    """How a number is written."""
    signs = rng.choice(("minus", "always", "blank"))
    width = rng.choice((0, 0, 9, 10))
    pad = rng.choice("0 ")
    mark = rng.choice("...,")

    def written(value: Decimal) -> str:
        sign = "-" if value < 0 else {"minus": "", "always": "+", "blank": " "}[signs]
        body = f"{abs(value):f}".replace(".", mark)
        if width and pad == "0":
            return sign + body.rjust(width - 1, "0")
        return (sign + body).rjust(width)

    return written


def _order(rng: random.Random) -> Literal["little", "big"]:
    return "little" if rng.random() < 0.5 else "big"


def _end(rng: random.Random) -> str:
    return rng.choice(("\r\n", "\r\n", "\r", "\n"))


def text(rng: random.Random) -> InventedGauge:
    """A line with a number, and perhaps a name, a unit and a sum behind it."""
    put, end, units = _digits(rng), _end(rng), _units(rng)
    name = rng.choice(("", "", _word(rng), _word(rng) + rng.choice(" :=,")))
    label = rng.choice(
        ({"mm": "", "in": ""}, {"mm": "mm", "in": "in"}, {"mm": " mm", "in": ' "'}, {"mm": "M", "in": "E"})
    )
    if len(units) > 1 and not label["mm"] and rng.random() < 0.7:
        label = {"mm": " mm", "in": " in"}
    summed = rng.random() < 0.2

    def frame(value: Decimal, unit: str) -> bytes:
        line = f"{name}{put(value)}{label[unit]}".encode()
        return line + (b"%02X" % (sum(line) & 255) if summed else b"") + end.encode()

    return InventedGauge(frame, units)


def text_stream(rng: random.Random) -> InventedGauge:
    """The same fifty times a second."""
    gauge = text(rng)
    gauge.rate = 50.0
    return gauge


def _crc16(data: bytes, poly: int = 0xA001, start: int = 0xFFFF) -> int:
    for byte in data:
        start ^= byte
        for _ in range(8):
            start = start >> 1 ^ (poly if start & 1 else 0)
    return start


def _crc8(data: bytes, poly: int = 0x07) -> int:
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1 ^ (poly if crc & 0x80 else 0)) & 0xFF
    return crc


def _summed(rng: random.Random, kind: str = "") -> Callable[[bytes], bytes]:
    kind = kind or rng.choice(("crc16", "crc8", "sum", "xor"))
    order = _order(rng)
    if kind == "crc16":
        return lambda body: body + _crc16(body).to_bytes(2, order)
    if kind == "crc8":
        return lambda body: body + bytes([_crc8(body)])
    if kind == "sum":
        return lambda body: body + bytes([sum(body) & 0xFF])

    def xored(body: bytes) -> bytes:
        total = 0
        for byte in body:
            total ^= byte
        return body + bytes([total])

    return xored


def _count(rng: random.Random, size: int) -> Callable[[int], bytes]:
    order = _order(rng)
    kind = rng.choice(("complement", "complement", "magnitude", "offset"))
    top = 1 << (8 * size - 1)

    def put(count: int) -> bytes:
        value = (
            count % (2 * top)
            if kind == "complement"
            else abs(count) | (top if count < 0 else 0)
            if kind == "magnitude"
            else count + top
        )
        return value.to_bytes(size, order)

    return put


def _steps(value: Decimal) -> int:
    return int(value.scaleb(-int(value.as_tuple().exponent)))


def binary_check(rng: random.Random) -> InventedGauge:
    """A head, a status with the unit, a count and a check; on a press."""
    units, add, put = _units(rng), _summed(rng), _count(rng, rng.choice((3, 4)))
    head = bytes(rng.randrange(1, 255) for _ in range(rng.randint(1, 2)))
    bit = 1 << rng.randrange(8)

    def frame(value: Decimal, unit: str) -> bytes:
        return add(head + bytes([bit if unit == "in" else 0]) + put(_steps(value)))

    return InventedGauge(frame, units)


def binary_stream_check(rng: random.Random) -> InventedGauge:
    """The same fifty times a second."""
    gauge = binary_check(rng)
    gauge.rate = 50.0
    return gauge


def binary_stream(rng: random.Random) -> InventedGauge:
    """A head of two bytes, a count and no check, fifty times a second."""
    units, put = {"mm": 3}, _count(rng, rng.choice((3, 4)))
    head = bytes(rng.choice((0xAA, 0x55, 0xA5, 0xEB, 0x90, 0xFE)) for _ in range(2))
    return InventedGauge(lambda value, _unit: head + put(_steps(value)), units, rate=50.0)


def back_to_back(rng: random.Random) -> InventedGauge:
    """A press sends its frame two to four times without a silence."""
    gauge = rng.choice((binary_check, text))(rng)
    gauge.times = rng.randint(2, 4)
    return gauge


def junk_before(rng: random.Random) -> InventedGauge:
    """A byte of noise before some presses, as a cable gives that is plugged in."""
    gauge = rng.choice((binary_check, text))(rng)
    gauge.before = lambda: bytes([rng.randrange(256)]) if rng.random() < 0.15 else b""
    return gauge


def judgement(rng: random.Random) -> InventedGauge:
    """Letters that tell whether the size is good, before or behind the number."""
    put, end, units = _digits(rng), _end(rng), {"mm": 3}
    marks = rng.choice((("-NG", "GO", "+NG"), ("L", "G", "H"), ("<", "=", ">"), ("REJ", "OK", "REJ")))
    first = rng.random() < 0.5

    def frame(value: Decimal, _unit: str) -> bytes:
        mark = marks[0 if value < -4 else 2 if value > 4 else 1]
        return (f"{mark} {put(value)}" if first else f"{put(value)} {mark}").encode() + end.encode()

    return InventedGauge(frame, units)


def two_channels(rng: random.Random) -> InventedGauge:
    """Another number on the same line, before or behind."""
    put, end, units = _digits(rng), _end(rng), {"mm": 3}
    first, between = rng.random() < 0.5, rng.choice((" ", ";", ", ", "\t"))

    def frame(value: Decimal, _unit: str) -> bytes:
        other = put(Decimal(rng.randint(-20000, 20000)).scaleb(-3))
        return between.join((put(value), other) if first else (other, put(value))).encode() + end.encode()

    return InventedGauge(frame, units)


def smallest_largest(rng: random.Random) -> InventedGauge:
    """Present, smallest and largest value, and whether it is absolute, on one line."""
    put, end, units = _digits(rng), _end(rng), {"mm": 3}
    mode = rng.choice(("ABS", "REL"))

    def frame(value: Decimal, _unit: str) -> bytes:
        low, high = (
            value - Decimal(rng.randint(0, 900)).scaleb(-3),
            value + Decimal(rng.randint(0, 900)).scaleb(-3),
        )
        return f"{mode} C{put(value)} N{put(low)} X{put(high)}".encode() + end.encode()

    return InventedGauge(frame, units)


def fractions(rng: random.Random) -> InventedGauge:
    """Inches in sixty-fourths as fractions; the display shows them as a person types them, in decimals."""
    end = _end(rng)

    def frame(value: Decimal, _unit: str) -> bytes:
        whole, part = divmod(int(abs(value) * 64), 64)
        below = 64
        while part and part % 2 == 0:
            part, below = part // 2, below // 2
        words = [str(whole)] if whole or not part else []
        words += [f"{part}/{below}"] if part else []
        return (("-" if value < 0 else "") + " ".join(words) + " in").encode() + end.encode()

    return InventedGauge(frame, {"in": 6}, step=15625)


def key_value(rng: random.Random) -> InventedGauge:
    """JSON, or key=value, with other fields."""
    end, units = _end(rng), _units(rng)
    json, battery, number = rng.random() < 0.6, rng.randint(20, 99), [rng.randint(1, 9000)]
    key = rng.choice(("value", "v", "len", "reading"))

    def frame(value: Decimal, unit: str) -> bytes:
        number[0] += 1
        if json:
            return (
                f'{{"n":{number[0]},"{key}":{value:f},"unit":"{unit}","bat":{battery}}}'.encode()
                + end.encode()
            )
        return f"n={number[0]} {key}={value:f} unit={unit} bat={battery}".encode() + end.encode()

    return InventedGauge(frame, units)


def stamped(rng: random.Random) -> InventedGauge:
    """A time or a running number before the number."""
    put, end, units, clock = _digits(rng), _end(rng), _units(rng), [rng.randint(1000, 80000)]
    kind = rng.randrange(3)

    def frame(value: Decimal, unit: str) -> bytes:
        clock[0] += rng.randint(1, 9)
        t = clock[0]
        stamp = (f"{t // 3600 % 24:02}:{t // 60 % 60:02}:{t % 60:02}", f"{t % 100000:05}", f"#{t}")[kind]
        return f"{stamp} {put(value)} {unit}".encode() + end.encode()

    return InventedGauge(frame, units)


def slip(rng: random.Random) -> InventedGauge:
    """A count with a check in frames of RFC 1055."""
    add, put = _summed(rng, "crc16"), _count(rng, 4)
    head = bytes([rng.randrange(1, 0xBF)])

    def frame(value: Decimal, _unit: str) -> bytes:
        body = add(head + put(_steps(value)))
        return b"\xc0" + body.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc") + b"\xc0"

    return InventedGauge(frame, {"mm": 3})


def bits24(rng: random.Random) -> InventedGauge:
    """Twenty bits of size, a sign bit and a unit bit in 24, either half of a byte first."""
    sign, unit_bit = rng.sample((20, 21, 22, 23), 2)
    swapped, order = rng.random() < 0.5, _order(rng)

    def frame(value: Decimal, unit: str) -> bytes:
        word = abs(_steps(value)) | (1 << sign if value < 0 else 0) | (1 << unit_bit if unit == "in" else 0)
        data = word.to_bytes(3, order)
        return bytes(b << 4 & 0xF0 | b >> 4 for b in data) if swapped else data

    return InventedGauge(frame, _units(rng))


def coded(rng: random.Random) -> InventedGauge:
    """Decimal digits in nibbles, the last first or the halves swapped."""
    head, backward, swapped = bytes([rng.randrange(1, 255)]), rng.random() < 0.5, rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        text = f"{abs(_steps(value)):06}"
        text = text[::-1] if backward else text
        data = bytes.fromhex(text)
        data = bytes(b << 4 & 0xF0 | b >> 4 for b in data) if swapped else data
        return head + bytes([(0x80 if value < 0 else 0) | (1 if unit == "in" else 0)]) + data

    return InventedGauge(frame, _units(rng))


def raw_counts(rng: random.Random) -> InventedGauge:
    """Counts of a converter; the display shows them times a scale that is no round number."""
    scale = Decimal(rng.randint(1001, 9999)).scaleb(-7)
    add, put, as_text = _summed(rng, "crc16"), _count(rng, 4), rng.random() < 0.5

    def frame(value: Decimal, _unit: str) -> bytes:
        count = int((value / scale).to_integral_value())
        return b"%d\r\n" % count if as_text else add(b"\x7e" + put(count))

    return InventedGauge(frame, {"mm": 3}, noise=True)


def parity(rng: random.Random) -> InventedGauge:
    """Seven bits and even parity, heard as eight."""
    gauge = text(rng)
    plain = gauge.frame
    gauge.frame = lambda value, unit: bytes(
        b | (0x80 if b.bit_count() % 2 else 0) for b in plain(value, unit)
    )
    return gauge


def floating(rng: random.Random) -> InventedGauge:
    """A float of IEEE 754 with a check."""
    add, order, head = _summed(rng), rng.choice("<>"), bytes([rng.randrange(1, 255)])
    return InventedGauge(lambda value, _unit: add(head + struct.pack(order + "f", float(value))), {"mm": 3})


FAMILIES: Final = (
    text, text_stream, binary_check, binary_stream_check, binary_stream, back_to_back, junk_before, judgement,
    two_channels, smallest_largest, fractions, key_value, stamped, slip, bits24, coded, raw_counts, parity,
    floating,
)  # fmt: skip
