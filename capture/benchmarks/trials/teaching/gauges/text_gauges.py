"""Invented gauges that send text, by family."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Final

from capture.benchmarks.trials.teaching.gauges.invented import (
    InventedGauge,
    any_digits,
    any_end,
    any_units,
    any_word,
)


def text(rng: random.Random) -> InventedGauge:
    """A line with a number, and perhaps a name, a unit and a sum behind it."""
    put, end, units = any_digits(rng), any_end(rng), any_units(rng)
    name = rng.choice(("", "", any_word(rng), any_word(rng) + rng.choice(" :=,")))
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


def judgement(rng: random.Random) -> InventedGauge:
    """Letters that tell whether the size is good, before or behind the number."""
    put, end, units = any_digits(rng), any_end(rng), {"mm": 3}
    marks = rng.choice((("-NG", "GO", "+NG"), ("L", "G", "H"), ("<", "=", ">"), ("REJ", "OK", "REJ")))
    first = rng.random() < 0.5

    def frame(value: Decimal, _unit: str) -> bytes:
        mark = marks[0 if value < -4 else 2 if value > 4 else 1]
        return (f"{mark} {put(value)}" if first else f"{put(value)} {mark}").encode() + end.encode()

    return InventedGauge(frame, units)


def two_channels(rng: random.Random) -> InventedGauge:
    """Another number on the same line, before or behind."""
    put, end, units = any_digits(rng), any_end(rng), {"mm": 3}
    first, between = rng.random() < 0.5, rng.choice((" ", ";", ", ", "\t"))

    def frame(value: Decimal, _unit: str) -> bytes:
        other = put(Decimal(rng.randint(-20000, 20000)).scaleb(-3))
        return between.join((put(value), other) if first else (other, put(value))).encode() + end.encode()

    return InventedGauge(frame, units)


def smallest_largest(rng: random.Random) -> InventedGauge:
    """Present, smallest and largest value, and whether it is absolute, on one line."""
    put, end, units = any_digits(rng), any_end(rng), {"mm": 3}
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
    end = any_end(rng)

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
    end, units = any_end(rng), any_units(rng)
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
    put, end, units, clock = any_digits(rng), any_end(rng), any_units(rng), [rng.randint(1000, 80000)]
    kind = rng.randrange(3)

    def frame(value: Decimal, unit: str) -> bytes:
        clock[0] += rng.randint(1, 9)
        t = clock[0]
        stamp = (f"{t // 3600 % 24:02}:{t // 60 % 60:02}:{t % 60:02}", f"{t % 100000:05}", f"#{t}")[kind]
        return f"{stamp} {put(value)} {unit}".encode() + end.encode()

    return InventedGauge(frame, units)


def parity(rng: random.Random) -> InventedGauge:
    """Seven bits and even parity, received as eight."""
    gauge = text(rng)
    plain = gauge.frame
    gauge.frame = lambda value, unit: bytes(
        b | (0x80 if b.bit_count() % 2 else 0) for b in plain(value, unit)
    )
    return gauge


FAMILIES: Final = (
    text,
    text_stream,
    judgement,
    two_channels,
    smallest_largest,
    fractions,
    key_value,
    stamped,
    parity,
)
