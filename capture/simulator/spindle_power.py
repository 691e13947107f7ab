"""The power of a wheel spindle while a part is ground, on the machine of `capture.simulator.grinder`.

Power is the energy that a volume of steel takes to be ground off times the volume a second (Malkin and Guo,
"Grinding Technology"): the table's speed times half the part's girth times what a stroke takes off the
diameter. While the table turns back it stands, and the wheel grinds next to nothing. Beside that: the motor
running free and warming, the pump of the coolant on the same meter, a dresser, and the meter's noise.

Powers are W, times seconds, diameters and infeeds on diameter mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import exp, pi
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from capture.simulator.grinder import SimulatedGrinder

TURNS_BACK = 0.4
"""Seconds in which the table comes to a stand or to its speed (an estimate, no source)."""


class SpindleMeter(Struct, frozen=True):
    """The drive, and what shows its power."""

    idle: float = 900.0
    cold: float = 60.0
    """What it takes more before it is warm."""
    warms: float = 900.0
    """Seconds."""
    specific_energy: float = 45.0
    """J for each mm³ (steel, fine infeeds: an engineering estimate, no source)."""
    rubbing: float = 12.0
    """While the wheel touches, whatever it takes off."""
    pump: float = 0.0
    """Of the coolant pump, where it hangs on the same meter."""
    dressing: float = 70.0
    rate: float = 5.0
    noise: float = 6.0
    resolution: float = 1.0


class SpindleSample(NamedTuple):
    """One value of the meter."""

    at: float
    watts: float


class SimulatedSpindle:
    """A spindle and its meter; time passes only by what is done."""

    def __init__(self, meter: SpindleMeter, grinder: SimulatedGrinder, *, seed: int) -> None:
        self.meter = meter
        self.grinder = grinder
        self.time = 0.0
        self.pump = False
        self._next = 0.0
        self._random = np.random.default_rng(seed)

    def stay(self, seconds: float) -> Iterator[SpindleSample]:
        """The wheel runs free."""
        yield from self._for(seconds, lambda _: 0.0)

    def stroke(self, infeed: float, seconds: float) -> Iterator[SpindleSample]:
        """The table strokes once, with *infeed*."""
        work = self.grinder.work
        self.grinder.advance(infeed)
        speed = work.length / seconds
        volume = 0.5 * pi * work.diameter * max(self.grinder.removed, 0.0) * speed
        rubbing = self.meter.rubbing if self.grinder.removed > 0.0 else 0.0
        power = volume * self.meter.specific_energy + rubbing
        yield from self._for(seconds, lambda t: power * min(t, seconds - t, TURNS_BACK) / TURNS_BACK)

    def air_stroke(self, seconds: float) -> Iterator[SpindleSample]:
        """The table strokes once, with the wheel clear of the part."""
        yield from self.stay(seconds)

    def dress(self, times: int, seconds: float) -> Iterator[SpindleSample]:
        """A diamond goes over the wheel and back."""
        for _ in range(times):
            yield from self._for(seconds, lambda t: self.meter.dressing if 0.2 < t < seconds - 0.2 else 0.0)
            yield from self.stay(1.5)

    def _for(self, seconds: float, more: Callable[[float], float]) -> Iterator[SpindleSample]:
        began, end = self.time, self.time + seconds
        while self._next < end:
            at = self._next
            self._next += 1.0 / self.meter.rate
            yield SpindleSample(at, self._shown(at, more(at - began)))
        self.time = end

    def _shown(self, at: float, more: float) -> float:
        meter = self.meter
        power = meter.idle + meter.cold * exp(-at / meter.warms) + more
        power += meter.pump if self.pump else 0.0
        power += meter.noise * float(self._random.standard_normal())
        return round(power / meter.resolution) * meter.resolution
