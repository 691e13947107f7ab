"""Checks that gauges put behind a message: sums and cyclic ones, worked out bit by bit."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import reduce
from operator import xor

Check = Callable[[bytes], bytes]

CYCLES = (
    (16, 0x8005, 0xFFFF, True),
    (16, 0x1021, 0xFFFF, False),
    (16, 0x1021, 0, False),
    (16, 0x1021, 0, True),
    (8, 0x07, 0, False),
    (8, 0x31, 0, True),
)
"""Width, polynomial, beginning, and whether the least bit goes first (ITU-T V.41, X.25 and others)."""


def _divided(data: bytes, width: int, poly: int, rest: int, mirrored: bool) -> int:
    """The remainder of *data* by *poly*, a bit at a time."""
    top, every = 1 << (width - 1), (1 << width) - 1
    for byte in data:
        for place in range(8):
            bit = byte >> (place if mirrored else 7 - place) & 1
            high = bool(rest & top) != bool(bit)
            rest = (rest << 1 & every) ^ (poly if high else 0)
    return int(f"{rest:0{width}b}"[::-1], 2) if mirrored else rest


def in_bytes(rng: random.Random, *, strong: bool = False) -> tuple[Check, str]:
    """A check in one or two bytes, and its name; *strong*: one of sixteen bits."""
    kind = "cyclic" if strong else rng.choice(("xor", "sum", "negative", "inverted", "sum16", "cyclic"))
    seed, order = rng.choice((0, 0, 0x5A)), rng.choice(("big", "little"))
    width, poly, start, mirrored = rng.choice(CYCLES[:4] if strong else CYCLES)

    def check(body: bytes) -> bytes:
        match kind:
            case "xor":
                return bytes([reduce(xor, body, seed)])
            case "sum":
                return bytes([sum(body) + seed & 0xFF])
            case "negative":
                return bytes([-sum(body) & 0xFF])
            case "inverted":
                return bytes([~sum(body) & 0xFF])
            case "sum16":
                return (sum(body) & 0xFFFF).to_bytes(2, order)  # type: ignore[arg-type]
        return _divided(body, width, poly, start, mirrored).to_bytes(width // 8, order)  # type: ignore[arg-type]

    return check, kind


def in_text(rng: random.Random) -> tuple[Check, str]:
    """A check written in hexadecimal or decimal digits behind a line, and its name."""
    star = rng.choice((b"", b"*", b" ", b","))
    upper = rng.random() < 0.7
    if rng.random() < 0.15:
        return lambda body: star + b"%03d" % (sum(body) & 0xFF), "decimal sum"
    check, kind = in_bytes(rng)

    def written(body: bytes) -> bytes:
        text = check(body).hex()
        return star + (text.upper() if upper else text).encode()

    return written, kind
