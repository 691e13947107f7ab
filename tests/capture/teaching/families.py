"""Families of invented gauges, one function a family: how a reading becomes bytes, and how it is sent.

Each family stands for one cause of a wrong or missed reading. Knows nothing of how gauges are learnt.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import reduce
from operator import xor

from tests.capture.dialects.conftest import crc

Chunks = tuple[tuple[float, bytes], ...]


@dataclass(frozen=True)
class Unit:
    """A unit on a display: by `grain` of its last digit it counts, up to `most` counts."""

    name: str
    decimals: int
    most: int
    grain: int = 1

    def shown(self, steps: int) -> Decimal:
        return Decimal(steps * self.grain).scaleb(-self.decimals)


@dataclass
class Design:
    """A gauge: the bytes of one message, and when messages come."""

    family: str
    units: list[Unit]
    frame: Callable[[int, Unit], bytes]
    period: float | None = None
    """Seconds from message to message; 0: one right behind the other; None: on a press."""
    negative: bool = True
    check: bool = False
    one_length: bool = False
    junk: bytes = b""
    """Comes before a press, in the same burst."""
    bits: int = 10
    """Bits a character on the line, at 9600 baud."""
    r: random.Random = field(default_factory=random.Random)

    def stream(self, readings: list[tuple[int, Unit]], *, torn: bool = False, loss: float = 0.0) -> Chunks:
        """What comes while the gauge shows *readings* one after another."""
        r, at, chunks = self.r, 0.0, []
        character = self.bits / 9600
        for place, (steps, unit) in enumerate(readings):
            data = self.frame(steps, unit)
            if self.period is None:
                data = self.junk + data
            elif place == 0 and torn:
                data = data[r.randrange(1, len(data)) :]
            if loss:
                data = bytes(byte for byte in data if r.random() >= loss)
            begun = at
            while data:
                size = r.randint(1, 16)
                at += character * len(data[:size])
                chunks.append((round(at, 4), data[:size]))
                data = data[size:]
            if self.period is None:
                at += r.uniform(0.8, 2.0)
            elif self.period:
                at = max(at + 0.004, begun + self.period * r.uniform(0.97, 1.03))
        return tuple(chunks)

    def held(self, steps: int, unit: Unit) -> Chunks:
        """What comes while a person holds the gauge still and reads its display."""
        if self.period is None:
            return self.stream([(steps, unit)])
        count = 30 if self.period == 0 else max(3, int(1.6 / self.period))
        return self.stream([(steps, unit)] * count, torn=True)


MM_IN = [
    (3, 4, 1, 1),
    (3, 4, 1, 5),
    (2, 3, 1, 5),
    (4, 5, 1, 5),
    (3, 5, 1, 5),
]


def units(r: random.Random, *, both: float = 0.75) -> list[Unit]:
    travel = r.choice([1.0, 5.0, 12.7, 25.4, 50.8, 100.0])
    mm, inch, grain, inch_grain = r.choice(MM_IN)
    found = [Unit("mm", mm, int(travel * 10**mm / grain), grain)]
    if r.random() < both:
        found.append(Unit("in", inch, max(20, int(travel / 25.4 * 10**inch / inch_grain)), inch_grain))
    return found


def period(r: random.Random) -> float | None:
    return r.choice([None, None, 0.1, 0.25, 0.02])


def text(each: Unit, steps: int, *, pad: str = "", width: int = 0, plus: str = "") -> str:
    number = f"{abs(each.shown(steps)):f}"
    number = number.rjust(width, pad) if pad == "0" else number
    number = ("-" if steps < 0 else plus) + number
    return number.rjust(width + 1) if pad == " " else number


LABELS = [("mm", "in"), (" mm", " in"), (" MM", " IN"), (",MM", ",IN"), (" mm", " inch"), ("M", "I")]
ENDS = [b"\r\n", b"\r\n", b"\r", b"\n"]


def plain_line(r: random.Random) -> Design:
    """A line with words, sign and padding of any kind."""
    some, label, end = units(r), r.choice(LABELS), r.choice(ENDS)
    head, pad, plus = (
        r.choice(["", "", "D1 ", "01A", "#", "\x02"]),
        r.choice(["", "0", " "]),
        r.choice(["", "+"]),
    )
    width = r.choice([8, 9])

    def frame(steps: int, unit: Unit) -> bytes:
        number = text(unit, steps, pad=pad, width=width, plus=plus)
        return f"{head}{number}{label[unit.name == 'in']}".encode("latin-1") + end

    return Design(
        "plain line", some, frame, period(r), one_length=bool(pad) and len(label[0]) == len(label[1])
    )


def temperature_line(r: random.Random) -> Design:
    """Degrees, with constant words and digits."""
    decimals = r.choice([1, 2])
    some = [Unit("degC", decimals, 130 * 10**decimals)]
    if r.random() < 0.5:
        some.append(Unit("degF", decimals, 250 * 10**decimals))
    label = r.choice([("degC", "degF"), (" degC", " degF"), ("C", "F"), (" 0", " 1")])
    head, end = r.choice(["", "T=", "T1:", "3 "]), r.choice(ENDS)

    def frame(steps: int, unit: Unit) -> bytes:
        return f"{head}{text(unit, steps)}{label[unit.name == 'degF']}".encode() + end

    return Design("temperature line", some, frame, r.choice([0.5, 0.1, 0.02, None]))


def glued_code(r: random.Random) -> Design:
    """A code of digits that touches the number: an address, a unit, a state."""
    some, end = units(r), r.choice([b"\r", b"\r\n", b"\x03"])
    where, code = (
        r.choice(["before", "after", "both"]),
        r.choice([("0", "1"), ("1", "2"), ("00", "10"), ("000", "001")]),
    )
    width, start = r.choice([6, 7, 8]), r.choice([b"", b"", b"\x02"])
    sign = r.choice([("+", "-"), ("0", "1")])

    def frame(steps: int, unit: Unit) -> bytes:
        which = code[unit.name == "in"]
        digits = sign[steps < 0] + f"{abs(steps) * unit.grain:0{width}d}"
        if where in ("before", "both"):
            digits = which + digits
        if where in ("after", "both"):
            digits += which if where == "after" else "00"
        return start + digits.encode() + end

    return Design("glued code", some, frame, r.choice([None, None, 0.1]), one_length=True)


def judged_line(r: random.Random) -> Design:
    """A letter that judges against tolerances, before or behind the number."""
    some, end = units(r), r.choice(ENDS)
    letters = r.choice(
        [("<", "=", ">"), ("-NG", "GO", "+NG"), ("L", "G", "H"), ("-", "0", "+"), ("U", " ", "O")]
    )
    place, label = r.choice(["before", "after", "last"]), r.choice(LABELS[:4])
    limit = r.uniform(0.2, 0.5)

    def frame(steps: int, unit: Unit) -> bytes:
        which = letters[1 + (steps > limit * unit.most) - (steps < -limit * unit.most)]
        number = text(unit, steps, plus="+")
        said = label[unit.name == "in"]
        line = {
            "before": f"{which} {number}{said}",
            "after": f"{number} {which}{said}",
            "last": f"{number}{said} {which}",
        }
        return line[place].encode() + end

    return Design("judged line", some, frame, period(r))


def several_numbers(r: random.Random) -> Design:
    """Two or three channels, or minimum and maximum, on a line."""
    some, end = units(r), r.choice(ENDS)
    names = r.choice(
        [("A", "B", "C"), ("X=", "Y=", "Z="), ("", "", ""), ("ACT ", "MIN ", "MAX "), ("1:", "2:", "3:")]
    )
    count, mine, parting = r.choice([2, 2, 3]), r.randrange(2), r.choice([",", " ", ";", "\t"])
    label, plus = r.choice(LABELS[:4]), r.choice(["", "+"])

    def frame(steps: int, unit: Unit) -> bytes:
        said = []
        for channel in range(count):
            other = r.randint(-unit.most, unit.most)
            said.append(names[channel] + text(unit, steps if channel == mine else other, plus=plus))
        return f"{parting.join(said)}{label[unit.name == 'in']}".encode() + end

    return Design("several numbers", some, frame, period(r))


def keyed_line(r: random.Random) -> Design:
    """JSON or key=value, with a clock, a counter and other values."""
    some = units(r)
    began, count, json = (
        r.choice([1_700_000_000, 1_700_000_000_000, 86_000]),
        r.randrange(10_000),
        r.random() < 0.5,
    )
    battery, state, extra = r.randint(20, 99), r.choice(["ok", "run", "0"]), r.random() < 0.6
    turn = [began, count]

    def frame(steps: int, unit: Unit) -> bytes:
        turn[0] += r.randint(1, 3) if began < 1e12 else r.randint(20, 900)
        turn[1] += 1
        number, name = f"{unit.shown(steps):f}", unit.name
        if json:
            more = f',"bat":{battery}' if extra else ""
            line = f'{{"t":{turn[0]},"n":{turn[1]},"v":{number},"u":"{name}"{more}}}'
        else:
            more = f" bat={battery}" if extra else ""
            line = f"t={turn[0]} n={turn[1]} val={number} unit={name} st={state}{more}"
        return line.encode() + b"\n"

    return Design("keyed line", some, frame, r.choice([None, 0.1, 0.5]))


def counted_line(r: random.Random) -> Design:
    """A running number or a time of day before the reading."""
    some, end, label = units(r), r.choice(ENDS), r.choice(LABELS[:4])
    turn, clock, parting = [r.randrange(100, 90_000)], r.random() < 0.5, r.choice([",", ";", " "])

    def frame(steps: int, unit: Unit) -> bytes:
        turn[0] += 1
        second = turn[0] * 7
        head = (
            f"{second // 3600 % 24:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
            if clock
            else f"{turn[0]:06d}"
        )
        return f"{head}{parting}{text(unit, steps)}{label[unit.name == 'in']}".encode() + end

    return Design("counted line", some, frame, period(r))


def seven_bits(r: random.Random) -> Design:
    """Seven bits with parity, heard as eight bits without."""
    one = plain_line(r)
    odd = r.random() < 0.3

    def frame(steps: int, unit: Unit) -> bytes:
        return bytes(b | 0x80 * ((b.bit_count() + odd) % 2) for b in one.frame(steps, unit))

    return Design("seven bits", one.units, frame, one.period, one_length=one.one_length)


def junk_before(r: random.Random) -> Design:
    """A byte of noise before the message of a press."""
    one = r.choice([plain_line, count_frame, packed])(r)
    return Design(
        "junk before a press",
        one.units,
        one.frame,
        None,
        check=one.check,
        junk=r.choice([b"\0", b"\xff", b"\xfe", b"\xf8"]),
    )


def exponent_line(r: random.Random) -> Design:
    """Numbers with an exponent (in the manner of IEEE 488.2)."""
    some, end, label = units(r), r.choice(ENDS), r.choice([",MM", " MM", "MM"])
    digits = r.choice([4, 5])

    def frame(steps: int, unit: Unit) -> bytes:
        said = f"{unit.shown(steps):+.{digits}E}".replace("E+00", r.choice(["E+0"]) if short else "E+00")
        return f"{said}{label if unit.name == 'mm' else label.replace('MM', 'IN')}".encode() + end

    short = False
    return Design("exponent line", some, frame, period(r))


def hexadecimal_line(r: random.Random) -> Design:
    """A count in hexadecimal digits, with labels of one or several lengths."""
    some, end, label = units(r), r.choice(ENDS), r.choice([("mm", "in"), (" mm", " inch"), ("M", "I")])
    head, width = r.choice(["", "P", "R:"]), r.choice([6, 8])

    def frame(steps: int, unit: Unit) -> bytes:
        return f"{head}{steps % 16**width:0{width}X}{label[unit.name == 'in']}".encode() + end

    return Design("hexadecimal line", some, frame, r.choice([None, 0.1]))


def inch_fraction(r: random.Random) -> Design:
    """Fractions of an inch beside the millimetres."""
    some = [Unit("mm", 2, 15000), Unit("in", 4, 384)]
    end = r.choice(ENDS)
    label = r.choice([" mm", "mm"]), r.choice([" in", '"'])

    def shown_fraction(steps: int) -> str:
        whole, part = divmod(abs(steps), 64)
        sign = "-" if steps < 0 else ""
        if not part:
            return f"{sign}{whole}"
        fraction = Fraction(part, 64)
        return sign + (f"{whole} " if whole else "") + f"{fraction.numerator}/{fraction.denominator}"

    def frame(steps: int, unit: Unit) -> bytes:
        if unit.name == "in":
            return f"{shown_fraction(steps)}{label[1]}".encode() + end
        return f"{text(unit, steps)}{label[0]}".encode() + end

    return Design("inch fraction", some, frame, None)


CHECKS: dict[str, Callable[[bytes], bytes]] = {
    "": lambda _: b"",
    "sum": lambda b: bytes([sum(b) % 256]),
    "xor": lambda b: bytes([reduce(xor, b)]),
    "negated": lambda b: bytes([-sum(b) % 256]),
    "crc16": lambda b: crc(b, 0x8005, 0xFFFF, mirrored=True).to_bytes(2, "little"),
    "crc8": lambda b: bytes([crc(b, 0x07, 0, mirrored=False, bits=8)]),
}


def count_frame(
    r: random.Random, *, periods: tuple[float | None, ...] = (None, None, 0.1, 0.02), family: str = "count"
) -> Design:
    """A binary count with bits for sign and unit."""
    some = units(r)
    most = max(unit.most * unit.grain for unit in some)
    size = r.choice([2, 3, 4]) if most < 2**15 else r.choice([3, 4])
    order, signed = r.choice(["big", "little"]), r.choice(["two", "two", "one", "magnitude", "bit"])
    head = r.choice([b"", b"\xaa", b"\xaa\x55", b"\x02", b"\x7e\x01", b"\x10"])
    check, status = r.choice(list(CHECKS)), r.choice([0, 0x20, 0x80])
    first = r.random() < 0.5

    def frame(steps: int, unit: Unit) -> bytes:
        count, whole = abs(steps), 256**size
        if signed == "two":
            count = steps % whole
        elif signed == "one":
            count = steps if steps >= 0 else whole - 1 + steps
        elif signed == "magnitude" and steps < 0:
            count |= whole // 2
        bits = status | (unit.name == "in") | 4 * (signed == "bit" and steps < 0)
        data = count.to_bytes(size, order)  # type: ignore[arg-type]
        body = head + (bytes([bits]) + data if first else data + bytes([bits]))
        return body + CHECKS[check](body)

    return Design(family, some, frame, r.choice(periods), check=bool(check), one_length=True)


def fast_count(r: random.Random) -> Design:
    """A binary stream fifty times a second."""
    return count_frame(r, periods=(0.02,), family="50 Hz stream")


def endless_count(r: random.Random) -> Design:
    """Binary messages one right behind the other, with a head or a check."""
    while True:
        one = count_frame(r, periods=(0,), family="back to back")
        if one.check:
            return one


def two_counts(r: random.Random) -> Design:
    """Two channels of a count each."""
    some = [Unit("mm", 3, 12000)] + ([Unit("in", 4, 4700)] if r.random() < 0.5 else [])
    order, head, mine = r.choice(["big", "little"]), r.choice([b"", b"\xaa", b"\x02"]), r.randrange(2)
    check, still = r.choice(["", "sum", "crc16"]), r.random() < 0.5
    other = r.choice([0, 1, r.randint(0, 300)])

    def frame(steps: int, unit: Unit) -> bytes:
        second = other if still else r.randint(-300, 300)
        pair = [steps, second] if mine == 0 else [second, steps]
        body = head + bytes([unit.name == "in"]) + b"".join(n.to_bytes(2, order, signed=True) for n in pair)  # type: ignore[call-overload]
        return body + CHECKS[check](body)

    return Design("two counts", some, frame, r.choice([None, 0.1, 0.02]), check=bool(check), one_length=True)


def packed(r: random.Random) -> Design:
    """Digits in half bytes, in either order, from either end."""
    some = units(r)
    width, backward, swapped = r.choice([6, 8]), r.random() < 0.4, r.random() < 0.4
    head, check = r.choice([b"", b"\xff", b"\x02", b"\xf5"]), r.choice(["", "", "xor", "sum"])
    signs, codes = r.choice([(0, 8), (0, 1), (12, 13)]), r.choice([(0, 1), (2, 4)])

    def frame(steps: int, unit: Unit) -> bytes:
        digits = [int(d) for d in f"{abs(steps) * unit.grain:0{width}d}"]
        nibbles = [signs[steps < 0], codes[unit.name == "in"], *(digits[::-1] if backward else digits)]
        pairs = zip(nibbles[::2], nibbles[1::2], strict=True)
        body = head + bytes(b << 4 | a if swapped else a << 4 | b for a, b in pairs)
        return body + CHECKS[check](body)

    return Design(
        "packed digits", some, frame, r.choice([None, None, 0.1, 0.02]), check=bool(check), one_length=True
    )


def word24(r: random.Random) -> Design:
    """Twenty-four bits: magnitude, a bit of sign and one of unit, in half bytes of either order."""
    some = [Unit("mm", 2, 15000), Unit("in", 4, 11800, 5)]
    nibbles, low_first, spread = r.random() < 0.7, r.random() < 0.5, r.random() < 0.5
    sign, unit_bit = r.choice([(20, 23), (21, 22), (23, 22), (20, 21)])

    def frame(steps: int, unit: Unit) -> bytes:
        word = abs(steps) * unit.grain if unit.name == "mm" else abs(steps)
        word |= (steps < 0) << sign | (unit.name == "in") << unit_bit
        if not nibbles:
            return word.to_bytes(3, "little" if low_first else "big")
        parts = [word >> shift & 15 for shift in range(0, 24, 4)]
        parts = parts if low_first else parts[::-1]
        return (
            bytes(parts)
            if spread
            else bytes(a << 4 | b for a, b in zip(parts[::2], parts[1::2], strict=True))
        )

    return Design("word of 24 bits", some, frame, r.choice([None, None, 0.2]), one_length=True)


def stuffed(r: random.Random) -> Design:
    """A count between two marks, with the marks inside replaced (RFC 1055)."""
    one = count_frame(r)
    check = r.random() < 0.7

    def frame(steps: int, unit: Unit) -> bytes:
        body = one.frame(steps, unit)
        body = body.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc")
        return (b"\xc0" if both else b"") + body + b"\xc0"

    both = check
    return Design("stuffed", one.units, frame, r.choice([None, 0.1, 0.02]), check=one.check)


def converter(r: random.Random) -> Design:
    """Raw counts of a converter, whose scale only two sizes tell."""
    bits = r.choice([16, 20, 24])
    span = r.choice([2.0, 5.0, 10.0])
    decimals = 3
    some = [Unit("mm", decimals, int(span * 1000 * 0.95))]
    slope = 2 ** (bits - 1) / (span * 1000) * r.uniform(0.7, 0.99)
    size, order = (2 if bits == 16 else 3), r.choice(["big", "little"])
    head, check = r.choice([b"\xaa", b"\xaa\x55", b"\x02"]), r.choice(["sum", "crc16"])

    def frame(steps: int, _: Unit) -> bytes:
        body = head + round(steps * slope).to_bytes(size, order, signed=True)  # type: ignore[call-overload]
        return body + CHECKS[check](body)

    return Design("converter", some, frame, r.choice([None, 0.1]), check=True, one_length=True)


def float_frame(r: random.Random) -> Design:
    """A floating-point number with a byte for the unit."""
    some = units(r)
    order, head, check = (
        r.choice(["<f", ">f"]),
        r.choice([b"\xaa\x55", b"\x02", b""]),
        r.choice(["sum", "crc16", "xor"]),
    )

    def frame(steps: int, unit: Unit) -> bytes:
        body = head + struct.pack(order, float(unit.shown(steps))) + bytes([unit.name == "in"])
        return body + CHECKS[check](body)

    return Design("float", some, frame, r.choice([None, 0.1, 0.02, 0]), check=True, one_length=True)


FAMILIES: tuple[Callable[[random.Random], Design], ...] = (
    plain_line,
    temperature_line,
    glued_code,
    judged_line,
    several_numbers,
    keyed_line,
    counted_line,
    seven_bits,
    junk_before,
    exponent_line,
    hexadecimal_line,
    inch_fraction,
    count_frame,
    fast_count,
    endless_count,
    two_counts,
    packed,
    word24,
    stuffed,
    converter,
    float_frame,
)


def design(seed: int, family: int | None = None) -> Design:
    """The gauge of a seed, of a family if one is given."""
    r = random.Random(seed)  # noqa: S311 - designs, no secrets
    make = FAMILIES[seed % len(FAMILIES) if family is None else family]
    one = make(r)
    one.r = r
    return one
