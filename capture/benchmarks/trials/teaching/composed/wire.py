"""A gauge on a wire: what its display shows, what it sends for it, and when which bytes arrive."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from math import ceil

from msgspec import Struct, field

from capture.dialects.taught.framing import Chunk


class DisplayUnit(Struct, frozen=True):
    """How a display shows lengths in one unit."""

    unit: str
    decimals: int
    most: int
    """Its travel, in steps of the display."""
    counts: int = 1
    """It counts by so many of its last digit."""

    def shown(self, steps: int) -> Decimal:
        """The number on the display."""
        return Decimal(steps).scaleb(-self.decimals)


class SentMessage(Struct):
    """One message: what the display shows, and what else the gauge knows."""

    steps: int
    scale: DisplayUnit
    number: int
    """Of this message since the gauge was switched on."""
    clock: int
    """Seconds since midnight."""
    low: int
    high: int
    """Smallest and largest steps since it was set to begin anew."""
    other: int
    """What another channel shows, in steps."""
    charge: int
    """Of its battery, in percent."""
    sub: int = 0
    """Tenths of a step that the display does not show."""

    @property
    def value(self) -> Decimal:
        """The number on the display."""
        return self.scale.shown(self.steps)


def farthest(scale: DisplayUnit) -> SentMessage:
    """The message at full travel, which is the longest."""
    most = scale.most
    return SentMessage(most, scale, 9, 0, -most, most, most, 80)


Encode = Callable[[SentMessage], bytes]


class WiredGauge(Struct):
    """An invented gauge on its wire."""

    encode: Encode
    scales: tuple[DisplayUnit, ...]
    traits: tuple[str, ...] = ()
    """What it is made of, for the count of causes."""
    rate: float = 0.0
    """Messages a second; 0: on a press."""
    baud: int = 9600
    repeats: int = 1
    """How often a press sends its message."""
    noise: float = 0.0
    """Share of the presses before which a byte of noise stands."""
    negative: bool = True
    opens_midway: bool = True
    """Whether a stream is met in the middle of a message."""
    guarded: bool = False
    """Whether a check, or the length of a message, tells that a byte was lost."""
    power: int = field(default=0)
    seconds: int = field(default=0)
    other: int = field(default=0)
    charge: int = field(default=80)
    extremes: dict[str, tuple[int, int]] = field(default_factory=dict)

    def message(self, steps: int, scale: DisplayUnit, rng: random.Random) -> bytes:
        """The next message."""
        self.power += 1
        low, high = self.extremes.get(scale.unit, (steps, steps))
        self.extremes[scale.unit] = low, high = min(low, steps), max(high, steps)
        self.other = rng.randint(-scale.most, scale.most) if self.power % 3 == 1 else self.other
        return self.encode(
            SentMessage(
                steps,
                scale,
                self.power,
                self.seconds,
                low,
                high,
                self.other,
                self.charge,
                rng.randint(-4, 4),
            )
        )


class ReceivedBytes(Struct):
    """What a computer received, and what the display showed while it was sent."""

    chunks: list[Chunk] = field(default_factory=list)
    sent: list[tuple[float, int, DisplayUnit]] = field(default_factory=list)
    """The beginning of each message, with the steps and the scale of the display."""
    again: bool = False
    """Whether a press sends its message more than once."""


def on_the_wire(
    gauge: WiredGauge,
    shown: Sequence[tuple[int, DisplayUnit]],
    rng: random.Random,
    *,
    begin: float = 0.0,
    pause: float = 2.0,
    loss: float = 0.0,
    midway: bool = False,
) -> ReceivedBytes:
    """What is received while the display shows value after value: a press each, or a message of a stream.

    Each byte takes its ten bits on the wire; a computer reads what has come every few milliseconds.
    """
    received, at, pieces = ReceivedBytes(again=gauge.repeats > 1), begin, list[Chunk]()
    byte_time = 10.0 / gauge.baud
    for place, (steps, scale) in enumerate(shown):
        data = b"".join(gauge.message(steps, scale, rng) for _ in range(gauge.repeats))
        gauge.seconds += ceil(pause) if not gauge.rate else int(rng.random() < 1 / gauge.rate)
        if not gauge.rate and rng.random() < gauge.noise:
            data = bytes([rng.choice((0, 0xFF, 0x80, 0xFE, rng.randrange(256)))]) + data
        if midway and gauge.rate and gauge.opens_midway and not place:
            data = data[rng.randrange(len(data)) :]
        start = at
        for byte in data:
            at += byte_time
            if rng.random() >= loss:
                pieces.append((at, bytes([byte])))
        received.sent.append((start, steps, scale))
        at = max(at, start + (1 / gauge.rate if gauge.rate else pause * rng.uniform(0.5, 1.5)))
    received.chunks = list(_read(pieces, rng))
    return received


def _read(pieces: Sequence[Chunk], rng: random.Random) -> Iterator[Chunk]:
    """Bytes joined as a serial driver gives them: all that came within 1 to 16 ms."""
    every = rng.choice((0.001, 0.004, 0.016))
    now, data = 0.0, b""
    for at, byte in pieces:
        tick = ceil(at / every) * every
        if data and tick > now:
            yield now, data
            data = b""
        now, data = tick, data + byte
    if data:
        yield now, data
