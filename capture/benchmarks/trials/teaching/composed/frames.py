"""Gauges that send bytes, put together from a head, fields, a number, a check, a tail and a framing."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from typing import Final

from capture.benchmarks.trials.teaching.composed import checks, writing
from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit, SentMessage, WiredGauge, farthest

Put = Callable[[SentMessage], bytes]
"""One field of a message."""

FLIPPED: Final = 0x20


def _count(rng: random.Random, scale: DisplayUnit) -> tuple[Put, str]:
    """A binary count, signed in one of the usual ways, of fitting size."""
    least = 2 if scale.most < 30000 else 3
    size, order = rng.choice([n for n in (2, 3, 4) if n >= least]), rng.choice(("big", "little"))
    way = rng.choice(("complement", "complement", "magnitude", "offset", "ones"))
    bits, swapped = 8 * size, size == 4 and rng.random() < 0.2

    def put(m: SentMessage) -> bytes:
        steps = m.steps
        number = {
            "complement": steps % (1 << bits),
            "magnitude": abs(steps) | ((1 << (bits - 1)) if steps < 0 else 0),
            "offset": steps + (1 << (bits - 1)),
            "ones": steps if steps >= 0 else (1 << bits) - 1 + steps,
        }[way]
        data = number.to_bytes(size, order)  # type: ignore[arg-type]
        return data[2:] + data[:2] if swapped else data

    return put, f"count {way}"


def _word24(rng: random.Random) -> tuple[Put, str]:
    """24 bits: a magnitude with a bit for the sign and one for the unit, either half byte or bit first."""
    sign, unit = rng.sample((20, 21, 22, 23), 2)
    way = rng.choice(("high half first", "low half first", "low byte first", "mirrored"))

    def put(m: SentMessage) -> bytes:
        word = abs(m.steps) & 0xFFFFF
        word |= (1 << sign if m.steps < 0 else 0) | (1 << unit if m.scale.unit == "in" else 0)
        data = word.to_bytes(3, "big")
        if way == "mirrored":
            return bytes(int(f"{byte:08b}"[::-1], 2) for byte in data[::-1])
        if way == "low half first":
            return bytes(byte >> 4 | byte << 4 & 0xF0 for byte in data[::-1])
        return data[::-1] if way == "low byte first" else data

    return put, f"24 bits {way}"


def _packed(rng: random.Random) -> tuple[Put, str]:
    """Binary-coded digits: a byte each or two a byte, forward or backward, with a sign byte before."""
    way = rng.choice(("high", "low", "bytes"))
    size, backward = rng.choice((6, 8)), rng.random() < 0.4
    minus, plus = rng.choice(((0x0D, 0x0C), (0x01, 0x00), (0x2D, 0x2B), (0x80, 0x00)))
    behind = rng.random() < 0.4

    def put(m: SentMessage) -> bytes:
        digits = f"{abs(m.steps):0{size}}"
        digits = digits[::-1] if backward else digits
        if way == "bytes":
            data = bytes(int(digit) for digit in digits)
        else:
            pairs = [digits[at : at + 2] for at in range(0, size, 2)]
            data = bytes(int(pair if way == "high" else pair[::-1], 16) for pair in pairs)
        sign = bytes([minus if m.steps < 0 else plus])
        return data + sign if behind else sign + data

    return put, f"digits {way}{' backward' if backward else ''}"


def _float(rng: random.Random) -> tuple[Put, str]:
    form = rng.choice((">f", "<f", "<f", ">d", "<d"))
    return lambda m: struct.pack(form, float(m.value)), f"float {form}"


def _finer(rng: random.Random, scale: DisplayUnit) -> tuple[Put, str]:
    """Tenths of what the display shows."""
    size, order = 4 if scale.most > 800_000 else rng.choice((3, 4)), rng.choice((">", "<"))

    def put(m: SentMessage) -> bytes:
        return (10 * m.steps + m.sub).to_bytes(size, "big" if order == ">" else "little", signed=True)

    return put, "finer than the display"


def _raw(rng: random.Random, scale: DisplayUnit) -> tuple[Put, str]:
    """Counts of a converter over its travel; the display shows what they mean, rounded."""
    bits = rng.choice((16, 18, 20, 24))
    travel = scale.most * rng.uniform(1.02, 1.4)
    half = (1 << (bits - 1)) - 1
    if half < 4 * travel:
        bits, half = 24, (1 << 23) - 1
    size, order = 2 if bits == 16 else rng.choice((3, 4)), rng.choice(("big", "little"))

    def put(m: SentMessage) -> bytes:
        count = round((m.steps + m.sub / 10) / travel * half)
        return count.to_bytes(size, order, signed=True)  # type: ignore[arg-type]

    return put, "raw counts"


NUMBERS: Final = (("count", 40), ("word", 14), ("digits", 16), ("float", 10), ("finer", 7), ("raw", 8))


def _value(rng: random.Random) -> tuple[Put, str, tuple[DisplayUnit, ...]]:
    kind = rng.choices([name for name, _ in NUMBERS], [share for _, share in NUMBERS])[0]
    scales = writing.any_scales(rng, one=kind in ("finer", "raw"))
    scale = max(scales, key=lambda each: each.most)
    match kind:
        case "word":
            if max(each.most for each in scales) >= 1 << 20:
                scales = (DisplayUnit("mm", 3, 25000), DisplayUnit("in", 4, 9842))
            return *_word24(rng), scales
        case "digits":
            return *_packed(rng), scales
        case "float":
            return *_float(rng), scales
        case "finer":
            return *_finer(rng, scale), scales
        case "raw":
            small = DisplayUnit("mm", rng.choice((2, 3)), rng.choice((2000, 12500, 25000)))
            return *_raw(rng, small), (small,)
    return *_count(rng, scale), scales


def _extras(rng: random.Random) -> list[tuple[Put, str]]:
    start, address = rng.randrange(256), rng.randint(1, 30)
    pool: list[tuple[Put, str]] = [
        (lambda m: bytes([(start + m.number) & 0xFF]), "counter"),
        (lambda _: bytes([address]), "address"),
        (lambda _: bytes(2), "zeros"),
        (lambda m: (m.other & 0xFFFF).to_bytes(2, "big"), "channel"),
        (lambda m: bytes([m.charge]), "charge"),
        (lambda m: bytes([0x40 | (1 if abs(m.steps) > m.scale.most // 3 else 0)]), "judged bit"),
    ]
    return rng.sample(pool, rng.choice((0, 0, 0, 1, 1, 2)))


def composed_frame(rng: random.Random) -> WiredGauge:
    """A number among other bytes."""
    put, kind, scales = _value(rng)
    stream = rng.random() < 0.5
    framing = rng.choices(("plain", "slip", "flagged", "doubled"), (76, 10, 8, 6))[0]
    head = bytes(rng.randrange(1, 256) for _ in range(rng.choice((1, 2, 2, 3) if stream else (0, 1, 1, 2))))
    head = b"" if framing in ("slip", "flagged") and rng.random() < 0.5 else head
    extras = _extras(rng)
    parts: list[Put] = [put, *(item for item, _ in extras)]
    if len(scales) > 1 and not kind.startswith("24 bits"):
        mark = rng.choice(((0, 1), (0x6D, 0x69), (0x10, 0x30), (1, 2)))
        parts.append(lambda m: bytes([mark[m.scale.unit == "in"]]))
    rng.shuffle(parts)
    strong = stream and rng.random() < 0.4
    named = checks.in_bytes(rng, strong=strong) if strong or rng.random() < 0.45 else None
    tail = rng.choice((b"", b"", b"", b"\x03", b"\r\n")) if framing == "plain" else b""

    def encode(m: SentMessage) -> bytes:
        body = head + b"".join(part(m) for part in parts)
        if named:
            body += named[0](body)
        return _framed(body + tail, framing)

    traits = [kind, *(name for _, name in extras), framing]
    traits += [f"check {named[1]}"] if named else []
    gauge = WiredGauge(encode, scales, (*traits, "stream" if stream else "press"), guarded=True)
    gauge.baud = rng.choice((9600, 9600, 19200, 38400, 115200))
    longest = max(len(gauge.encode(farthest(s))) for s in scales)
    if stream:
        full = gauge.baud / 10 / longest
        endless = rng.random() < 0.2 and full < 250
        gauge.rate = full if endless else min(float(rng.choice((10, 20, 50, 50))), 0.9 * full)
        gauge.traits = (*gauge.traits, *(("back to back",) if endless else ()))
    else:
        gauge.noise = rng.choice((0.0, 0.0, 0.15))
        gauge.repeats = rng.choice((1, 1, 1, 2, 3))
    return gauge


def _framed(body: bytes, framing: str) -> bytes:
    """*body* between marks that stand nowhere inside (RFC 1055, RFC 1662), or with DLE doubled (X3.28)."""
    if framing == "slip":
        return body.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc") + b"\xc0"
    if framing == "flagged":
        inner = b"".join(bytes([0x7D, b ^ FLIPPED]) if b in (0x7D, 0x7E) else bytes([b]) for b in body)
        return b"\x7e" + inner + b"\x7e"
    if framing == "doubled":
        return b"\x10\x02" + body.replace(b"\x10", b"\x10\x10") + b"\x10\x03"
    return body
