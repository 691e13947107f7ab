"""Gauges that send text, put together from a number, other fields, what parts them, a check and an end."""

from __future__ import annotations

import random
from collections.abc import Callable

from capture.benchmarks.trials.teaching.composed import checks, writing
from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit, SentMessage, WiredGauge, farthest
from capture.benchmarks.trials.teaching.composed.writing import Write

Item = Callable[[SentMessage], str]
"""One field of a line."""

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
UNITS = (
    {"mm": "mm", "in": "in"},
    {"mm": "MM", "in": "INCH"},
    {"mm": "M", "in": "I"},
    {"mm": "0", "in": "1"},
    {"mm": "mm", "in": '"'},
    {"mm": "millimeter", "in": "inch"},
)
EXTRAS = (
    *("counter", "short counter", "hex counter", "clock", "date", "channel", "extremes", "relative"),
    *("charge", "volts", "address", "state", "mode", "judged", "judged"),
)
JUDGED = (("<", "=", ">"), ("-NG", "OK", "+NG"), ("L", "G", "H"), ("NG", "GO", "NG"), ("1", "2", "3"))


def _name(rng: random.Random) -> str:
    return "".join(rng.choice(LETTERS) for _ in range(rng.randint(1, 4))) + rng.choice(("", "", "1", "02"))


def _judged(rng: random.Random, scale: DisplayUnit) -> Item:
    marks = rng.choice(JUDGED)
    low, high = -scale.most // 5, scale.most // 5
    mm = scale.unit

    def item(m: SentMessage) -> str:
        share = m.steps if m.scale.unit == mm else m.steps * scale.most // m.scale.most
        return marks[0 if share < low else 2 if share > high else 1]

    return item


def _clock(m: SentMessage) -> str:
    return f"{m.clock // 3600 % 24:02}:{m.clock // 60 % 60:02}:{m.clock % 60:02}"


def _extra(rng: random.Random, write: Write, scale: DisplayUnit) -> tuple[Item, str]:
    """A field beside the reading, and its name."""
    kind = rng.choice(EXTRAS)
    start, name = rng.randrange(1, 9000), _name(rng)
    preset = rng.randrange(-scale.most, scale.most)
    day = f"20{rng.randint(30, 49)}-{rng.randint(1, 12):02}-{rng.randint(1, 28):02}"
    number, state = rng.randint(0, 31), rng.choice(("S0", "00", "0000", "RDY", "N"))
    items: dict[str, Item] = {
        "counter": lambda m: f"{start + m.number:05}",
        "hex counter": lambda m: f"{start * 7 + m.number:04X}",
        "short counter": lambda m: f"{m.number % 10}",
        "clock": _clock,
        "date": lambda m: f"{day} {_clock(m)}",
        "channel": lambda m: f"{name}:{write(m.other, m.scale)}",
        "extremes": lambda m: f"{write(m.low, m.scale)} {write(m.high, m.scale)}",
        "relative": lambda m: "R" + write(m.steps + preset, m.scale),
        "charge": lambda m: f"{m.charge}%",
        "volts": lambda m: f"{2.8 + m.charge / 100:.2f}V",
        "address": lambda _: f"{number:02}",
        "state": lambda _: state,
        "judged": _judged(rng, scale),
        "mode": lambda _: name,
    }
    return items[kind], kind


def _number(rng: random.Random) -> tuple[Write, str, tuple[DisplayUnit, ...]]:
    kind = rng.choices(("point", "implied", "exponent", "fraction", "hexadecimal"), (80, 6, 5, 4, 5))[0]
    scales = writing.any_scales(rng)
    match kind:
        case "implied":
            return writing.implied(rng), kind, scales
        case "exponent":
            return writing.exponent(rng), kind, scales
        case "fraction":
            travel = rng.choice((1, 2, 4, 6))
            return (
                writing.fraction(rng),
                kind,
                (DisplayUnit("in", 7, travel * 128 * writing.PART, writing.PART),),
            )
        case "hexadecimal":
            bits = 32 if scales[0].most > 32000 else rng.choice((24, 32))
            return writing.hexadecimal(rng, bits), kind, scales
    write, way = writing.any_writing(rng)
    return write, way, scales


def plain_line(rng: random.Random) -> WiredGauge:
    """A number, perhaps with a name before it and a unit behind it."""
    write, way = writing.any_writing(rng)
    scales = writing.any_scales(rng)
    labels = rng.choice(UNITS[:3])
    between = rng.choice(("", " "))
    name = rng.choice(("", "", _name(rng) + rng.choice((" ", ":", "=")), rng.choice(LETTERS)))
    named = len(scales) > 1 or rng.random() < 0.5

    def line(m: SentMessage) -> str:
        return name + write(m.steps, m.scale) + (between + labels[m.scale.unit] if named else "")

    return _sent(line, scales, ("plain", way), rng)


