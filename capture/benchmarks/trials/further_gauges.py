"""Invented gauges of a second hand: families that the learner was not made for; none is any maker's own.

Where `invented_gauges` varies the same few shapes, each family here is a shape of its own, with choices of
its own. Nothing of the other generator is used but the gauge itself.
"""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Callable
from decimal import Decimal
from typing import Final

from capture.benchmarks.trials.invented_gauges import InventedGauge

MM: Final = {"mm": 3}
BOTH: Final = {"mm": 3, "in": 4}


def _signed(value: Decimal, plus: str = "+") -> str:
    return ("-" if value < 0 else plus) + f"{abs(value):f}"


def _counts(value: Decimal) -> int:
    return int(value.scaleb(-int(value.as_tuple().exponent)))


def _pick(rng: random.Random, *choices: bytes | str | int) -> bytes | str | int:
    return rng.choice(choices)


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
            f"01A{'-' if value < 0 else '+'}{abs(_counts(value)):0{width}}{places}{int(unit == 'in')}", "\r"
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
    """Seven bits with odd or even parity, or with a mark in the eighth, heard as eight."""
    kind = rng.choice(("odd", "even", "mark"))

    def eighth(byte: int) -> int:
        return kind == "mark" or byte.bit_count() % 2 == (kind == "even")

    def frame(value: Decimal, unit: str) -> bytes:
        return bytes(byte | 0x80 * eighth(byte) for byte in _line(f"{_signed(value)}{unit}"))

    return InventedGauge(frame, BOTH)


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
        body = head + bytes([n[0]]) + struct.pack(order + "i", _counts(value))
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
        lambda value, _unit: head + struct.pack(order + "i", _counts(value)), MM, rate=50.0, chopped=True
    )


def flagged24(rng: random.Random) -> InventedGauge:
    """24 bits, the least significant sent first: twenty of size, one of sign, one of unit."""
    backward = rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        word = abs(_counts(value)) | (value < 0) << 20 | (unit == "in") << 23
        data = word.to_bytes(3, "little")
        return bytes(int(f"{byte:08b}"[::-1], 2) for byte in data) if backward else data

    return InventedGauge(frame, BOTH)


def thirteen_nibbles(rng: random.Random) -> InventedGauge:
    """Four times F, sign, six digits, place of the point, unit: one a byte, or two, either first."""
    kind = rng.randrange(3)

    def frame(value: Decimal, unit: str) -> bytes:
        digits = f"{abs(_counts(value)):06}"
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
        body = head + struct.pack(">i", _counts(value))
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
        body = head + struct.pack("<i", _counts(value))
        return b"\x10\x02" + body.replace(b"\x10", b"\x10\x10") + b"\x10\x03" + bytes([sum(body) & 255])

    return InventedGauge(frame, MM)


def without_pause(rng: random.Random) -> InventedGauge:
    """A press sends the frame with its check two to five times, one right behind the other."""
    check, head = _checks(rng), rng.randbytes(1)

    def frame(value: Decimal, unit: str) -> bytes:
        body = head + bytes([0x20 | (unit == "in")]) + struct.pack("<i", _counts(value))
        return body + check(body)

    return InventedGauge(frame, BOTH, times=rng.randint(2, 5))


def scaled(rng: random.Random) -> InventedGauge:
    """Counts of a scale whose step is no round number of the display's."""
    step = Decimal(rng.randint(1300, 9700)).scaleb(-7)

    def frame(value: Decimal, _unit: str) -> bytes:
        return _line(f"R{int((value / step).to_integral_value()):+08d}")

    return InventedGauge(frame, MM)


def status_bits(rng: random.Random) -> InventedGauge:
    """A status byte of which two bits change for reasons that no display shows, a count and a check."""
    check, sign = _checks(rng), rng.random() < 0.5

    def frame(value: Decimal, unit: str) -> bytes:
        status = 0x40 | (unit == "in") << 2 | (rng.random() < 0.3) | (rng.random() < 0.2) << 4
        status |= (sign and value < 0) << 7
        count = abs(_counts(value)) if sign else _counts(value)
        body = b"\x55" + bytes([status]) + struct.pack(">i", count)
        return body + check(body)

    return InventedGauge(frame, BOTH)


def exponents(rng: random.Random) -> InventedGauge:
    """Numbers with an exponent, as programs print them, and their unit."""
    capital = rng.choice("eE")

    def frame(value: Decimal, unit: str) -> bytes:
        return _line(f"{float(value):+.6{capital}} {unit}")

    return InventedGauge(frame, BOTH)


FAMILIES: Final = (
    torn_stream, dated, counted, nested_json, fields, judged_digit, named_channels, extremes, trailing_sign,
    implied_point, starred, acknowledged, inch_fractions, seven_bits, checked_stream, float_stream,
    bare_stream, flagged24, thirteen_nibbles, escaped, doubled, without_pause, scaled, status_bits, exponents,
)  # fmt: skip
