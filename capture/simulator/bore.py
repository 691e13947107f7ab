"""A bore gauge in a hand: rocked, swung, paused, knocked, moved and withdrawn, with the truth beside it.

What the gauge shows is the diameter where it stands, made larger by tilt along the bore,
``D / cos theta``, and smaller by standing off the centre, ``sqrt(D^2 - 4 e^2)``; then comes
noise, rounding to its step, and a link that delivers late. Lengths mm, angles degrees, time seconds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

Curve = NDArray[np.float64]
Shape: TypeAlias = Literal["sine", "straight", "flowing"]
"""How the tilt goes: waves from turn to turn, straight from turn to turn, or one wave of flowing rate."""
Doing: TypeAlias = Literal["air", "enter", "rock", "pause", "bump", "move", "still", "leave"]


class Hand(Struct, frozen=True):
    """How the gauge is held and moved."""

    frequency: float = 0.8
    """Rocks a second; each crosses the upright twice."""
    amplitude: float = 3.0
    uneven: float = 0.15
    """Standard deviation of the length and of the height of each half rock, as a share."""
    lean: float = 0.3
    """How far the middle of the rocks is from upright, degrees."""
    shape: Shape = "sine"
    skew: float = 1.0
    """Power of the time in a half rock: under 1 it starts quick and ends slow."""
    lame: float = 1.0
    """Time of a half rock to one side over that to the other."""
    dwell: float = 0.0
    """Longest rest at each turn, seconds."""
    pauses: float = 0.04
    """Chance of stopping in a half rock."""
    bumps: float = 0.0
    """Chance of a knock in a half rock."""
    swing: float = 0.01
    """Largest distance from the centre, mm."""
    swing_every: float = 3.0
    """Seconds in which it swings there and back."""


class Wire(Struct, frozen=True):
    """What the gauge and its link make of a size."""

    rate: float = 20.0
    noise: float = 0.0004
    resolution: float = 0.001
    play: float = 0.0
    """Hysteresis: what the reading loses between rising and falling, mm."""
    late: float = 0.004
    """Mean lateness of a reading (exponential), seconds."""
    air: float = 0.8
    """How much more than the bore it shows when it hangs free, mm."""
    sign: int = 1
    """-1 for a gauge whose reading falls as the bore grows."""
    zero: float = 0.0
    """Size at which it shows 0."""


class BoreSample(Struct, frozen=True):
    """One reading as it arrives, with the truth."""

    at: float
    """Seconds at which it arrives."""
    value: float
    """As the gauge shows it, mm."""
    doing: Doing
    size: float | None
    """True diameter where the gauge stands; None in air."""


class _Stretch(Struct, frozen=True):
    seconds: float
    doing: Doing
    size: float | None
    shown: Callable[[Curve], Curve]
    """Size shown at times from its beginning."""


class BoreGauge:
    """One gauge in one hand; what it does is written down as it is asked for, then sampled."""

    def __init__(self, hand: Hand, wire: Wire, seed: int) -> None:
        self.hand, self.wire = hand, wire
        self._random = np.random.default_rng(seed)
        self._seconds = 0.0
        self._count = 0
        self._arrived = 0.0
        self._held: float | None = None
        self._tilt = float(np.radians(hand.amplitude))
        self._swing = self._random.uniform(0, 2 * np.pi)
        self._phase = self._random.uniform(0, 2 * np.pi)

    @property
    def seconds(self) -> float:
        """How far the time of this gauge has come."""
        return self._seconds

    def air(self, seconds: float, size: float, *, restless: float = 0.0) -> Iterator[BoreSample]:
        """Hanging free near a bore of *size*; *restless*: by how much it wanders, mm."""
        start = self._random.uniform(0, 2 * np.pi)
        yield from self._samples(
            _Stretch(
                seconds,
                "air",
                None,
                lambda t: size + self.wire.air + restless * np.sin(5.0 * t + start) * np.sin(1.7 * t),
            )
        )

    def enter(self, size: float, seconds: float = 1.2) -> Iterator[BoreSample]:
        """Into the bore, leaning and untidy."""
        yield from self._ramp(seconds, "enter", size, self.wire.air, 0.02)

    def leave(self, size: float, seconds: float = 0.8) -> Iterator[BoreSample]:
        """Out of the bore."""
        yield from self._ramp(seconds, "leave", size, 0.02, self.wire.air)

    def rock(self, size: float, rocks: float) -> Iterator[BoreSample]:
        """*rocks* rocks at one place; each crosses the upright twice."""
        if self.hand.shape == "flowing":
            yield from self._flow(size, rocks)
            return
        for _ in range(round(2 * rocks)):
            yield from self._half_rock(size)

    def still(self, seconds: float, size: float, tilt: float | None = None) -> Iterator[BoreSample]:
        """Held still in the bore, or lying there; upright, or leaning by *tilt* degrees."""
        lean = self._tilt if tilt is None else float(np.radians(tilt))
        self._tilt = lean
        yield from self._samples(
            _Stretch(
                seconds,
                "still" if tilt is not None else "pause",
                size,
                lambda t: self._at(size, lean + 0 * t, t),
            )
        )

    def move(self, seconds: float, size: float, to: float) -> Iterator[BoreSample]:
        """Along or round the bore, from a place of *size* to one of size *to*, leaning as it slides."""
        start, end = self._tilt, float(np.radians(self.hand.amplitude))
        wander, phase = self._random.uniform(0.2, 0.6), self._random.uniform(0, 2 * np.pi)

        def shown(t: Curve) -> Curve:
            share = t / seconds
            tilt = start + (np.copysign(end, start) - start) * share
            tilt = tilt * (1 + wander * np.sin(np.pi * share) * np.sin(7 * t + phase))
            return self._at(size + (to - size) * share, tilt, t)

        self._tilt = float(np.copysign(end, start))
        yield from self._samples(_Stretch(seconds, "move", None, shown))

    def bump(self, size: float) -> Iterator[BoreSample]:
        """A knock: a jolt of a tenth of a second or two."""
        high = self._random.uniform(0.01, 0.06) * self._random.choice((-1, 1))
        long = self._random.uniform(0.05, 0.2)
        lean = self._tilt
        yield from self._samples(
            _Stretch(
                long,
                "bump",
                size,
                lambda t: self._at(size, lean + 0 * t, t) + high * np.cos(60 * t) * np.exp(-15 * t),
            )
        )

    def _half_rock(self, size: float) -> Iterator[BoreSample]:
        hand, random = self.hand, self._random
        start = self._tilt
        lean = np.radians(hand.lean)
        reach = np.radians(hand.amplitude) * np.clip(1 + hand.uneven * random.standard_normal(), 0.5, 1.6)
        end = float(lean - np.copysign(reach, start - lean))
        seconds = float(np.clip(1 + hand.uneven * random.standard_normal(), 0.6, 1.6) / hand.frequency / 2)
        seconds *= 2.0 / (1.0 + hand.lame) * (hand.lame if end > lean else 1.0)
        middle, half = (start + end) / 2, (start - end) / 2
        straight = hand.shape == "straight"

        def tilt(t: Curve) -> Curve:
            share = np.power(np.maximum(t / seconds, 0.0), hand.skew)
            return middle + half * ((1 - 2 * share) if straight else np.cos(np.pi * share))

        stop = random.uniform(0.0, 0.9) if random.random() < hand.pauses else None
        yield from self._part(size, tilt, 0.0, seconds if stop is None else stop * seconds)
        if stop is not None:
            self._tilt = float(tilt(np.array(stop * seconds)))
            yield from self.still(random.uniform(0.3, 1.2), size)
            yield from self._part(size, tilt, stop * seconds, seconds)
        self._tilt = end
        if hand.dwell:
            yield from self.still(random.uniform(0.05, hand.dwell), size)
        if random.random() < hand.bumps:
            yield from self.bump(size)

    def _part(
        self, size: float, tilt: Callable[[Curve], Curve], start: float, end: float
    ) -> Iterator[BoreSample]:
        yield from self._samples(
            _Stretch(end - start, "rock", size, lambda t: self._at(size, tilt(t + start), t))
        )

    def _flow(self, size: float, rocks: float) -> Iterator[BoreSample]:
        hand, phase = self.hand, self._phase
        seconds, slow = rocks / hand.frequency, self._random.uniform(0, 2 * np.pi)

        def turn(t: Curve) -> Curve:
            flowing: Curve = phase + 2 * np.pi * hand.frequency * (t + hand.uneven * np.sin(1.3 * t + slow))
            return flowing

        def tilt(t: Curve) -> Curve:
            reach = np.radians(hand.amplitude) * (1 + hand.uneven * np.sin(0.9 * t + slow))
            leaning: Curve = np.radians(hand.lean) + reach * np.sin(turn(t))
            return leaning

        self._phase = float(turn(np.array(seconds)) % (2 * np.pi))
        self._tilt = float(tilt(np.array(seconds)))
        yield from self._samples(_Stretch(seconds, "rock", size, lambda t: self._at(size, tilt(t), t)))

    def _ramp(
        self, seconds: float, doing: Doing, size: float, start: float, end: float
    ) -> Iterator[BoreSample]:
        wobble = self._random.uniform(0, 2 * np.pi)

        def shown(t: Curve) -> Curve:
            share = t / seconds
            s = share * share * (3 - 2 * share)
            return size + start + (end - start) * s + 0.01 * np.sin(9 * t + wobble) * np.sin(np.pi * share)

        self._tilt = float(np.radians(self.hand.amplitude))
        yield from self._samples(_Stretch(seconds, doing, None, shown))

    def _at(self, size: float | Curve, tilt: Curve, t: Curve) -> Curve:
        """Shown at *tilt* (radians), swinging about the centre all the while."""
        e = self.hand.swing * np.sin(2 * np.pi * (self._seconds + t) / self.hand.swing_every + self._swing)
        chord = np.sqrt(np.square(size) - 4 * np.square(e))
        shown: Curve = np.divide(chord, np.cos(tilt))
        return shown

    def _played(self, sizes: Curve) -> Curve:
        """What a gauge with hysteresis shows: it follows only once half its play is taken up."""
        half, out = self.wire.play / 2, sizes.copy()
        for i, size in enumerate(sizes):
            held = size if self._held is None else self._held
            out[i] = self._held = float(min(max(held, size - half), size + half))
        return out

    def _samples(self, stretch: _Stretch) -> Iterator[BoreSample]:
        wire = self.wire
        end = self._seconds + stretch.seconds
        first, last = self._count, int(np.ceil(end * wire.rate - 1e-9))
        times = np.arange(first, last) / wire.rate
        shown = stretch.shown(times - self._seconds) if len(times) else times
        self._count, self._seconds = max(first, last), end
        shown = self._played(shown) if wire.play else shown
        shown = wire.sign * (shown + wire.noise * self._random.standard_normal(len(times)) - wire.zero)
        late = self._random.exponential(wire.late, len(times)) if wire.late else np.zeros(len(times))
        for at, value in zip(times + late, np.round(shown / wire.resolution) * wire.resolution, strict=True):
            self._arrived = max(self._arrived, float(at))
            yield BoreSample(self._arrived, round(float(value), 6), stretch.doing, stretch.size)
