"""Invented gauges of a second hand that send text; the learner was not made for their families.

Where `text_gauges` varies the same few shapes, each family here is a shape of its own.
"""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Final

from capture.benchmarks.trials.teaching.gauges.invented import InventedGauge, in_steps

MM: Final = {"mm": 3}
BOTH: Final = {"mm": 3, "in": 4}


def _signed(value: Decimal, plus: str = "+") -> str:
    return ("-" if value < 0 else plus) + f"{abs(value):f}"


def _line(text: str, end: str = "\r\n") -> bytes:
    return text.encode("latin-1") + end.encode()


def torn_stream(rng: random.Random) -> InventedGauge:
    """Bare numbers at 10 to 50 Hz: nothing but the line end tells where one begins."""
    end, plus, zeros = rng.choice(("\r\n", "\r", "\n")), rng.choice(("", "+", " ")), rng.choice((0, 0, 7))

    def frame(value: Decimal, _unit: str) -> bytes:
        body = f"{abs(value):f}".rjust(zeros, "0")
        return _line(("-" if value < 0 else plus) + body, end)

    return InventedGauge(frame, MM, rate=rng.choice((10.0, 20.0, 50.0)), chopped=True)


def dated(rng: random.Random) -> InventedGauge:
    """A full date and time with milliseconds that goes on by itself, and the unit behind the number."""
    clock, between = [rng.randint(0, 10**9)], rng.choice((",", ";", " ", "\t"))

    def frame(value: Decimal, unit: str) -> bytes:
        clock[0] += rng.randint(300, 90000)
        ms = clock[0]
        day, hour, minute, second = (
            1 + ms // 86400000 % 28, ms // 3600000 % 24, ms // 60000 % 60, ms // 1000 % 60,
        )  # fmt: skip
        stamp = f"2031-05-{day:02}T{hour:02}:{minute:02}:{second:02}.{ms % 1000:03}"
        return _line(between.join((stamp, f"{value:f}", unit)))

    return InventedGauge(frame, BOTH)


def counted(rng: random.Random) -> InventedGauge:
    """A running number, decimal or hexadecimal, in brackets or padded with zeros, that goes on each press."""
    n, kind = [rng.randint(0, 60000)], rng.randrange(4)

    def frame(value: Decimal, unit: str) -> bytes:
        n[0] += 1
        mark = (f"<{n[0]:04X}>", f"[{n[0]}]", f"{n[0]:06} ", f"N{n[0] % 100:02},")[kind]
        return _line(f"{mark}{_signed(value)}{unit}", "\r")

    return InventedGauge(frame, BOTH)


def nested_json(rng: random.Random) -> InventedGauge:
    """JSON in JSON, with a temperature that drifts, a truth value and a serial number."""
    key, serial, warm = rng.choice(("x", "pos", "L")), rng.randint(10000, 99999), [rng.uniform(18, 26)]
    first = rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        warm[0] += rng.uniform(-0.2, 0.2)
        own = f'"ch":{{"{key}":{value:f},"u":"{unit}"}}'
        rest = f'"sn":"{serial}","t":{warm[0]:.1f},"ok":true'
        return _line("{" + (f"{own},{rest}" if first else f"{rest},{own}") + "}", "\n")

    return InventedGauge(frame, BOTH)


def fields(rng: random.Random) -> InventedGauge:
    """A row of a table: empty fields, a battery that runs down, a channel; the number may have a comma."""
    battery, mark = [rng.randint(300, 420)], rng.choice((".", ","))

    def frame(value: Decimal, unit: str) -> bytes:
        battery[0] -= rng.random() < 0.2
        number = _signed(value, "").replace(".", mark)
        return _line(f"D1;;{number};{unit};{battery[0]};;")

    return InventedGauge(frame, BOTH)


def judged_digit(rng: random.Random) -> InventedGauge:
    """A letter or a word for below, within and above, glued to the number or behind its unit."""
    states = rng.choice((("L", "O", "H"), ("-", "=", "+"), ("UNDER", "OK", "OVER"), ("R-", "G", "R+")))
    behind = rng.random() < 0.5

    def frame(value: Decimal, _unit: str) -> bytes:
        state = states[0 if value < -6 else 2 if value > 6 else 1]
        number = f"{_signed(value)} mm"
        return _line(f"{number},{state}" if behind else f"{state}:{number}")

    return InventedGauge(frame, MM)


def named_channels(rng: random.Random) -> InventedGauge:
    """Three named channels of which one is the gauge's display, or a second line for the temperature."""
    place, names = rng.randrange(3), rng.sample(("A", "B", "C", "X", "Z1", "Z2"), 3)
    gap = rng.choice(("=", ":", " "))

    def frame(value: Decimal, _unit: str) -> bytes:
        some = [Decimal(rng.randint(-9000, 9000)).scaleb(-3) for _ in range(3)]
        some[place] = value
        return _line(" ".join(f"{name}{gap}{_signed(each)}" for name, each in zip(names, some, strict=True)))

    return InventedGauge(frame, MM)


