"""Frames with fields in any order: words with bits for sign and unit, packed digits, stuffing, checks."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from typing import Final

from capture.benchmarks.trials.teaching.composed import writing
from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit, SentMessage, WiredGauge, farthest

Put = Callable[[SentMessage], bytes]

CYCLES: Final = (
    (16, 0x8005, 0xFFFF, True, 0), (16, 0x1021, 0, False, 0), (16, 0x1021, 0xFFFF, True, 0xFFFF),
    (16, 0x1021, 0xFFFF, False, 0), (8, 0x07, 0, False, 0), (8, 0x31, 0xFF, False, 0), (8, 0x31, 0, True, 0),
    (32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
)  # fmt: skip
"""Width, polynomial, beginning, least bit first, and what is mixed in at the end (ITU-T V.42 and others)."""


def _turned(number: int, bits: int) -> int:
    return int(f"{number:0{bits}b}"[::-1], 2)


def _cycle(data: bytes, form: tuple[int, int, int, bool, int]) -> int:
    width, poly, rest, mirrored, final = form
    for byte in data:
        rest ^= (_turned(byte, 8) if mirrored else byte) << (width - 8)
        for _ in range(8):
            rest = (rest << 1) ^ (poly if rest >> (width - 1) else 0)
            rest &= (1 << width) - 1
    return (_turned(rest, width) if mirrored else rest) ^ final


def _check(rng: random.Random) -> tuple[Callable[[bytes], bytes], str]:
    """A check behind a body, over all of it."""
    way = rng.choice(("none", "xor", "sum", "neg", "sum16", "cyclic", "cyclic", "cyclic"))
    form, order = rng.choice(CYCLES), rng.choice(("big", "little"))

    def check(body: bytes) -> bytes:
        if way == "none":
            return b""
        if way == "cyclic":
            return _cycle(body, form).to_bytes(form[0] // 8, order)  # type: ignore[arg-type]
        if way == "sum16":
            return (sum(body) & 0xFFFF).to_bytes(2, order)  # type: ignore[arg-type]
        total = 0
        for byte in body:
            total = total ^ byte if way == "xor" else total + byte
        return bytes([(-total if way == "neg" else total) & 0xFF])

    return check, way if way != "cyclic" else f"cyclic {form[0]}"


def _count(rng: random.Random, scales: tuple[DisplayUnit, ...]) -> tuple[Put, str, bool]:
    """A count with its own sign."""
    most = max(scale.most for scale in scales)
    sizes = [size for size in (2, 3, 4) if most < 1 << (8 * size - 1)]
    size, order = rng.choice(sizes), rng.choice(("big", "little"))
    way, offset = rng.choice(("complement", "complement", "magnitude", "offset")), 1 << (8 * size - 1)

    def put(m: SentMessage) -> bytes:
        number = {
            "complement": m.steps % (2 * offset),
            "magnitude": abs(m.steps) + offset * (m.steps < 0),
            "offset": m.steps + offset,
        }[way]
        return number.to_bytes(size, order)  # type: ignore[arg-type]

    return put, f"{way} {8 * size}", False


def _word(rng: random.Random, scales: tuple[DisplayUnit, ...]) -> tuple[Put, str, bool]:
    """A magnitude with a bit for the sign and one for the unit above it, in 24 or 32 bits."""
    bits = rng.choice((24, 32)) if max(scale.most for scale in scales) < 1 << 20 else 32
    sign, unit = rng.sample(range(bits - 4, bits), 2)
    steady, way = (
        rng.choice((0, 0, 1 << (bits - 5) if bits == 32 else 0)),
        rng.choice(("big", "little", "halves")),
    )

    def put(m: SentMessage) -> bytes:
        word = abs(m.steps) | steady | (m.steps < 0) << sign | (m.scale.unit == "in") << unit
        data = word.to_bytes(bits // 8, "little" if way == "little" else "big")
        return bytes(byte << 4 & 0xF0 | byte >> 4 for byte in reversed(data)) if way == "halves" else data

    return put, f"word {bits} {way}", True


def _digits(rng: random.Random, scales: tuple[DisplayUnit, ...]) -> tuple[Put, str, bool]:
    """Packed digits with the sign in a half byte, forward or backward."""
    backward, behind, swapped = (rng.random() < 0.4 for _ in range(3))
    plus, minus = rng.choice(((0, 8), (0xC, 0xD), (0xA, 0xB), (0, 0xF)))
    width = 7 if max(len(str(scale.most)) for scale in scales) > 5 else rng.choice((5, 7))

    def put(m: SentMessage) -> bytes:
        text = f"{abs(m.steps):0{width}}"
        text = text[::-1] if backward else text
        flag = f"{minus if m.steps < 0 else plus:x}"
        data = bytes.fromhex(text + flag if behind else flag + text)
        return bytes(byte << 4 & 0xF0 | byte >> 4 for byte in data) if swapped else data

    return put, "packed" + " backward" * backward + " swapped" * swapped, False


def _numbered(rng: random.Random, scales: tuple[DisplayUnit, ...]) -> tuple[Put, str, bool]:
    """A digit in the low half of each byte, its place or a constant in the high half; a byte for the sign."""
    width, high = max(len(str(scale.most)) for scale in scales), rng.choice((0x30, 0xF0, None))
    plus, minus = rng.choice(((0x2B, 0x2D), (0x20, 0x2D), (0, 1), (0, 8)))
    first = rng.random() < 0.5

    def put(m: SentMessage) -> bytes:
        sign = bytes([minus if m.steps < 0 else plus])
        text = f"{abs(m.steps):0{width}}"
        data = bytes(
            int(digit) | (16 * (place + 1) if high is None else high) for place, digit in enumerate(text)
        )
        return sign + data if first else data + sign

    return put, "a digit a byte", False


def _float(rng: random.Random, _: tuple[DisplayUnit, ...]) -> tuple[Put, str, bool]:
    """A floating-point number, with finer steps than the display or without."""
    form, finer = rng.choice((">f", "<f", "<d", ">d")), rng.random() < 0.3

    def put(m: SentMessage) -> bytes:
        more = m.sub * 10.0**-m.scale.decimals / 10 if finer else 0.0
        return struct.pack(form, float(m.value) + more)

    return put, "float finer" if finer else "float", False


NUMBERS: Final = (_count, _count, _word, _digits, _numbered, _float)


def _fields(rng: random.Random, unit_shown: bool) -> list[tuple[Put, str]]:
    """Fields beside the number: addresses, states, counters, clocks, another channel, a battery."""
    first, base = rng.randrange(256), rng.randrange(1 << 24)
    low, high = sorted(rng.uniform(-0.7, 0.7) for _ in range(2))
    steady = bytes(rng.randrange(256) for _ in range(rng.choice((1, 2))))

    def state(m: SentMessage) -> bytes:
        share = m.steps / m.scale.most
        judged = 1 << ((share > low) + (share > high))
        return bytes([judged << 2 | (m.scale.unit == "in") << 6 | 0x80])

    every: dict[str, Put] = {
        "steady": lambda _: steady,
        "counter 8": lambda m: bytes([(first + m.number) & 0xFF]),
        "counter 16": lambda m: (first + m.number & 0xFFFF).to_bytes(2, "big"),
        "clock 32": lambda m: (base + 1000 * m.clock + 3 * m.number & 0xFFFFFFFF).to_bytes(4, "little"),
        "state": state,
        "channel": lambda m: (m.other & 0xFFFFFF).to_bytes(3, "big"),
        "charge": lambda m: bytes([m.charge - m.number // 400 & 0xFF]),
    }
    chosen = rng.sample(sorted(every), rng.choice((0, 1, 1, 2)))
    if not unit_shown and "state" not in chosen:
        codes = rng.choice(((0, 1), (0x6D, 0x69), (0x10, 0x30), (1, 2)))
        every["unit"] = lambda m: bytes([codes[m.scale.unit == "in"]])
        chosen.append("unit")
    return [(every[name], name) for name in chosen]


def _stuffed(rng: random.Random) -> tuple[Callable[[bytes], bytes], str]:
    """How a body is set between its ends, so that they stand nowhere inside."""
    way = rng.choice(("slip", "hdlc", "dle", "dle"))
    both = rng.random() < 0.5

    def frame(body: bytes) -> bytes:
        if way == "slip":
            body = body.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc")
            return b"\xc0" * both + body + b"\xc0"
        if way == "hdlc":
            body = b"".join(bytes([0x7D, b ^ 0x20]) if b in (0x7D, 0x7E) else bytes([b]) for b in body)
            return b"\x7e" + body + b"\x7e"
        return b"\x10\x02" + body.replace(b"\x10", b"\x10\x10") + b"\x10\x03"

    return frame, way


def _head(rng: random.Random) -> bytes:
    return rng.choice(
        (b"", b"\xaa\x55", b"\xa5", b"\x7e\x31", b"\x02", b"\x55\xaa\x01", b"\xeb\x90", b"MS", b"\xff")
    )


def mixed_frame(rng: random.Random, *, stuffed: bool = False) -> WiredGauge:
    """A head, fields and a number in any order, a check and perhaps a tail."""
    scales = writing.any_scales(rng)
    number, kind, tells_unit = rng.choice(NUMBERS)(rng, scales)
    fields = _fields(rng, tells_unit or len(scales) == 1)
    parts = [(number, kind), *fields]
    rng.shuffle(parts)
    check, checked = _check(rng)
    frame, way = _stuffed(rng) if stuffed else (None, "")
    head, tail = (b"", b"") if stuffed else (_head(rng), rng.choice((b"", b"", b"\r", b"\x03", b"\r\n")))
    with_head = rng.random() < 0.6

    def encode(m: SentMessage) -> bytes:
        body = b"".join(put(m) for put, _ in parts)
        if frame is not None:
            return frame(body + check(body))
        return head + body + check(head + body if with_head else body) + tail

    traits = (kind, *(name for _, name in fields), checked, *[way] * bool(way))
    gauge = WiredGauge(encode, scales, traits, guarded=checked != "none" or not stuffed)
    gauge.baud = rng.choice((9600, 19200, 38400, 115200))
    return gauge


def streamed(gauge: WiredGauge, rng: random.Random, rates: tuple[float, ...]) -> WiredGauge:
    """*gauge* sending all the time, as fast as its line allows at the most."""
    longest = max(len(gauge.encode(farthest(scale))) for scale in gauge.scales) + 1
    gauge.rate = min(rng.choice(rates), gauge.baud / 10 / longest)
    return gauge


def mixed_bytes(rng: random.Random) -> WiredGauge:
    """A frame on a press or in a slow stream, with or without stuffing."""
    gauge = mixed_frame(rng, stuffed=rng.random() < 0.35)
    if rng.random() < 0.3:
        return streamed(gauge, rng, (5.0, 10.0))
    gauge.repeats, gauge.noise = rng.choice((1, 1, 1, 1, 2)), rng.choice((0.0, 0.0, 0.2))
    return gauge


def mixed_streams(rng: random.Random) -> WiredGauge:
    """A frame 50 times a second and faster, also back to back."""
    return streamed(mixed_frame(rng, stuffed=rng.random() < 0.2), rng, (50.0, 50.0, 100.0, 1000.0))
