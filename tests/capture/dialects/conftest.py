"""Gauges as a designer might make them: how a reading becomes bytes. Knows nothing of how they are learnt."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from decimal import Decimal
from functools import reduce
from operator import xor

import pytest

Frame = Callable[[int, "Unit"], bytes]
Chunks = tuple[tuple[float, bytes], ...]

TRAVELS = (1.0, 5.0, 12.7, 25.4, 50.0, 100.0, 150.0, 300.0)


def crc(data: bytes, poly: int, start: int, *, mirrored: bool, bits: int = 16) -> int:
    """A cyclic redundancy check bit by bit, unlike the tables of the code under test."""
    rest = start
    for byte in data:
        for place in range(8) if mirrored else range(7, -1, -1):
            carry = (rest >> (bits - 1) & 1) ^ (byte >> place & 1)
            rest = (rest << 1 & ((1 << bits) - 1)) ^ (poly if carry else 0)
    return int(f"{rest:0{bits}b}"[::-1], 2) if mirrored else rest


TAILS: dict[str, Callable[[bytes], bytes]] = {
    "none": lambda _: b"",
    "sum": lambda b: bytes([sum(b) % 256]),
    "sum from the second": lambda b: bytes([sum(b[1:]) % 256]),
    "negated sum": lambda b: bytes([-sum(b) % 256]),
    "inverted sum": lambda b: bytes([255 - sum(b) % 256]),
    "exclusive or": lambda b: bytes([reduce(xor, b)]),
    "exclusive or from the second": lambda b: bytes([reduce(xor, b[1:], 0)]),
    "crc16 of Modbus": lambda b: crc(b, 0x8005, 0xFFFF, mirrored=True).to_bytes(2, "little"),
    "crc16 of 1021 from ffff": lambda b: crc(b, 0x1021, 0xFFFF, mirrored=False).to_bytes(2, "big"),
    "crc16 of 1021": lambda b: crc(b, 0x1021, 0, mirrored=False).to_bytes(2, "big"),
    "crc8 of 07": lambda b: bytes([crc(b, 0x07, 0, mirrored=False, bits=8)]),
    "hex sum": lambda b: b"%02X" % (sum(b) % 256),
    "hex exclusive or": lambda b: b"%02X" % reduce(xor, b),
    "hex exclusive or behind a star": lambda b: b"*%02X" % reduce(xor, b[1:], 0),
    "decimal sum": lambda b: b"%03d" % (sum(b) % 256),
}
BINARY = [name for name in TAILS if not name.startswith(("hex", "decimal"))]
TEXTUAL = ["none"] * 4 + [name for name in TAILS if name.startswith(("hex", "decimal"))]


class Unit:
    """A unit of a gauge: its decimals, and by how many of the last digit it counts."""

    def __init__(self, name: str, decimals: int, grain: int) -> None:
        self.name, self.decimals, self.grain = name, decimals, grain

    def shown(self, steps: int) -> Decimal:
        """What the display shows."""
        return Decimal(steps * self.grain).scaleb(-self.decimals)


class Gauge:
    """One design: `frame(steps, unit)` gives the bytes of one message."""

    def __init__(self, seed: int) -> None:
        r = self.random = random.Random(seed)  # noqa: S311 - designs, no secrets
        mm = Unit("mm", *r.choice([(2, 1), (3, 1), (3, 1), (3, 1), (4, 1), (3, 5), (3, 2), (4, 5)]))
        inch = Unit("in", *r.choice([(4, 5), (4, 1), (5, 5), (5, 1)]))
        self.units = [mm, inch] if r.random() < 0.75 else [mm]
        self.travel = r.choice(TRAVELS)
        self.kind = r.choice(["line"] * 5 + ["columns", "packed"] * 3 + ["count"] * 4 + ["float", "register"])
        self.pause = r.choice([None, None, None, 0.0, 0.05, 0.1])
        """Seconds between the messages of a stream; None for a gauge with a button."""
        self.turn = r.randrange(200)
        self.protected = False
        designs = {
            "line": self._line,
            "columns": self._columns,
            "packed": self._packed,
            "count": self._count,
            "float": self._float,
            "register": self._register,
        }
        self.frame: Frame = designs[self.kind](r)

    def most(self, unit: Unit) -> int:
        """Steps of the whole travel."""
        millimetres = 1 if unit.name == "mm" else Decimal("25.4")
        return max(30, int(Decimal(self.travel) / millimetres / unit.shown(1)))

    def _width(self) -> int:
        return max(len(str(self.most(unit) * unit.grain).zfill(unit.decimals + 1)) for unit in self.units)

    def _tail(self, names: list[str]) -> Callable[[bytes], bytes]:
        name = self.random.choice(names)
        self.protected = name != "none"
        return TAILS[name]

    def _line(self, r: random.Random) -> Frame:
        tail = self._tail(TEXTUAL)
        before = r.choice(["", "", "", "A", "B:", "CH1 ", "#1,", "01A", "\x02", "D=", "ID7;", "$G,", "X "])
        mark = r.choice([("", "-"), ("+", "-"), ("+", "-"), (" ", "-"), ("P", "N"), None])
        pad = r.choice(["", "", "0", " "])
        point = r.choice([".", ".", ".", ",", ""]) if not before.endswith(",") else "."
        words = r.choice(
            [("mm", "in"), ("MM", "IN"), (" mm", " inch"), (" mm", ' "'), (",M", ",I"), (" 0", " 1")]
        )
        counter = r.random() < 0.08
        width = self._width() + r.choice([0, 1, 2]) + bool(point)
        end = r.choice([b"\r\n", b"\r\n", b"\r", b"\r", b"\n", b"\x03", b"\x04", b";", b"\n\r"])

        def frame(steps: int, unit: Unit) -> bytes:
            number = f"{abs(unit.shown(steps)):f}".replace(".", point)
            number = number if point else number.lstrip("0") or "0"
            number = number.rjust(width, pad) if pad else number
            if mark is None:
                number += "+-"[steps < 0]
            else:
                number = mark[steps < 0] + number
            self.turn += 1
            text = f"{before}{number}{words[unit.name == 'in']}" + (f" {self.turn}" if counter else "")
            body = text.encode("latin-1")
            return body + tail(body) + end

        return frame

    def _columns(self, r: random.Random) -> Frame:
        tail = self._tail([*TEXTUAL, "sum", "exclusive or"])
        end = r.choice([b"\r", b"\r\n", b"\n", b"", b"\x03"])
        head = r.choice([b"", b"\x02", b"\x02", b"01", b"A", b"\x01M"])
        order = r.sample(["sign", "digits", "unit"], 3)
        signs = r.choice([("+", "-"), ("0", "1"), (" ", "-"), ("0", "8"), ("P", "N")])
        units = r.choice([("0", "1"), ("M", "I"), ("m", "i"), ("1", "2"), ("mm", "in")])
        pad, status, pointed = r.choice(["0", "0", " "]), r.choice(["", "0", "00", "A"]), r.random() < 0.3
        width = self._width() + r.choice([0, 0, 1, 2]) + pointed

        def frame(steps: int, unit: Unit) -> bytes:
            number = f"{abs(unit.shown(steps)):f}" if pointed else str(abs(steps) * unit.grain)
            parts = {
                "sign": signs[steps < 0],
                "digits": number.rjust(width, pad),
                "unit": units[unit.name == "in"],
            }
            body = head + "".join(parts[part] for part in order).encode() + status.encode()
            return body + tail(body) + end

        return frame

    def _packed(self, r: random.Random) -> Frame:
        tail = self._tail(BINARY + ["none"] * 4)
        head = r.choice([b"", b"\xff\xff", b"\xaa", b"\x02", b"\xf0\x0f", b"\x55\xaa"])
        halves, backward, swapped = r.random() < 0.5, r.random() < 0.4, r.random() < 0.3
        signs = r.choice([(0, 8), (0, 1), (12, 13), (10, 11), (15, 13)])
        units = r.choice([(0, 1), (0, 8), (2, 4), (1, 2)])
        front, high = r.random() < 0.5, r.choice([0x00, 0x30, 0x80, 0xD0])
        width = (self._width() + r.choice([1, 2])) // 2 * 2
        end = r.choice([b"", b"", b"\r", b"\r\n"])

        def frame(steps: int, unit: Unit) -> bytes:
            digits = [int(digit) for digit in str(abs(steps) * unit.grain).zfill(width)]
            digits = digits[::-1] if backward else digits
            flags = [signs[steps < 0], units[unit.name == "in"]]
            nibbles = flags + digits if front else digits + flags
            pairs = list(zip(nibbles[::2], nibbles[1::2], strict=True))
            packed = bytes(b << 4 | a if swapped else a << 4 | b for a, b in pairs)
            body = head + (packed if halves else bytes(high | nibble for nibble in nibbles))
            return body + tail(body) + end

        return frame

    def _count(self, r: random.Random) -> Frame:
        tail = self._tail(BINARY + ["none"] * 3)
        head = r.choice([b"", b"\xaa", b"\xaa\x55", b"\x02", b"\x7e\x01", b"G"])
        small = max(map(self.most, self.units)) < 2**15
        size = 2 if small and r.random() < 0.6 else r.choice([3, 4])
        order = r.choice(["big", "little"] + ["swapped"] * (size == 4))
        signed = r.choice(["complement", "magnitude", "flag"])
        sign_bit, unit_bit = (1 << place for place in r.sample(range(8), 2))
        base = r.choice([0, 0, 0x10, 0x40]) & ~(sign_bit | unit_bit)
        first, counter = r.random() < 0.5, r.random() < 0.1
        end = r.choice([b"", b"", b"", b"\r\n", b"\x03"])

        def frame(steps: int, unit: Unit) -> bytes:
            count = steps % 256**size if signed == "complement" else abs(steps)
            if signed == "magnitude" and steps < 0:
                count |= 1 << (8 * size - 1)
            data = count.to_bytes(size, "little" if order == "little" else "big")
            data = data[2:] + data[:2] if order == "swapped" else data
            told = base | unit_bit * (unit.name == "in") | sign_bit * (signed == "flag" and steps < 0)
            body = head + (bytes([told]) + data if first else data + bytes([told]))
            self.turn = (self.turn + 1) % 256
            body += bytes([self.turn]) if counter else b""
            return body + tail(body) + end

        return frame

    def _float(self, r: random.Random) -> Frame:
        tail = self._tail(BINARY)
        head = r.choice([b"", b"\xaa\x55", b"\x02", b"\x10\x04"])
        order = r.choice([(0, 1, 2, 3), (3, 2, 1, 0), (2, 3, 0, 1), (1, 0, 3, 2)])
        units = r.choice([(0, 1), (1, 2), (ord("M"), ord("I"))])

        def frame(steps: int, unit: Unit) -> bytes:
            data = struct.pack(">f", float(unit.shown(steps)))
            body = head + bytes(data[place] for place in order) + bytes([units[unit.name == "in"]])
            return body + tail(body)

        return frame

    def _register(self, r: random.Random) -> Frame:
        address, function = r.randrange(1, 248), r.choice([3, 4])
        floating, swapped = r.random() < 0.4, r.random() < 0.5
        tail = self._tail(["crc16 of Modbus"])

        def frame(steps: int, unit: Unit) -> bytes:
            data = struct.pack(">f", float(unit.shown(steps))) if floating else struct.pack(">i", steps)
            data = (data[2:] + data[:2] if swapped else data) + bytes([0, unit.name == "in"])
            body = bytes([address, function, len(data)]) + data
            return body + tail(body)

        return frame

    def guided(self) -> list[tuple[int, Unit]]:
        """What a person is asked to show: large, negative, small, large and negative in the other unit."""
        r, mm, other = self.random, self.units[0], self.units[-1]
        large = [int(self.most(unit) * r.uniform(0.6, 1.0)) for unit in (mm, other)]
        negative = [-r.randint(self.most(unit) // 8, self.most(unit)) for unit in (mm, other)]
        small = r.randint(1, max(2, self.most(mm) // 10))
        return [(large[0], mm), (negative[0], mm), (small, mm), (large[1], other), (negative[1], other)]

    def unguided(self) -> list[tuple[int, Unit]]:
        """Five readings as they come."""
        units = [self.random.choice(self.units) for _ in range(5)]
        return [(self.random.randint(-self.most(unit), self.most(unit)), unit) for unit in units]

    def capture(self, steps: int, unit: Unit) -> Chunks:
        """What comes while the gauge shows one reading, with times, cut as a busy computer would cut it."""
        r, at, chunks = self.random, 0.0, []
        frames = [self.frame(steps, unit) for _ in range(1 if self.pause is None else r.randint(4, 7))]
        for data in [b"".join(frames)] if self.pause == 0 else frames:
            rest = data
            while rest:
                size = r.randint(1, max(1, min(24, len(rest))))
                chunks.append((round(at, 4), rest[:size]))
                rest = rest[size:]
                at += r.uniform(0.0005, 0.008)
            at += (self.pause or 0.5) * r.uniform(0.9, 1.1)
        return tuple(chunks)


@pytest.fixture(scope="session")
def gauge() -> type[Gauge]:
    """Makes the gauge of a seed."""
    return Gauge
