"""Gauges that send bytes as shops have them: narrow counts, signs in nibbles, seven bits, registers."""

from __future__ import annotations

import random
import struct
from functools import reduce
from operator import xor
from typing import Final

from capture.benchmarks.trials.teaching.composed import writing
from capture.benchmarks.trials.teaching.composed.shop_text import Encode, sent
from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit, SentMessage, WiredGauge


def _frames(encode: Encode, scales: tuple[DisplayUnit, ...], name: str, rng: random.Random) -> WiredGauge:
    gauge = sent(encode, scales, name, rng)
    gauge.guarded = True  # a message of one length shows that a byte was lost
    return gauge


def _body(rng: random.Random, put: Encode) -> Encode:
    """Head, status with battery and unit, the number, and perhaps a check."""
    head = bytes(rng.randrange(0x80, 256) for _ in range(rng.choice((1, 2))))
    check, tail = rng.choice(("", "xor", "sum")), rng.choice((b"", b"", b"\r\n"))
    low = rng.random() < 0.5
    status_first = rng.random() < 0.5

    def encode(m: SentMessage) -> bytes:
        status = (m.charge // 25) << 4 | (1 if m.scale.unit == "in" else 0) | (0x04 if low else 0)
        body = head + (bytes([status]) + put(m) if status_first else put(m) + bytes([status]))
        if check == "xor":
            body += bytes([reduce(xor, body)])
        if check == "sum":
            body += bytes([sum(body[len(head) :]) & 0xFF])
        return body + tail

    return encode


def signed_nibble(rng: random.Random) -> WiredGauge:
    """Packed digits with the sign in half a byte at one end, and the point's place in another."""
    scales = writing.any_scales(rng)
    first, rev = rng.random() < 0.5, rng.random() < 0.3
    minus, plus = rng.choice((("d", "c"), ("f", "0"), ("1", "0"), ("8", "0"), ("b", "a")))
    point = rng.random() < 0.5

    def put(m: SentMessage) -> bytes:
        digits = f"{abs(m.steps):0{6 if point else 7}}"
        s = minus if m.steps < 0 else plus
        text = (s + digits if first else digits + s) + (str(m.scale.decimals) if point else "")
        data = bytes.fromhex(text)
        return data[::-1] if rev else data

    encode = _body(rng, put)
    return _frames(
        encode,
        scales,
        f"sign nibble {'point' if point else ''}{' reversed' if rev else ''}",
        rng,
    )


def aligned(rng: random.Random) -> WiredGauge:
    """Two's complement of 12 to 24 bits at the left of its bytes, or at the right with zeros above."""
    bits = rng.choice((12, 14, 18, 20, 24))
    most = min(rng.choice((2000, 12500, 25400, 100000)), (1 << (bits - 1)) - 1)
    scales = (DisplayUnit("mm", 3 if most > 2000 else rng.choice((2, 3)), most),)
    size, left = (bits + 7) // 8, rng.random() < 0.5
    order = rng.choice(("big", "little"))

    def put(m: SentMessage) -> bytes:
        count = m.steps & ((1 << bits) - 1)
        return (count << (8 * size - bits) if left else count).to_bytes(size, order)  # type: ignore[arg-type]

    encode = _body(rng, put)
    return _frames(encode, scales, f"{bits} bits {'left' if left else 'right'}", rng)


def floats(rng: random.Random) -> WiredGauge:
    """A floating-point number of IEEE 754, in what the display shows or in metres."""
    form = rng.choice(("<f", ">f", "<d", ">d"))
    scales, metres = writing.any_scales(rng), rng.random() < 0.2
    encode = _body(rng, lambda m: struct.pack(form, float(m.value) / (1000 if metres else 1)))
    return _frames(encode, scales, f"float {form}{' metres' if metres else ''}", rng)


def modbus(rng: random.Random) -> WiredGauge:
    """Answers of registers with their check (the open protocol's frame)."""
    scales, swap, address = writing.any_scales(rng, one=True), rng.random() < 0.5, rng.randint(1, 30)
    as_float = rng.random() < 0.5

    def encode(m: SentMessage) -> bytes:
        data = struct.pack(">f", float(m.value)) if as_float else m.steps.to_bytes(4, "big", signed=True)
        data = data[2:] + data[:2] if swap else data
        body = bytes([address, 3, 4]) + data
        crc = 0xFFFF
        for byte in body:
            crc ^= byte
            for _ in range(8):
                crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
        return body + crc.to_bytes(2, "little")

    return _frames(encode, scales, "registers", rng)


def sevens(rng: random.Random) -> WiredGauge:
    """Seven bits a byte, the first marked by its top bit."""
    scales = writing.any_scales(rng, one=True)
    size = 3 if scales[0].most < 1 << 20 else 4
    status = rng.random() < 0.5

    def encode(m: SentMessage) -> bytes:
        count = m.steps & ((1 << (7 * size)) - 1)
        data = [count >> (7 * k) & 0x7F for k in reversed(range(size))]
        first = [0x80 | (0x20 if m.charge > 20 else 0)] if status else []
        if not status:
            data[0] |= 0x80
        return bytes([*first, *data])

    return _frames(encode, scales, f"sevens {status}", rng)


FAMILIES: Final = (signed_nibble, aligned, floats, modbus, sevens)


def shop_bytes(rng: random.Random) -> WiredGauge:
    """A gauge of one of the families."""
    return rng.choice(FAMILIES)(rng)
