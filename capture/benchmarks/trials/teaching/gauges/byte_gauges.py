"""Invented gauges that send bytes, by family."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from decimal import Decimal
from typing import Final

from capture.benchmarks.trials.teaching.gauges.invented import InventedGauge, any_order, any_units, in_steps
from capture.benchmarks.trials.teaching.gauges.text_gauges import text


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
    order = any_order(rng)
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
    order = any_order(rng)
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


def binary_check(rng: random.Random) -> InventedGauge:
    """A head, a status with the unit, a count and a check; on a press."""
    units, add, put = any_units(rng), _summed(rng), _count(rng, rng.choice((3, 4)))
    head = bytes(rng.randrange(1, 255) for _ in range(rng.randint(1, 2)))
    bit = 1 << rng.randrange(8)

    def frame(value: Decimal, unit: str) -> bytes:
        return add(head + bytes([bit if unit == "in" else 0]) + put(in_steps(value)))

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
    return InventedGauge(lambda value, _unit: head + put(in_steps(value)), units, rate=50.0)


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


def slip(rng: random.Random) -> InventedGauge:
    """A count with a check in frames of RFC 1055."""
    add, put = _summed(rng, "crc16"), _count(rng, 4)
    head = bytes([rng.randrange(1, 0xBF)])

    def frame(value: Decimal, _unit: str) -> bytes:
        body = add(head + put(in_steps(value)))
        return b"\xc0" + body.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc") + b"\xc0"

    return InventedGauge(frame, {"mm": 3})


def bits24(rng: random.Random) -> InventedGauge:
    """Twenty bits of size, a sign bit and a unit bit in 24, either half of a byte first."""
    sign, unit_bit = rng.sample((20, 21, 22, 23), 2)
    swapped, order = rng.random() < 0.5, any_order(rng)

    def frame(value: Decimal, unit: str) -> bytes:
        word = abs(in_steps(value)) | (1 << sign if value < 0 else 0) | (1 << unit_bit if unit == "in" else 0)
        data = word.to_bytes(3, order)
        return bytes(b << 4 & 0xF0 | b >> 4 for b in data) if swapped else data

    return InventedGauge(frame, any_units(rng))


def coded(rng: random.Random) -> InventedGauge:
    """Decimal digits in nibbles, the last first or the halves swapped."""
    head, backward, swapped = bytes([rng.randrange(1, 255)]), rng.random() < 0.5, rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        text = f"{abs(in_steps(value)):06}"
        text = text[::-1] if backward else text
        data = bytes.fromhex(text)
        data = bytes(b << 4 & 0xF0 | b >> 4 for b in data) if swapped else data
        return head + bytes([(0x80 if value < 0 else 0) | (1 if unit == "in" else 0)]) + data

    return InventedGauge(frame, any_units(rng))


def raw_counts(rng: random.Random) -> InventedGauge:
    """Counts of a converter; the display shows them times a scale that is no round number."""
    scale = Decimal(rng.randint(1001, 9999)).scaleb(-7)
    add, put, as_text = _summed(rng, "crc16"), _count(rng, 4), rng.random() < 0.5

    def frame(value: Decimal, _unit: str) -> bytes:
        count = int((value / scale).to_integral_value())
        return b"%d\r\n" % count if as_text else add(b"\x7e" + put(count))

    return InventedGauge(frame, {"mm": 3}, noise=True)


def floating(rng: random.Random) -> InventedGauge:
    """A float of IEEE 754 with a check."""
    add, order, head = _summed(rng), rng.choice("<>"), bytes([rng.randrange(1, 255)])
    return InventedGauge(lambda value, _unit: add(head + struct.pack(order + "f", float(value))), {"mm": 3})


FAMILIES: Final = (
    binary_check,
    binary_stream_check,
    binary_stream,
    back_to_back,
    junk_before,
    slip,
    bits24,
    coded,
    raw_counts,
    floating,
)