def composed_line(rng: random.Random) -> WiredGauge:
    """A reading among other fields, in any order."""
    write, way, scales = _number(rng)
    labels = rng.choice(UNITS)
    between = rng.choice(
        (" ", ";", "\t", "|", " ") if "comma" in way else (" ", ",", ";", "\t", ", ", "|", " ")
    )
    extras = [_extra(rng, write, scales[0]) for _ in range(rng.choice((1, 1, 2, 2, 3)))]
    own = rng.choice(("", "", _name(rng) + rng.choice(("=", ":", " "))))
    items: list[Item] = [lambda m: own + write(m.steps, m.scale), *(item for item, _ in extras)]
    if len(scales) > 1 or rng.random() < 0.5:
        items.append(lambda m: labels[m.scale.unit])
    rng.shuffle(items)

    def line(m: SentMessage) -> str:
        return between.join(item(m) for item in items)

    return _sent(line, scales, ("fields", way, *(kind for _, kind in extras)), rng)


def keyed_line(rng: random.Random) -> WiredGauge:
    """JSON, or key=value, with the fields in any order, and perhaps a value within a value."""
    scales = writing.any_scales(rng)
    json, quoted, nested = rng.random() < 0.6, rng.random() < 0.3, rng.random() < 0.3
    gap, start, colon = rng.choice(("", " ")), rng.randint(1, 9000), rng.choice((":", ": "))
    keys = rng.sample(("v", "val", "value", "size", "pos", "len", "x1", "reading"), 2)

    def number(steps: int, scale: DisplayUnit) -> str:
        return f"{scale.shown(steps):f}"

    fields: dict[str, Item] = {
        keys[0]: lambda m: f'"{number(m.steps, m.scale)}"' if quoted and json else number(m.steps, m.scale),
        "unit": lambda m: f'"{m.scale.unit}"' if json else m.scale.unit,
    }
    more: dict[str, Item] = {
        "n": lambda m: f"{start + m.number}",
        "t": lambda m: f"{m.clock}",
        "bat": lambda m: f"{m.charge}",
        "ok": lambda m: (("false", "true") if json else "01")[abs(m.steps) < m.scale.most // 3],
        keys[1]: lambda m: number(m.other, m.scale),
        "id": lambda _: '"g7"' if json else "g7",
    }
    chosen = rng.sample(sorted(more), rng.randint(1, 3))
    order = [*fields, *chosen]
    rng.shuffle(order)
    every = {**fields, **more}
    separator = rng.choice((" ", ",", ";", "&"))

    def line(m: SentMessage) -> str:
        if not json:
            return separator.join(f"{key}={every[key](m)}" for key in order)
        body = f",{gap}".join(f'"{key}"{colon}{every[key](m)}' for key in order)
        return f'{{"d"{colon}{{{body}}}}}' if nested else f"{{{body}}}"

    return _sent(line, scales, ("json" if json else "key=value", *chosen), rng)


def _sent(
    line: Item, scales: tuple[DisplayUnit, ...], traits: tuple[str, ...], rng: random.Random
) -> WiredGauge:
    """The gauge that sends such lines: with or without a check, on a press or all the time."""
    end = rng.choice((b"\r\n", b"\r\n", b"\r", b"\n", b"\x03"))
    head = b"\x02" if end == b"\x03" or rng.random() < 0.1 else b""
    check, kind = checks.in_text(rng) if rng.random() < 0.15 else (None, "")
    parity = rng.choice("EOM") if rng.random() < 0.06 else ""

    def encode(m: SentMessage) -> bytes:
        body = head + line(m).encode("latin-1")
        return _eighth(body + (check(body) if check else b"") + end, parity)

    guards = [f"check {kind}"] * (check is not None) + [f"parity {parity}"] * bool(parity)
    gauge = WiredGauge(encode, scales, (*traits, *guards), guarded=check is not None)
    gauge.baud = rng.choice((4800, 9600, 9600, 19200, 38400))
    if rng.random() < 0.45:
        longest = max(len(gauge.encode(farthest(s))) for s in scales)
        gauge.rate = min(float(rng.choice((2, 5, 10, 20, 50))), 0.9 * gauge.baud / 10 / longest)
    else:
        gauge.repeats = rng.choice((1, 1, 1, 1, 2, 3))
        gauge.noise = rng.choice((0.0, 0.0, 0.0, 0.15))
    return gauge


def _eighth(data: bytes, parity: str) -> bytes:
    """Seven bits as eight make of them."""
    if not parity:
        return data
    return bytes(
        byte | (0x80 if parity == "M" or byte.bit_count() % 2 != (parity == "O") else 0) for byte in data
    )
