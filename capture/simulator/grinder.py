"""A grinder made of physics: wheel, machine spring, wear, heat, table, and gauges that err.

The law of one pass (King and Hahn; Malkin and Guo, "Grinding Technology"): the wheel stands in the
part by an interference; a pass takes the share K = ke / (ke + kc) of it off (machine stiffness ke,
cutting stiffness kc) and the spring keeps the rest for the next pass. All the time the truth is open to
whoever asks, which is what a trial of the arithmetic needs.

Diameters, infeeds and interferences are on diameter, mm; temperatures °C; time in seconds.
"""

from __future__ import annotations

from math import cos, exp, pi, radians

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

Nodes = NDArray[np.float64]
"""One number at each place along the part where the physics is worked out."""


class Workholding(Struct, frozen=True):
    """The part as it is put between the centres."""

    diameter: float = 55.060
    length: float = 280.0
    taper: float = 0.0
    """Diameter at the tailstock end less that at the headstock end, as the table stands to begin with."""
    ovality: float = 0.0
    """Largest less smallest diameter round the circumference."""
    expansion: float = 12.3e-6
    """Per K; 4140 steel, Callister, Materials Science and Engineering, App. B."""
    heat_capacity: float = 3.73e-3
    """J/(mm³ K): 7850 kg/m³ × 475 J/(kg K)."""


class Wheel(Struct, frozen=True):
    """How the wheel and the machine's spring share the interference."""

    share: float = 0.5
    """K: share of the standing interference that one pass takes off."""
    wear: float = 0.03
    """Wheel lost, on diameter, per part removed."""
    loading: float = 0.0
    """Share of K lost per mm of diameter removed, and per mm of infeed rubbed in vain: a glazing wheel."""
    glazing: float = 0.0
    """Share of K lost with every pass."""
    dip: float = 0.0
    """Share of K lost in the middle of the part, which bends away (a slender part)."""
    scatter: float = 0.0
    """Standard deviation of K from pass to pass, as a share of K."""
    slip: float = 0.0
    """Standard deviation of a move of the infeed slide, mm on diameter."""


class HeatBalance(Struct, frozen=True):
    """Where the heat comes from and where it goes."""

    ambient: float = 20.0
    specific_energy: float = 50.0
    """J for each mm³ removed."""
    into_part_wet: float = 0.10
    into_part_dry: float = 0.60
    """Share of the heat that goes into the part: engineering estimates, no source."""
    rubbing: float = 1200.0
    """J a pass while the wheel touches, whatever it removes: an engineering estimate, no source."""
    time_constant_wet: float = 60.0
    time_constant_dry: float = 8600.0
    """Seconds; still air round a 50 mm shaft takes 2.4 h (Churchill-Chu, radiation), coolant 1 to 1.5 min."""
    lag: float = 0.0
    """Seconds by which the probe follows the mean of the part."""
    pushes: bool = True
    """A part that grows is pressed into the wheel, as it is; False for a gauge that sees growth alone."""


class SimulatedGauge(Struct, frozen=True):
    """What a reading adds to the truth."""

    noise: float = 0.0006
    resolution: float = 0.001
    periodic: float = 0.0
    """Amplitude of an error with the period of the gauge's scale."""
    period: float = 0.020
    probe_noise: float = 0.05
    probe_offset: float = 0.0


class SimulatedTable(Struct, frozen=True):
    """The swivel table: where it turns, and how well it obeys."""

    pivot: float = 140.0
    reading_at: float = 740.0
    obeys: float = 1.0
    play: float = 0.0
    """Movement at the screw that is lost when its direction changes, mm."""


