"""Lines with parts in any order, joined in any way: judgements, channels, times, running numbers, keys."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence
from functools import reduce
from operator import xor
from typing import Final

from capture.benchmarks.trials.teaching.composed import writing
from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit, SentMessage, WiredGauge, farthest

Part = Callable[[SentMessage], str]
"""What a part of a line says."""

STATES: Final = (
    ("L", "G", "H"), ("-NG", "OK", "+NG"), ("<", "=", ">"), ("-", "0", "+"), ("LO", "GO", "HI"),
    ("r", "g", "y"),
    ("1", "2", "3"), ("NG-", "GO ", "NG+"),
)  # fmt: skip
LABELS: Final = (
    ("mm", "in"), ("MM", "IN"), ("mm", '"'), ("M", "I"), ("0", "1"), ("01", "02"), (" mm", "inch"),
    ("m", "i"),
)  # fmt: skip


def _body(m: SentMessage, steps: int) -> str:
    return f"{abs(m.scale.shown(steps)):f}"


def _number(rng: random.Random, scales: tuple[DisplayUnit, ...]) -> Callable[[SentMessage, int], str]:
    """How a size is written on the line; a field has room for the longest, twice its travel."""
    way = rng.choice(("plain", "plain", "plus", "zeros", "blanks", "left", "behind"))
    width = max(len(_body(farthest(scale), 2 * scale.most)) for scale in scales) + rng.choice((0, 1, 3))
    mark = "," if rng.random() < 0.1 else "."

    def write(m: SentMessage, steps: int) -> str:
        size, minus = _body(m, steps).replace(".", mark), steps < 0
        if way == "behind":
            return size.rjust(width, "0") + ("-" if minus else "+")
        if way == "zeros":
            return ("-" if minus else "+") + size.rjust(width, "0")
        text = ("-" if minus else "+" if way == "plus" else "") + size
        return text.rjust(width + 1) if way == "blanks" else text.ljust(width + 1) if way == "left" else text

    return write


def _judged(rng: random.Random, _: tuple[DisplayUnit, ...]) -> Part:
    """A letter or word for below, within and above limits that the gauge was set to."""
    low, high = sorted(rng.uniform(-0.8, 0.8) for _ in range(2))
    words = rng.choice(STATES)

    def judged(m: SentMessage) -> str:
        share = m.steps / m.scale.most
        return words[(share > low) + (share > high)]

    return judged


def _time(rng: random.Random, _: tuple[DisplayUnit, ...]) -> Part:
    """A time: of day, with a date, or counted since some beginning."""
    way, base, parts = (
        rng.choice(("day", "date", "epoch", "ms", "up")),
        rng.randrange(10**6),
        rng.random() < 0.3,
    )
    return lambda m: {
        "day": f"{m.clock // 3600 % 24:02}:{m.clock // 60 % 60:02}:{m.clock % 60:02}",
        "date": f"2031-05-0{1 + m.clock // 86400 % 9}T{m.clock // 3600 % 24:02}:{m.clock // 60 % 60:02}",
        "epoch": f"{1930000000 + base + m.clock}",
        "ms": f"{(base + m.clock) * 1000 + 7 * m.number % 1000:09}",
        "up": f"{base % 5000 + m.clock}" + (f".{m.number % 10}" if parts else ""),
    }[way]


def _counted(rng: random.Random, _: tuple[DisplayUnit, ...]) -> Part:
    """A running number whose high digits will not change in a lesson."""
    width, first = rng.choice((0, 0, 3, 4, 6)), rng.choice((0, 1, 8, 95, 997, 4711))
    letter = rng.choice(("", "", "N", "#", "No."))
    if rng.random() < 0.2:
        return lambda m: f"{letter}{first + m.number:04X}"
    return lambda m: f"{letter}{first + m.number:0{width}}"


def _channel(rng: random.Random, scales: tuple[DisplayUnit, ...]) -> Part:
    """What another channel shows, or the least or the largest size so far."""
    write, which = _number(rng, scales), rng.choice(("other", "low", "high", "relative"))
    preset = rng.randrange(1, scales[0].most)
    name = rng.choice(("", "", "B=", "2:", "MAX ", "R"))

    def channel(m: SentMessage) -> str:
        steps = {"other": m.other, "low": m.low, "high": m.high, "relative": m.steps - preset}[which]
        return name + write(m, steps)

    return channel


def _quality(rng: random.Random, _: tuple[DisplayUnit, ...]) -> Part:
    """The battery, a temperature, a level of signal."""
    way = rng.choice(("charge", "volts", "warm"))
    return lambda m: {
        "charge": f"{m.charge - m.number // 40}%",
        "volts": f"{3.1 - m.number // 30 / 100:.2f}V",
        "warm": f"{20 + (m.number // 7) % 4 * 0.1:.1f}C",
    }[way]


def _named(rng: random.Random, _: tuple[DisplayUnit, ...]) -> Part:
    """What never changes: a number of the gauge, a version, a place."""
    word = rng.choice(("SN4711", "G-02", "V1.3", "A", "P3", "0017", "id:9f", "X1"))
    return lambda _: word


EXTRA: Final = {
    "judged": _judged, "time": _time, "counted": _counted, "channel": _channel, "quality": _quality,
    "named": _named,
}  # fmt: skip


def _checked(rng: random.Random) -> tuple[Callable[[bytes], bytes], str]:
    """A check behind a line, and its name."""
    way, mark = rng.choice(("xor", "sum", "neg", "decimal", "cyclic")), rng.choice((b"", b"*", b","))

    def check(body: bytes) -> bytes:
        match way:
            case "xor":
                return mark + b"%02X" % reduce(xor, body)
            case "sum":
                return mark + b"%02x" % (sum(body) & 0xFF)
            case "neg":
                return mark + b"%02X" % (-sum(body) & 0xFF)
            case "decimal":
                return mark + b"%03d" % (sum(body) % 256)
        rest = 0
        for byte in body:
            rest ^= byte << 8
            for _ in range(8):
                rest = (rest << 1 ^ (0x1021 if rest & 0x8000 else 0)) & 0xFFFF
        return mark + b"%04X" % rest

    return check, f"check {way}"


def _extras(rng: random.Random, scales: tuple[DisplayUnit, ...], most: int) -> tuple[list[Part], list[str]]:
    kinds = [rng.choice(sorted(EXTRA)) for _ in range(rng.randint(0, most))]
    return [EXTRA[kind](rng, scales) for kind in kinds], kinds


def _scales(rng: random.Random) -> tuple[DisplayUnit, ...]:
    return writing.any_scales(rng)


def joined_line(rng: random.Random) -> WiredGauge:
    """Parts in any order, each joined to the next by its own mark, or by none."""
    scales = _scales(rng)
    write, labels = _number(rng, scales), rng.choice(LABELS)
    parts, kinds = _extras(rng, scales, 3)
    parts.append(lambda m: write(m, m.steps))
    if len(scales) > 1 or rng.random() < 0.5:
        parts.append(lambda m: labels[m.scale.unit == "in"])
    rng.shuffle(parts)
    marks = [rng.choice((" ", ",", ";", " ", "  ", "\t", "|", "", " / ")) for _ in parts]
    head = rng.choice(("", "", "\x02", "$", "#", "@01 ", "> ", "\x0101\x02"))

    def line(m: SentMessage) -> str:
        texts = [part(m) for part in parts]
        # Two numbers that touch are one number for a person too.
        joints = [
            mark or (" " if re.search("[0-9.+-]$", one) and re.match("[0-9.+-]", other) else "")
            for mark, one, other in zip(marks, texts, texts[1:], strict=False)
        ]
        return head + "".join(a + b for a, b in zip(texts, [*joints, ""], strict=True))

    return _wired(line, scales, ("joined", *kinds), rng)


def keyed_parts(rng: random.Random) -> WiredGauge:
    """JSON with lists and objects, or keys and values, the keys with digits in them."""
    scales = _scales(rng)
    parts, kinds = _extras(rng, scales, 3)
    key, way = (
        rng.choice(("v", "pos1", "d_mm", "Reading", "x")),
        rng.choice(("json", "list", "=", ":", "inner")),
    )
    names = rng.sample(("st", "t0", "n", "ch2", "q", "info"), len(parts))
    places = list(range(len(parts) + 2))
    rng.shuffle(places)
    mark = rng.choice((" ", ";", ","))

    def line(m: SentMessage) -> str:
        own, unit = f"{m.value:f}", m.scale.unit
        if way in ("json", "inner", "list"):
            value = f"[{own},{m.scale.shown(m.other):f}]" if way == "list" else own
            fields = [f'"{key}":{value}', f'"u":"{unit}"']
            fields += [f'"{name}":"{part(m).strip()}"' for name, part in zip(names, parts, strict=True)]
            body = ",".join(fields[place] for place in places)
            return f'{{"type":"m","data":{{{body}}}}}' if way == "inner" else f"{{{body}}}"
        fields = [f"{key}{way}{own}", f"u{way}{unit}"]
        fields += [f"{name}{way}{part(m).strip()}" for name, part in zip(names, parts, strict=True)]
        return mark.join(fields[place] for place in places)

    return _wired(line, scales, (f"keyed {way}", *kinds), rng)


def bare_forms(rng: random.Random) -> WiredGauge:
    """A number that needs no word: fractions of an inch, digits without a point, counts, exponents."""
    scales = _scales(rng)
    way = rng.choice(("fraction", "implied", "hexadecimal", "exponent"))
    if way == "fraction":
        scales = (DisplayUnit("in", 7, rng.choice((1, 2, 6)) * 128 * writing.PART, writing.PART),)
    write = {
        "fraction": lambda: writing.fraction(rng),
        "implied": lambda: writing.implied(rng),
        "hexadecimal": lambda: writing.hexadecimal(rng, 24),
        "exponent": lambda: writing.exponent(rng),
    }[way]()
    if way == "hexadecimal" and scales[0].most >= 1 << 23:
        scales = scales[:1]
    labels, parts = rng.choice(LABELS[:4]), list[Part]()
    parts.append(lambda m: write(m.steps, m.scale))
    more, kinds = _extras(rng, scales, 1)
    parts += more
    if len(scales) > 1:
        parts.append(lambda m: labels[m.scale.unit == "in"])
    rng.shuffle(parts)
    mark = rng.choice((" ", ",", ";", "\t"))
    return _wired(lambda m: mark.join(part(m) for part in parts), scales, (way, *kinds), rng)


def _wired(
    line: Part, scales: tuple[DisplayUnit, ...], traits: tuple[str, ...], rng: random.Random
) -> WiredGauge:
    """The gauge that sends such lines: its end, check, bits, speed and habits."""
    end = rng.choice((b"\r\n", b"\r\n", b"\r", b"\n", b"\x03", b"\x03\r\n", b"\x04", b";\r\n"))
    check, kind = _checked(rng) if rng.random() < 0.2 else (None, "")
    parity = rng.choice("EO") if rng.random() < 0.12 else ""

    def encode(m: SentMessage) -> bytes:
        body = line(m).encode("latin-1")
        data = body + (check(body) if check else b"") + end
        if not parity:
            return data
        return bytes(byte | (byte.bit_count() % 2 != (parity == "O")) << 7 for byte in data)

    named = (*traits, *[kind] * bool(kind), *[f"7{parity}1"] * bool(parity))
    gauge = WiredGauge(encode, scales, named, guarded=check is not None)
    gauge.baud = rng.choice((2400, 4800, 9600, 9600, 19200, 115200))
    if rng.random() < 0.4:
        longest = max(len(encode(farthest(scale))) for scale in scales)
        gauge.rate = min(float(rng.choice((1, 4, 10, 25, 50, 100))), 0.98 * gauge.baud / 10 / longest)
    else:
        gauge.repeats = rng.choice((1, 1, 1, 1, 1, 2))
        gauge.noise = rng.choice((0.0, 0.0, 0.2))
    return gauge


def mixed_lines(rng: random.Random) -> WiredGauge:
    """A gauge of one of the families."""
    return rng.choices((joined_line, keyed_parts, bare_forms), (3, 1, 1))[0](rng)


FAMILIES: Final[Sequence[Callable[[random.Random], WiredGauge]]] = (joined_line, keyed_parts, bare_forms)
