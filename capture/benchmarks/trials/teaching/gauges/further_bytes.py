"""Invented gauges of a second hand that send bytes; the learner was not made for their families."""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Callable
from decimal import Decimal
from typing import Final

from capture.benchmarks.trials.teaching.gauges.further_text import BOTH, MM
from capture.benchmarks.trials.teaching.gauges.invented import InventedGauge, in_steps


def _crc(data: bytes, poly: int, start: int, mirrored: bool) -> int:
    rest = start
    for byte in data:
        rest ^= byte if mirrored else byte << 8
        for _ in range(8):
            if mirrored:
                rest = rest >> 1 ^ (poly if rest & 1 else 0)
            else:
                rest = (rest << 1 ^ (poly if rest & 0x8000 else 0)) & 0xFFFF
    return rest


def _checks(rng: random.Random) -> Callable[[bytes], bytes]:
    """One of the checks in common use; polynomials from memory of textbooks on coding theory."""
    small: Callable[[bytes], int]
    poly, start, mirrored = rng.choice(((0xA001, 0xFFFF, True), (0x1021, 0xFFFF, False), (0x8408, 0, True)))
    kind = rng.randrange(5)
    if kind == 0:
        return lambda data: zlib.crc32(data).to_bytes(4, "little")
    if kind < 3:
        return lambda data: _crc(data, poly, start, mirrored).to_bytes(2, "big" if kind == 1 else "little")
    small = (lambda data: -sum(data) & 255) if kind == 3 else (lambda data: ~sum(data) & 255)
    return lambda data: bytes([small(data)])


def checked_stream(rng: random.Random) -> InventedGauge:
    """A head, a count, a number of the frame that goes on, and a check, fifty times a second."""
    check, head, n = _checks(rng), rng.randbytes(2), [rng.randrange(256)]
    order = rng.choice(("<", ">"))

    def frame(value: Decimal, _unit: str) -> bytes:
        n[0] = (n[0] + 1) % 256
        body = head + bytes([n[0]]) + struct.pack(order + "i", in_steps(value))
        return body + check(body)

    return InventedGauge(frame, MM, rate=50.0, chopped=True)


def float_stream(rng: random.Random) -> InventedGauge:
    """A float, single or double, with a status byte that is 0 mostly; a check behind it."""
    check, form = _checks(rng), rng.choice((">f", "<f", ">d", "<d"))

    def frame(value: Decimal, _unit: str) -> bytes:
        body = b"\x01\x10" + struct.pack(form, float(value))
        return body + check(body)

    return InventedGauge(frame, MM, rate=rng.choice((0.0, 50.0)), chopped=True)


def bare_stream(rng: random.Random) -> InventedGauge:
    """A head of two or three bytes and a count, no check, fifty times a second."""
    head, order = rng.choice((b"\xff\xfe\xfd", b"\x02\x80", b"\xc3\x3c", b"M\xb5")), rng.choice(("<", ">"))
    return InventedGauge(
        lambda value, _unit: head + struct.pack(order + "i", in_steps(value)), MM, rate=50.0, chopped=True
    )


def flagged24(rng: random.Random) -> InventedGauge:
    """24 bits, the least significant sent first: twenty of size, one of sign, one of unit."""
    backward = rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        word = abs(in_steps(value)) | (value < 0) << 20 | (unit == "in") << 23
        data = word.to_bytes(3, "little")
        return bytes(int(f"{byte:08b}"[::-1], 2) for byte in data) if backward else data

    return InventedGauge(frame, BOTH)


def thirteen_nibbles(rng: random.Random) -> InventedGauge:
    """Four times F, sign, six digits, place of the point, unit: one a byte, or two, either first."""
    kind = rng.randrange(3)

    def frame(value: Decimal, unit: str) -> bytes:
        digits = f"{abs(in_steps(value)):06}"
        nibbles = [15] * 4 + [
            8 if value < 0 else 0,
            *map(int, digits),
            3 if unit == "mm" else 4,
            int(unit == "in"),
        ]
        if kind == 0:
            return bytes(nibbles)
        pairs = [*nibbles, 0]
        pairs = [pairs.pop(0) for _ in range(len(pairs))]
        return bytes(
            (a << 4 | b) if kind == 1 else (b << 4 | a)
            for a, b in zip([*pairs[::2]], [*pairs[1::2], 0], strict=False)
        )

    return InventedGauge(frame, BOTH)


def escaped(rng: random.Random) -> InventedGauge:
    """Frames between 7E, in which 7E and 7D are written as two bytes (as RFC 1662 does), with its check."""
    head = rng.randbytes(1)

    def frame(value: Decimal, _unit: str) -> bytes:
        body = head + struct.pack(">i", in_steps(value))
        body += (_crc(body, 0x8408, 0xFFFF, True) ^ 0xFFFF).to_bytes(2, "little")
        stuffed = b"".join(
            bytes([0x7D, byte ^ 0x20]) if byte in (0x7E, 0x7D) else bytes([byte]) for byte in body
        )
        return b"\x7e" + stuffed + b"\x7e"

    return InventedGauge(frame, MM, rate=rng.choice((0.0, 50.0)), chopped=True)


def doubled(rng: random.Random) -> InventedGauge:
    """Frames between DLE STX and DLE ETX, with DLE written twice inside, and a sum behind."""
    head = rng.choice((b"\x41", b"\x01\x02"))

    def frame(value: Decimal, _unit: str) -> bytes:
        body = head + struct.pack("<i", in_steps(value))
        return b"\x10\x02" + body.replace(b"\x10", b"\x10\x10") + b"\x10\x03" + bytes([sum(body) & 255])

    return InventedGauge(frame, MM)


def without_pause(rng: random.Random) -> InventedGauge:
    """A press sends the frame with its check two to five times, one right behind the other."""
    check, head = _checks(rng), rng.randbytes(1)

    def frame(value: Decimal, unit: str) -> bytes:
        body = head + bytes([0x20 | (unit == "in")]) + struct.pack("<i", in_steps(value))
        return body + check(body)

    return InventedGauge(frame, BOTH, times=rng.randint(2, 5))


def status_bits(rng: random.Random) -> InventedGauge:
    """A status byte of which two bits change for reasons that no display shows, a count and a check."""
    check, sign = _checks(rng), rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        status = 0x40 | (unit == "in") << 2 | (rng.random() < 0.3) | (rng.random() < 0.2) << 4
        status |= (sign and value < 0) << 7
        count = abs(in_steps(value)) if sign else in_steps(value)
        body = b"\x55" + bytes([status]) + struct.pack(">i", count)
        return body + check(body)

    return InventedGauge(frame, BOTH)


FAMILIES: Final = (
    checked_stream,
    float_stream,
    bare_stream,
    flagged24,
    thirteen_nibbles,
    escaped,
    doubled,
    without_pause,
    status_bits,
)
