"""A wheel head moved by hand, and the infeed gauge on its saddle: where it stands, as a display shows it.

Positions are mm in the gauge's own habit, + into the part. Hands, displays and their troubles are
invented; no length or time here was measured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import pi, sin
from typing import TypeAlias

import numpy as np
from msgspec import Struct

Shown: TypeAlias = tuple[float, float]
"""Seconds since the beginning, and what the display sends then, mm."""


class InfeedDisplay(Struct, frozen=True):
    """How the gauge shows and sends where the head stands."""

    step: float = 0.001
    noise: float = 0.0003
    rate: float = 5.0
    """Readings a second."""
    on_change: bool = False
    """It sends only what differs from what it sent last."""
    gaps: float = 0.0
    """Gaps in an hour, of up to 15 s."""
    spikes: float = 0.0
    """Share of readings that are wrong by up to 50 steps: a chip, a spark on the line."""


class InfeedHand(Struct, frozen=True):
    """How somebody moves the head."""

    speed: float = 0.01
    """mm/s of a fine feed."""
    rapid: float = 3.0
    """mm/s of drawing back and coming in."""
    overshoot: float = 0.0
    """Share of the feeds that go up to 3 steps too far, and back at once."""
    halting: float = 0.0
    """Share of the feeds with a stop half way, of up to 4 s."""
    bounce: float = 0.0
    """mm by which the head swings at the stop when it comes in."""
    misses: float = 0.0
    """Standard deviation of where the head comes in again, mm."""


class InfeedHead:
    """The head and its display; time passes only by what is done."""

    def __init__(self, display: InfeedDisplay, hand: InfeedHand, *, at: float = 0.0, seed: int) -> None:
        self.display = display
        self.hand = hand
        self.time = 0.0
        self.position = at
        self.offset = 0.0
        """What the display was set back by."""
        self.sign = 1.0
        self._sent: float | None = None
        self._next = 0.0
        self._silent_until = 0.0
        self._random = np.random.default_rng(seed)

    def stay(self, seconds: float) -> Iterator[Shown]:
        """The head stands."""
        yield from self._until(self.time + seconds, lambda _: self.position)

    def go(self, position: float, speed: float) -> Iterator[Shown]:
        """The head moves to *position*, slowly at both ends as hands do."""
        start, began = self.position, self.time
        seconds = abs(position - start) / speed

        def on_the_way(at: float) -> float:
            part = min((at - began) / seconds, 1.0) if seconds else 1.0
            return start + (position - start) * 0.5 * (1.0 - float(np.cos(pi * part)))

        yield from self._until(began + seconds, on_the_way)
        self.position = position

    def feed(self, distance: float) -> Iterator[Shown]:
        """A fine feed by *distance*."""
        goal = self.position + distance
        if self._random.uniform() < self.hand.halting:
            yield from self.go(self.position + 0.5 * distance, self.hand.speed)
            yield from self.stay(float(self._random.uniform(1.0, 4.0)))
        if self._random.uniform() < self.hand.overshoot:
            yield from self.go(
                goal + self.display.step * float(self._random.uniform(1.0, 3.0)), self.hand.speed
            )
            yield from self.stay(float(self._random.uniform(0.1, 0.5)))
        yield from self.go(goal, self.hand.speed)

    def draw_back(self, distance: float) -> Iterator[Shown]:
        """The head is wound back."""
        yield from self.go(self.position - distance, self.hand.rapid)

    def come_in(self, position: float) -> Iterator[Shown]:
        """The head comes in to *position*, swings at the stop, and misses it by a little."""
        yield from self.go(
            position + self.hand.misses * float(self._random.standard_normal()), self.hand.rapid
        )
        began, place = self.time, self.position
        if self.hand.bounce:
            swing = self.hand.bounce
            yield from self._until(
                began + 0.6,
                lambda at: place - swing * abs(sin(20.0 * (at - began))) * (1.0 - (at - began) / 0.6),
            )

    def zero(self) -> None:
        """Somebody sets the display to 0 here."""
        self.offset = self.position

    def _until(self, end: float, where: Callable[[float], float]) -> Iterator[Shown]:
        while self._next <= end:
            at = max(self._next, self.time)
            self._next = at + (1.0 + 0.05 * float(self._random.standard_normal())) / self.display.rate
            shown = self._shown(where(at))
            if (
                at >= self._silent_until
                and self._random.uniform() * 3600.0 * self.display.rate < self.display.gaps
            ):
                self._silent_until = at + float(self._random.uniform(2.0, 15.0))
            if at < self._silent_until or (self.display.on_change and shown == self._sent):
                continue
            self._sent = shown
            yield at, shown
        self.time = end

    def _shown(self, position: float) -> float:
        display = self.display
        value = self.sign * (position - self.offset) + display.noise * float(self._random.standard_normal())
        if display.spikes and self._random.uniform() < display.spikes:
            value += display.step * float(self._random.uniform(-50.0, 50.0))
        return round(round(value / display.step) * display.step, 6)
