"""A grind built another way than `capture.simulator`: physics that nobody fitted the judge to.

Forces instead of shares: the normal force is the cutting stiffness times the depth that a revolution
cuts, the machine gives way by the force over its stiffness, and each place of the part meets the wheel for
a few revolutions a pass (the equations of plunge grinding: Malkin and Guo, "Grinding Technology"). Below a
threshold of force the grains only rub, so that the last tenths of a micrometre never come off. Heat goes
into a skin, from there into a core, and from the skin into air or coolant: two time constants. The part grows
by both, and what grows meets the wheel. Figures of the shop are engineering estimates, no source.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np

from capture.metrology.grinding.outlook import GrindLimits, Outlook, SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior, with_coolant

DIAMETER, LENGTH = 48.0, 220.0
EXPANSION = 11.9e-6
CAPACITY = 3.7e-3
"""J/(mm³ K)."""
LIMITS = GrindLimits(removal=0.0005, confidence=0.95, warm=0.0005)


class Parted(NamedTuple):
    """A judgement beside the truth, mm."""

    outlook: Outlook
    resting: int
    next_removal: float
    final: float


class Shop:
    """Radii in mm, forces in N, stiffness in N/mm, temperatures over 20 °C in K."""

    def __init__(self, rng: np.random.Generator, *, coolant: bool) -> None:
        self.rng, self.coolant = rng, coolant
        self.machine = float(rng.uniform(8e3, 25e3))
        self.cutting = float(rng.uniform(15e3, 60e3))
        self.revolutions = int(rng.integers(2, 5))
        self.threshold = float(rng.uniform(0.0, 0.8))
        self.wear = float(rng.uniform(0.0, 0.08))
        self.radius = DIAMETER / 2.0
        self.wheel = self.radius - float(rng.uniform(0.0, 0.004))
        self.skin = self.core = 0.0

    @property
    def growth(self) -> float:
        """Of the diameter, warm less cold."""
        return DIAMETER * EXPANSION * (0.3 * self.skin + 0.7 * self.core)

    def _cut(self, radius: float, wheel: float, warm: float) -> tuple[float, float, float]:
        """Radius and wheel after one pass, and the force times the depth that went into it."""
        work = 0.0
        for _ in range(self.revolutions):
            standing = radius + warm / 2.0 - wheel
            force = self.cutting * self.machine / (self.cutting + self.machine) * max(standing, 0.0)
            depth = max(force - self.threshold, 0.0) / self.cutting
            work += force
            radius -= depth
            wheel += self.wear * depth
        return radius, wheel, work

    def advance(self, infeed: float, seconds: float = 30.0) -> None:
        """One pass with *infeed* on diameter, and the time until the next."""
        self.wheel -= infeed / 2.0
        before = self.radius
        self.radius, self.wheel, force = self._cut(self.radius, self.wheel, self.growth)
        volume = pi * DIAMETER * LENGTH * (before - self.radius)
        heat = 45.0 * volume + 30.0 * force
        part = CAPACITY * pi / 4.0 * DIAMETER**2 * LENGTH
        self.skin += (0.08 if self.coolant else 0.55) * heat / (0.3 * part)
        for _ in range(int(seconds)):
            flow = 0.06 * (self.skin - self.core)
            out = (0.05 if self.coolant else 0.0002) * self.skin
            self.skin -= 0.7 * flow + out
            self.core += 0.3 * flow

    def rest(self) -> tuple[float, float]:
        """Diameter that the next pass takes, and cold diameter when nothing more comes off, heat as it is."""
        radius, wheel = self.radius, self.wheel
        first, wheel, _ = self._cut(radius, wheel, self.growth)
        radius = first
        for _ in range(200):
            radius, wheel, _ = self._cut(radius, wheel, self.growth)
        return 2.0 * (self.radius - first), 2.0 * radius


def session(seed: int, judge) -> tuple[list[Parted], bool, bool]:
    """One part ground and judged, until the judge has called or 15 passes rested; coolant, probe."""
    rng = np.random.default_rng(seed)
    coolant, probe = bool(rng.integers(2)), bool(rng.integers(2))
    shop = Shop(rng, coolant=coolant)
    noise, per_kelvin = float(rng.uniform(0.0003, 0.0009)), DIAMETER * EXPANSION * rng.normal(1.0, 0.03)
    offset = float(rng.normal(0.0, 0.1))

    def size(after: int) -> SizeReading:
        shown = 2.0 * shop.radius + shop.growth + rng.normal(0.0, noise) - DIAMETER
        value = round(shown / 0.001) * 0.001
        # the probe touches the skin
        growth = per_kelvin * (0.5 * shop.skin + 0.5 * shop.core + offset) if probe else None
        return SizeReading(
            after=after,
            value=value - (growth or 0.0),
            u=0.0006,
            resolution=0.001,
            growth=growth,
            u_growth=0.1 * DIAMETER * EXPANSION if probe else 0.0,
        )

    plan = [0.010] * int(rng.integers(2, 5)) + [0.005] * int(rng.integers(2, 5)) + [0.002] * 2
    strokes: list[Stroke] = []
    sizes, found = [size(0)], []
    for number, infeed in enumerate([*plan, *[0.0] * 15], 1):
        shop.advance(infeed)
        strokes.append(Stroke(infeed, 30.0 * number))
        sizes.append(size(number))
        if number < len(plan):
            continue
        next_removal, final = shop.rest()
        outlook = judge(strokes, sizes, LIMITS, with_coolant(Prior(), coolant))
        found.append(Parted(outlook, number - len(plan), next_removal, final - DIAMETER))
        if number > len(plan) and outlook.settled:
            break
    return found, coolant, probe
