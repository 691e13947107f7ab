"""Text gauges as shops have them on their serial ports: prompts, headings, blocks, columns, escapes."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import reduce
from operator import xor
from typing import Final

from capture.benchmarks.trials.teaching.composed import writing
from capture.benchmarks.trials.teaching.composed.wire import DisplayUnit, SentMessage, WiredGauge, farthest

Encode = Callable[[SentMessage], bytes]


def _number(m: SentMessage, *, plus: bool = False, width: int = 0, zeros: bool = False) -> str:
    body = f"{abs(m.value):f}"
    sign = "-" if m.steps < 0 else "+" if plus else ""
    return sign + body.rjust(width, "0") if zeros else (sign + body).rjust(width)


def sent(encode: Encode, scales: tuple[DisplayUnit, ...], name: str, rng: random.Random) -> WiredGauge:
    """The gauge that sends such messages, on a press or all the time."""
    gauge = WiredGauge(encode, scales, (name,))
    gauge.baud = rng.choice((2400, 4800, 9600, 9600, 19200, 38400))
    if rng.random() < 0.35:
        longest = max(len(encode(farthest(s))) for s in scales)
        gauge.rate = min(float(rng.choice((2, 5, 10, 20, 50))), 0.85 * gauge.baud / 10 / longest)
    return gauge


def _two(rng: random.Random) -> tuple[DisplayUnit, ...]:
    return writing.any_scales(rng)


def prompted(rng: random.Random) -> WiredGauge:
    """A line with a prompt before or behind it, or with the command echoed before it."""
    prompt = rng.choice((b">", b"> ", b"OK>", b"#", b"\r\n> ", b"$ "))
    command = rng.choice((b"", b"R\r\n", b"D1\r", b"?\r\n", b"READ\r\n"))
    behind, unit, plus, width = (
        rng.random() < 0.5,
        rng.random() < 0.6,
        rng.random() < 0.5,
        rng.choice((0, 8, 10)),
    )
    scales = _two(rng)
    unit = unit or len(scales) > 1

    def encode(m: SentMessage) -> bytes:
        text = (_number(m, plus=plus, width=width) + (f" {m.scale.unit}" if unit else "")).encode() + b"\r\n"
        return command + text + prompt if behind else prompt + command + text

    return sent(encode, scales, "prompted", rng)


def headed(rng: random.Random) -> WiredGauge:
    """The first message after power comes behind lines that say who is there."""
    lines = rng.choice(
        (
            b"READY\r\n",
            b"DIGITAL INDICATOR\r\nVER 2.13\r\n",
            b"\x00\xff*** V1.07 ***\r\n",
            b"SELF TEST OK 3.02V\r\n\r\n",
        )
    )
    scales = _two(rng)
    plus, width, zeros = rng.random() < 0.5, rng.choice((0, 9)), rng.random() < 0.4
    label = rng.choice((("mm", "in"), ("MM", "INCH"), ("", '"'), ("M", "E")))

    def encode(m: SentMessage) -> bytes:
        text = _number(m, plus=plus, width=width, zeros=zeros) + " " + label[m.scale.unit == "in"]
        return (lines if m.number == 1 else b"") + text.strip().encode() + b"\r\n"

    return sent(encode, scales, "headed", rng)


def columns(rng: random.Random) -> WiredGauge:
    """Fields padded with blanks to columns, as for a printer."""
    scales = _two(rng)
    w, left, n = rng.choice((9, 10, 12)), rng.random() < 0.3, rng.choice((0, 4, 6))
    tail, first = rng.choice(("", "   ", " ST", " OK  ")), rng.randint(1, 80)

    def encode(m: SentMessage) -> bytes:
        number = _number(m).ljust(w) if left else _number(m).rjust(w)
        head = f"{first + m.number:>{n}} " if n else ""
        return f"{head}{number}{m.scale.unit:>4}{tail}\r\n".encode()

    return sent(encode, scales, "columns", rng)


def block(rng: random.Random) -> WiredGauge:
    """Several lines a message: a heading, the reading, and something else."""
    scales = _two(rng)
    name, sep = rng.choice(("X", "MEAS", "Value", "DIA", "POS")), rng.choice((":", ": ", "=", " = ", "  "))
    head = rng.choice(("", "---------\r\n", "RESULT\r\n", "\r\n"))
    extra = rng.choice(("none", "date", "number", "limit", "state"))
    width, plus = rng.choice((0, 9)), rng.random() < 0.5
    end = rng.choice(("", "\r\n", "\r\n\r\n", "\f"))

    def encode(m: SentMessage) -> bytes:
        more = {
            "none": "",
            "date": f"12.03.2031 {m.clock // 3600 % 24:02}:{m.clock // 60 % 60:02}\r\n",
            "number": f"No{sep}{m.number}\r\n",
            "limit": f"TOL{sep}0.020\r\n",
            "state": "OK\r\n" if abs(m.steps) < m.scale.most // 2 else "NG\r\n",
        }[extra]
        return f"{head}{name}{sep}{_number(m, plus=plus, width=width)} {m.scale.unit}\r\n{more}{end}".encode()

    return sent(encode, scales, f"block {extra}", rng)


def escaped(rng: random.Random) -> WiredGauge:
    """What is made for a terminal: the cursor is placed, colours are switched."""
    scales = _two(rng)
    before, after = rng.choice(
        (("\x1b[2J\x1b[H", ""), ("\x1b[1;32m", "\x1b[0m"), ("\x1b[5;10H", "\x1b[K"), ("\x1b[H", ""))
    )
    end, width = rng.choice(("\r\n", "\r", "\n")), rng.choice((0, 9))

    def encode(m: SentMessage) -> bytes:
        return f"{before}{_number(m, width=width)} {m.scale.unit}{after}{end}".encode()

    return sent(encode, scales, "ansi", rng)


def ranged_check(rng: random.Random) -> WiredGauge:
    """A check in hexadecimal digits over a part of the message."""
    scales = _two(rng)
    head, etx = rng.choice((b"\x02", b"$", b":", b"")), rng.choice((b"\x03", b"*", b""))
    with_head, with_etx = rng.random() < 0.5, rng.random() < 0.5
    way, end = rng.choice(("xor", "sum", "neg", "sum16")), rng.choice((b"\r\n", b"\r"))
    name, plus, low = rng.choice((b"", b"01", b"A,", b"GS,")), rng.random() < 0.5, rng.random() < 0.3

    def encode(m: SentMessage) -> bytes:
        body = name + _number(m, plus=plus).encode() + (b"mm" if m.scale.unit == "mm" else b"in")
        over = (head if with_head else b"") + body + (etx if with_etx else b"")
        value = {
            "xor": reduce(xor, over),
            "sum": sum(over) & 0xFF,
            "neg": -sum(over) & 0xFF,
            "sum16": sum(over),
        }[way]
        text = f"{value:0{4 if way == 'sum16' else 2}X}"
        return head + body + etx + (text.lower() if low else text).encode() + end

    gauge = sent(encode, scales, f"check {way}", rng)
    gauge.guarded = True
    return gauge


def comma(rng: random.Random) -> WiredGauge:
    """A comma for the point, fields parted by semicolons or tabs."""
    scales = _two(rng)
    sep, quote = rng.choice((";", "\t", " ; ")), rng.choice(("", "", '"'))
    fields = rng.sample(("nr", "unit", "state", "time", "nominal"), rng.randint(1, 3))
    fields = [*dict.fromkeys([*fields, *(["unit"] if len(scales) > 1 else [])]), "value"]
    rng.shuffle(fields)
    nominal = rng.randint(100, 90000)

    def encode(m: SentMessage) -> bytes:
        text = {
            "nr": f"{m.number:03}",
            "unit": m.scale.unit,
            "state": "OK",
            "time": f"{m.clock // 3600 % 24:02}:{m.clock // 60 % 60:02}:{m.clock % 60:02}",
            "nominal": f"{nominal / 1000:.3f}".replace(".", ","),
            "value": _number(m).replace(".", ","),
        }
        return (sep.join(quote + text[f] + quote for f in fields) + "\r\n").encode()

    return sent(encode, scales, "comma fields", rng)


def stable(rng: random.Random) -> WiredGauge:
    """A word for at rest or moving, and a code of the kind of reading, before the number."""
    scales = _two(rng)
    marks, net = rng.choice((("ST", "US"), ("S", "D"), ("S ", "SD"))), rng.choice(("", ",GS", ",NT", " S"))
    sep, width = rng.choice((",", " ")), rng.choice((8, 9, 10))

    def encode(m: SentMessage) -> bytes:
        moving = m.sub > 2
        return (
            f"{marks[moving]}{net}{sep}{_number(m, plus=sep == ',', width=width)} {m.scale.unit}\r\n".encode()
        )

    return sent(encode, scales, "stable", rng)


def markup(rng: random.Random) -> WiredGauge:
    """Brackets, quotes or elements round the number."""
    scales = _two(rng)
    way = rng.choice(("xml", "attr", "brackets", "parens", "csv", "unit first"))

    def encode(m: SentMessage) -> bytes:
        v, u = _number(m), m.scale.unit
        return {
            "xml": f"<r><v>{v}</v><u>{u}</u></r>",
            "attr": f'<r u="{u}" n="{m.number}" v="{v}"/>',
            "brackets": f"[{v} {u}]",
            "parens": f"{v} {u} ({m.number})",
            "csv": f'"{v}","{u}","P{m.number}"',
            "unit first": f"{u}: {v}",
        }[way].encode() + b"\r\n"

    return sent(encode, scales, f"markup {way}", rng)


def deviation(rng: random.Random) -> WiredGauge:
    """The size, and how far it is from a set one."""
    scales = writing.any_scales(rng, one=True)
    nominal = rng.randrange(-scales[0].most // 2, scales[0].most // 2)
    sep, swap = rng.choice((" ", ",", ";", " D")), rng.random() < 0.4

    def encode(m: SentMessage) -> bytes:
        own, dev = _number(m, plus=True), f"{m.scale.shown(m.steps - nominal):+f}"
        return (f"{dev}{sep}{own}" if swap else f"{own}{sep}{dev}").encode() + b"\r\n"

    return sent(encode, scales, "deviation", rng)


def overrange(rng: random.Random) -> WiredGauge:
    """Dashes or an error that the display shows now and then, before a reading."""
    scales = _two(rng)
    word = rng.choice((b"------\r\n", b"ERR 02\r\n", b"OL\r\n", b"E4\r\n", b"BUSY\r\n"))
    unit = rng.random() < 0.5 or len(scales) > 1

    def encode(m: SentMessage) -> bytes:
        text = _number(m, width=9).encode() + (m.scale.unit.encode() if unit else b"") + b"\r\n"
        return word + text if m.number % 5 == 0 else text

    return sent(encode, scales, "errors between", rng)


def by_gap(rng: random.Random) -> WiredGauge:
    """Digits as characters without any end: only silence parts messages."""
    scales = _two(rng)
    width, unit = rng.choice((6, 7, 8)), rng.choice(("mi", "01", "ME"))
    point = rng.random() < 0.5
    named = len(scales) > 1 or rng.random() < 0.5

    def encode(m: SentMessage) -> bytes:
        digits = f"{abs(m.value):f}".rjust(width, "0") if point else f"{abs(m.steps):0{width}}"
        return (
            ("-" if m.steps < 0 else "+") + digits + (unit[m.scale.unit == "in"] if named else "")
        ).encode()

    return sent(encode, scales, f"gap {'point' if point else 'implied'}", rng)


def raw_text(rng: random.Random) -> WiredGauge:
    """Counts of a converter in decimal or hexadecimal digits."""
    bits = rng.choice((16, 18, 20, 24))
    most = rng.choice((2000, 12500, 25000))
    scales = (DisplayUnit("mm", 3 if most > 2000 else 2, most),)
    half = (1 << (bits - 1)) - 1
    if half < 4 * most:
        half = (1 << 23) - 1
    travel = most * rng.uniform(1.02, 1.4)
    name = rng.choice(("", "C", "ADC "))

    def encode(m: SentMessage) -> bytes:
        return f"{name}{round((m.steps + m.sub / 10) / travel * half)}\r\n".encode()

    return sent(encode, scales, "raw text", rng)


FAMILIES: Final = (
    prompted,
    headed,
    columns,
    block,
    escaped,
    ranged_check,
    comma,
    stable,
    markup,
    deviation,
    overrange,
    by_gap,
    raw_text,
)


def shop_text(rng: random.Random) -> WiredGauge:
    """A gauge of one of the families."""
    return rng.choice(FAMILIES)(rng)