def extremes(rng: random.Random) -> InventedGauge:
    """Smallest, largest, their difference and the display, with the mode in words."""
    mode, order = rng.choice(("ABS", "INC", "REL")), rng.random() < 0.5

    def frame(value: Decimal, _unit: str) -> bytes:
        low = value - Decimal(rng.randint(1, 700)).scaleb(-3)
        high = value + Decimal(rng.randint(1, 700)).scaleb(-3)
        some = [("ACT", value), ("MIN", low), ("MAX", high), ("TIR", high - low)]
        some = some if order else some[::-1]
        return _line(mode + "".join(f" {name} {_signed(each, ' ')}" for name, each in some))

    return InventedGauge(frame, MM)


def trailing_sign(rng: random.Random) -> InventedGauge:
    """The sign behind the digits, or in a letter before them."""
    letters = rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        body = f"{abs(value):f}"
        if letters:
            return _line(f"{'N' if value < 0 else 'P'}{body}{unit}")
        return _line(f"{body}{'-' if value < 0 else '+'} {unit}")

    return InventedGauge(frame, BOTH)


def implied_point(rng: random.Random) -> InventedGauge:
    """Digits without a point, and how many stand behind it in a digit of their own with the unit."""
    width = rng.choice((6, 7))

    def frame(value: Decimal, unit: str) -> bytes:
        places = 3 if unit == "mm" else 4
        return _line(
            f"01A{'-' if value < 0 else '+'}{abs(in_steps(value)):0{width}}{places}{int(unit == 'in')}", "\r"
        )

    return InventedGauge(frame, BOTH)


def starred(rng: random.Random) -> InventedGauge:
    """An exclusive-or in two hexadecimal digits behind a star, of what stands between dollar and star."""

    def frame(value: Decimal, unit: str) -> bytes:
        body = f"PG,{_signed(value, '')},{unit}"
        total = 0
        for byte in body.encode():
            total ^= byte
        return _line(f"${body}*{total:02X}")

    return InventedGauge(frame, BOTH, rate=rng.choice((0.0, 10.0, 50.0)), chopped=True)


def acknowledged(rng: random.Random) -> InventedGauge:
    """Two lines a press: a word, then the number."""
    word = rng.choice(("OK", "ACK", "READY", "01"))
    return InventedGauge(lambda value, unit: _line(word) + _line(f"{_signed(value)} {unit}"), BOTH)


def inch_fractions(rng: random.Random) -> InventedGauge:
    """Inches in sixty-fourths that are not reduced, or with a dash before them and a quote behind."""
    reduced = rng.random() < 0.5

    def frame(value: Decimal, _unit: str) -> bytes:
        whole, part = divmod(int(abs(value) * 64), 64)
        below = 64
        while reduced and part and part % 2 == 0:
            part, below = part // 2, below // 2
        sign, parts = "-" if value < 0 else "", f"{part}/{below}"
        if reduced:
            return _line(
                sign + (f"{whole}-{parts}" if whole and part else parts if part else str(whole)) + '"'
            )
        return _line(f"{sign}{whole} {parts}")

    return InventedGauge(frame, {"in": 6}, step=15625)


def seven_bits(rng: random.Random) -> InventedGauge:
    """Seven bits with odd or even parity, or with a mark in the eighth, received as eight."""
    kind = rng.choice(("odd", "even", "mark"))

    def eighth(byte: int) -> int:
        return kind == "mark" or byte.bit_count() % 2 == (kind == "even")

    def frame(value: Decimal, unit: str) -> bytes:
        return bytes(byte | 0x80 * eighth(byte) for byte in _line(f"{_signed(value)}{unit}"))

    return InventedGauge(frame, BOTH)


def scaled(rng: random.Random) -> InventedGauge:
    """Counts of a scale whose step is no round number of the display's."""
    step = Decimal(rng.randint(1300, 9700)).scaleb(-7)

    def frame(value: Decimal, _unit: str) -> bytes:
        return _line(f"R{int((value / step).to_integral_value()):+08d}")

    return InventedGauge(frame, MM)


def exponents(rng: random.Random) -> InventedGauge:
    """Numbers with an exponent, as programs print them, and their unit."""
    capital = rng.choice("eE")

    def frame(value: Decimal, unit: str) -> bytes:
        return _line(f"{float(value):+.6{capital}} {unit}")

    return InventedGauge(frame, BOTH)


FAMILIES: Final = (
    torn_stream,
    dated,
    counted,
    nested_json,
    fields,
    judged_digit,
    named_channels,
    extremes,
    trailing_sign,
    implied_point,
    starred,
    acknowledged,
    inch_fractions,
    seven_bits,
    scaled,
    exponents,
)
