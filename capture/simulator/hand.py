"""A diameter gauge in a hand or on a bench, with the truth beside it: closed, rocked, rolled or carried.

Invented hands, for trials and the demo. Lengths mm, times seconds. A micrometer comes down on the part from
an opening; a snap gauge is pushed over the part and rocked about its largest chord; under a bench gauge the
part is rolled, or let down on by a lever.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import exp, pi, sin
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

Kind: TypeAlias = Literal["micrometer", "snap", "roll", "lever"]
KINDS: tuple[Kind, ...] = ("micrometer", "snap", "roll", "lever")


class HandWire(Struct, frozen=True):
    """What the gauge and its link make of a size."""

    rate: float = 10.0
    noise: float = 0.0003
    resolution: float = 0.001
    late: float = 0.01
    """Mean lateness of a reading (exponential), seconds."""
    drops: float = 0.01
    """Chance of a reading that a drop of coolant or a knock spoils."""
    placing: float = 0.0001
    """Standard deviation from placing to placing."""


class HandSample(Struct, frozen=True):
    """One reading as it arrives."""

    at: float
    value: float


class HandPlacing(Struct, frozen=True):
    """One placing as it truly was."""

    on: float
    """When the gauge came on the part."""
    off: float
    size: float
    again: bool = False
    """It was lifted and placed again at the same place."""


class HandGauge:
    """One gauge in one hand; what it does is written down, then sampled by `samples`."""

    def __init__(self, kind: Kind, wire: HandWire, seed: int) -> None:
        self.kind, self.wire = kind, wire
        self.random = np.random.default_rng(seed)
        self.seconds = 0.0
        self.placings: list[HandPlacing] = []
        self._parts: list[tuple[float, Callable[[float], float]]] = []
        free = {"micrometer": 0.8, "snap": -0.35, "roll": -0.25, "lever": 0.6}[kind]
        self.free = free * float(self.random.uniform(0.6, 2.0))
        """What it shows beside the part, above the size."""
        self._level = 0.0
        self._on = 0.0
        self._again = False

    def idle(self, seconds: float, size: float, *, restless: bool = False) -> None:
        """Carried or laid down beside the part."""
        level = size + self.free
        if self.kind == "micrometer":
            level = size + float(self.random.choice([0.12, 0.3, 1.2, 4.0])) * float(
                self.random.uniform(0.7, 1.5)
            )
            self._go(level, float(self.random.uniform(0.2, 0.8)))
        sway = 0.002 if restless else 0.0
        start = float(self.random.uniform(0, 6))
        self._add(seconds, lambda t: level + sway * sin(9.0 * t + start))
        self._level = level

    def measure(self, size: float, *, again: bool = False) -> None:
        """Placed on a part of *size* once, and lifted."""
        self._again = again
        if again and self.kind != "micrometer":
            pause = 0.3 if self.kind == "roll" else 1.0
            self.idle(pause * float(self.random.uniform(0.8, 1.1)), size)
        size_here = size + self.wire.placing * float(self.random.standard_normal())
        {"micrometer": self._close, "lever": self._let_down, "snap": self._rock, "roll": self._roll}[
            self.kind
        ](size_here)
        on, off = self._on, self.seconds
        self.placings.append(HandPlacing(on, off, size, again))
        self._off(size)

    def zeroed(self, rod: float) -> None:
        """A micrometer closed on its setting rod, or on itself, and opened again."""
        self._go(rod, 2.0)
        self._add(float(self.random.uniform(1.0, 3.0)), lambda _: rod)

    def samples(self) -> Iterator[HandSample]:
        """What arrives, from the beginning to the end of all that was written down."""
        wire, random, arrived, index, began = self.wire, self.random, 0.0, 0, 0.0
        for number in range(int(self.seconds * wire.rate)):
            t = (number + 0.3) / wire.rate
            while index + 1 < len(self._parts) and t >= began + self._parts[index][0]:
                began += self._parts[index][0]
                index += 1
            value = float(self._parts[index][1](t - began)) + wire.noise * float(random.standard_normal())
            if random.random() < wire.drops:
                value += float(random.choice([-1, 1])) * float(random.uniform(0.003, 0.2))
            arrived = max(arrived, t + float(random.exponential(wire.late)))
            yield HandSample(arrived, round(value / wire.resolution) * wire.resolution)

    def _add(self, seconds: float, shown: Callable[[float], float]) -> None:
        self._parts.append((seconds, shown))
        self.seconds += seconds

    def _go(self, level: float, seconds: float) -> None:
        start = self._level
        self._add(seconds, lambda t: start + (level - start) * min(max(t / seconds, 0.0), 1.0))
        self._level = level

    def _close(self, size: float) -> None:
        random = self.random
        if self._again:
            self._go(size + 0.02, float(random.uniform(0.2, 0.7)))
        elif random.random() < 0.3:  # a rest on the way
            self._go(size + float(random.uniform(0.1, 0.5)), float(random.uniform(0.3, 1.0)))
            here = self._level
            self._add(float(random.uniform(0.1, 0.8)), lambda _: here)
        self._go(size + float(random.uniform(0.005, 0.02)), float(random.uniform(0.3, 0.8)))
        self._on = self.seconds
        film, tau = float(random.exponential(0.002)), float(random.uniform(0.05, 0.35))
        start = self._level - size
        click, rate = float(random.uniform(0.0, 0.002)), float(random.uniform(2, 5))

        def shown(t: float) -> float:
            clicks = click * abs(sin(rate * pi * t)) * exp(-t / 0.25)
            return size + (start - film) * exp(-t / 0.06) + film * exp(-t / tau) + clicks

        self._add(float(random.uniform(1.1, 3.5)), shown)
        self._level = size

    def _let_down(self, size: float) -> None:
        self._go(size, float(self.random.uniform(0.1, 0.5)))
        self._on = self.seconds
        bounce = float(self.random.uniform(0.0, 0.02))
        self._add(
            float(self.random.uniform(1.1, 3.0)),
            lambda t: size + bounce * abs(sin(25 * t)) * exp(-t / 0.08),
        )
        self._level = size

    def _rock(self, size: float) -> None:
        random = self.random
        period, height = float(random.uniform(0.9, 2.2)), float(random.uniform(0.02, 0.15))
        self._go(size - height, float(random.uniform(0.1, 0.3)))
        self._on = self.seconds
        rocks = int(random.integers(2, 6))
        for _ in range(rocks):
            half = period * float(random.uniform(0.85, 1.15))
            high = height * float(random.uniform(0.8, 1.2))
            lean = float(random.uniform(0.42, 0.58))
            turn = self._level

            def shown(
                t: float, half: float = half, high: float = high, lean: float = lean, turn: float = turn
            ) -> float:
                x = (t / half - lean) / (lean if t < lean * half else 1.0 - lean)
                bottom = size - turn if t < lean * half else high
                return size - bottom * sin(pi * x / 2) ** 2

            self._add(half, shown)
            self._level = size - high
        if random.random() < 0.3:
            self._go(size, 0.4)
            self._add(float(random.uniform(0.8, 1.5)), lambda _: size)

    def _roll(self, size: float) -> None:
        random = self.random
        self._on = self.seconds
        for _ in range(int(random.integers(1, 4))):
            seconds, height = float(random.uniform(1.5, 3.0)), -self.free

            def shown(t: float, seconds: float = seconds, height: float = height) -> float:
                x = 2.0 * t / seconds - 1.0
                return size - min(height, 1.2 * height * x * x)

            self._add(seconds, shown)
            self._level = size - height
        self._level = size + self.free

    def _off(self, size: float) -> None:
        if self.kind == "micrometer":
            opening = size + float(self.random.choice([0.15, 0.5, 2.0])) * float(
                self.random.uniform(0.7, 1.4)
            )
            self._go(opening, float(self.random.uniform(0.1, 0.5)))
        else:
            self._go(size + self.free, float(self.random.uniform(0.05, 0.3)))