class SimulatedGrinder:
    """A part on a grinder, one step at a time; the same seed gives the same day.

    >>> shop = SimulatedGrinder(gauge=SimulatedGauge(noise=0.0), seed=1)
    >>> shop.advance(0.010)
    >>> round(shop.size(140.0), 6), round(shop.to_come(140.0), 6)
    (55.055, 0.004709)
    """

    def __init__(
        self,
        *,
        work: Workholding | None = None,
        wheel: Wheel | None = None,
        warmth: HeatBalance | None = None,
        gauge: SimulatedGauge | None = None,
        table: SimulatedTable | None = None,
        interference: float = 0.0,
        coolant: bool = True,
        pass_seconds: float = 30.0,
        seed: int,
    ) -> None:
        """Set up with the wheel *interference* deep in the part's middle (less than 0: clear of it)."""
        self.work = work or Workholding()
        self.wheel = wheel or Wheel()
        self.warmth = warmth or HeatBalance(pushes=False)
        self.gauge = gauge or SimulatedGauge()
        self.table = table or SimulatedTable()
        self.coolant = coolant
        self.pass_seconds = pass_seconds
        self.time = 0.0
        self.passes = 0
        self.temperature = self.warmth.ambient
        self.probe_temperature = self.warmth.ambient
        self.removed = 0.0
        """What the newest pass took off the middle."""
        self.share = self.wheel.share
        self._z: Nodes = np.linspace(0.0, self.work.length, 15)
        self._diameter: Nodes = self.work.diameter + self.work.taper * (self._z / self.work.length - 0.5)
        # the taper is the table's: the wheel grinds it in again until the table is moved
        self._tilt = -self.work.taper / (2.0 * self.work.length)
        lean = 2.0 * self._tilt * (self.work.length / 2.0 - self.table.pivot)
        self._line = self._at(self.work.length / 2, self._diameter) + self.growth - interference + lean
        self._backlash = 0.0
        self._random = np.random.default_rng(seed)

    @property
    def growth(self) -> float:
        """Diameter now less diameter at 20 °C, mm."""
        return self.work.diameter * self.work.expansion * (self.temperature - 20.0)

    def advance(self, infeed: float) -> None:
        """Make one pass with *infeed* on diameter."""
        before = self.growth
        if infeed:
            infeed += self.wheel.slip * float(self._random.standard_normal())
        self._line -= infeed
        scatter = 1.0 + self.wheel.scatter * float(self._random.standard_normal())
        bend = 1.0 - self.wheel.dip * np.sin(pi * self._z / self.work.length)
        removal = np.clip(self.share * scatter * bend, 0.0, 1.0) * self._standing()
        touching = bool(np.any(removal > 0.0))
        self._diameter -= removal
        mean = float(removal.mean())
        self.removed = self._at(self.work.length / 2, removal)
        self._line += self.wheel.wear * mean
        self.share *= exp(-self.wheel.loading * mean) * (1.0 - self.wheel.glazing)
        self._heat(mean, touching=touching)
        self._pass_time(self.pass_seconds)
        self.passes += 1
        if not self.warmth.pushes:
            self._line += self.growth - before

    def retract(self, distance: float) -> None:
        """Draw the wheel back, mm on diameter."""
        self._line += distance

    def dress(self, depth: float, share: float) -> None:
        """Dress the wheel by *depth* on diameter; it cuts again with *share*."""
        self._line += depth
        self.share = share

    def swivel(self, movement: float) -> float:
        """Move the table by *movement* at its reading place; return how far it went, mm."""
        reversal = movement * self._backlash < 0.0
        lost = min(abs(movement), self.table.play) if reversal else 0.0
        moved = (abs(movement) - lost) * self.table.obeys * (1.0 if movement > 0 else -1.0)
        self._backlash = movement or self._backlash
        self._tilt += moved / (self.table.reading_at - self.table.pivot)
        return moved

    def wait(self, seconds: float) -> None:
        """Let *seconds* pass without grinding."""
        before = self.growth
        self._pass_time(seconds)
        if not self.warmth.pushes:
            self._line += self.growth - before

    def measure(self, z: float, angle: float = 0.0) -> float:
        """What the gauge says of the diameter at *z*, warm as the part is, mm."""
        oval = 0.5 * self.work.ovality * cos(2.0 * radians(angle))
        size = self.size(z) + self.growth + oval
        size += self.gauge.periodic * cos(2.0 * pi * size / self.gauge.period)
        size += self.gauge.noise * float(self._random.standard_normal())
        step = self.gauge.resolution
        return round(size / step) * step if step else size

    def probe(self) -> float:
        """What the temperature probe says, °C."""
        noise = self.gauge.probe_noise * float(self._random.standard_normal())
        return round(self.probe_temperature + self.gauge.probe_offset + noise, 2)

    def size(self, z: float) -> float:
        """True diameter at *z*, at 20 °C, mm."""
        return self._at(z, self._diameter)

    def next_removal(self, z: float) -> float:
        """True removal at *z* by one more pass without infeed, mm."""
        bend = 1.0 - self.wheel.dip * float(np.sin(pi * z / self.work.length))
        return self.share * bend * self._at(z, self._standing())

    def to_come(self, z: float) -> float:
        """True diameter still to come off at *z* by passes without infeed, wheel and heat as they are, mm."""
        bend = 1.0 - self.wheel.dip * np.sin(pi * self._z / self.work.length)
        standing, total, share = self._standing(), np.zeros_like(self._z), self.share
        for _ in range(400):
            removal = np.clip(share * bend, 0.0, 1.0) * standing
            total += removal
            standing = np.maximum(standing - removal - self.wheel.wear * removal.mean(), 0.0)
            share *= exp(-self.wheel.loading * float(removal.mean())) * (1.0 - self.wheel.glazing)
        return self._at(z, total)

    def _standing(self) -> Nodes:
        wheel = self._line - 2.0 * self._tilt * (self._z - self.table.pivot)
        return np.maximum(self._diameter + self.growth - wheel, 0.0)

    def _heat(self, removal: float, *, touching: bool) -> None:
        work, warmth = self.work, self.warmth
        volume = pi * work.diameter * work.length * removal / 2.0
        energy = warmth.specific_energy * volume + (warmth.rubbing if touching else 0.0)
        share = warmth.into_part_wet if self.coolant else warmth.into_part_dry
        capacity = work.heat_capacity * pi / 4.0 * work.diameter**2 * work.length
        self.temperature += share * energy / capacity

    def _pass_time(self, seconds: float) -> None:
        """Exact for the part; the probe follows its mean over steps of a second at most."""
        constant = self.warmth.time_constant_wet if self.coolant else self.warmth.time_constant_dry
        steps = max(1, round(seconds))
        fade = exp(-seconds / steps / constant)
        follow = 1.0 - exp(-seconds / steps / self.warmth.lag) if self.warmth.lag else 1.0
        for _ in range(steps):
            self.temperature = self.warmth.ambient + (self.temperature - self.warmth.ambient) * fade
            self.probe_temperature += follow * (self.temperature - self.probe_temperature)
        self.time += seconds

    def _at(self, z: float, values: Nodes) -> float:
        return float(np.interp(z, self._z, values))
