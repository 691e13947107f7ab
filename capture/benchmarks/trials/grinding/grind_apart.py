"""Trials of the judge of a grind on a machine that its model was not made from, nor the simulator.

A pass is six traverses. In each the wheel presses by what stands between it and the part, less a little that
only rubs; it takes a share that is larger the harder it presses, times a sharpness that kinds change:
`KINDS`. Heat goes into a skin and from there into the core; both grow and press the part into the wheel, and
a probe shows the core. Shares of 0.25 to 0.8, or as the kind says; one reading before the first pass and one
after each; infeeds from 2.5 to 10 µm, all alike, falling or as they come; then passes without. All is drawn
from one seed a session. Lengths are mm on diameter.

The truth is the cold size when nothing more comes off by passes without infeed, heat and head as they are.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from math import exp
from typing import NamedTuple

import numpy as np

from capture.benchmarks.trials.grinding.grind_figures import (
    LIMIT,
    RESTING,
    GrindFigures,
    GrindSession,
    Moment,
    figures,
    sessions_of,
)
from capture.metrology.grinding.judgement import judge
from capture.metrology.grinding.outlook import GrindLimits, Outlook, SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior, with_coolant

KINDS: dict[str, str] = {
    "plain": "nothing amiss",
    "glazing": "sharpness is lost exponentially with the load that the wheel has borne",
    "sharpening": "the same, and grains that break out under a deep pass bring some of it back",
    "fading": "the share falls by 3 to 6 % a pass",
    "creeping": "the wheel head creeps by 2 to 8 µm, to or from the part, as it warms",
    "dead band": "the gauge's pointer does not follow a change of less than 0.5 to 1 µm",
    "coarse": "the gauge shows 2 µm where the sheet says 1",
    "soft": "shares of 0.6 to 0.75 and a scatter of 1 µm",
    "dry": "no coolant and no probe, and the judge is given that",
    "dry probe": "no coolant, a probe",
    "skipped": "three readings in ten are skipped",
    "dressed": "the wheel is dressed four passes before the last infeed and nobody tells",
}
GLAZED = frozenset({"glazing", "sharpening"})
LIMITS = GrindLimits(removal=LIMIT, confidence=0.95, warm=0.0005)
TOLD_SCATTER = 0.0006
TRAVERSES = 6
PASS_SECONDS = 30.0
GROWTH = 55.0 * 12.3e-6
"""mm per K of a steel part of 55 mm."""
PROBE_U = 0.1


class ApartGrind:
    """One part on such a machine; the same seed gives the same part."""

    def __init__(self, seed: int, kind: str) -> None:
        if kind not in KINDS:
            raise ValueError(f"a kind of trial is one of {', '.join(KINDS)}; got {kind}")
        rng = self.rng = np.random.default_rng([seed, 9041])
        self.kind = kind
        self.share = float(rng.uniform(0.6, 0.75) if kind == "soft" else rng.uniform(0.25, 0.8))
        self._harder = float(rng.uniform(0.0, 0.12))
        self._rubs = float(rng.uniform(0.0, 0.0002))
        self._wear = float(rng.uniform(0.0, 0.08))
        self._uneven = float(rng.uniform(0.0, 0.03))
        self._sharp = 1.0
        self._bears = float(rng.uniform(1.2, 4.5))
        self._fades = float(rng.uniform(0.03, 0.06)) if kind == "fading" else 0.0
        self._creep = (
            float(rng.uniform(0.002, 0.008) * rng.choice([-1.0, 1.0])) if kind == "creeping" else 0.0
        )
        self._creeps = float(rng.uniform(180.0, 900.0))
        dry = kind in {"dry", "dry probe"}
        self.coolant = not dry
        self.probed = kind == "dry probe" or (kind != "dry" and bool(rng.integers(2)))
        self._heat = float(rng.uniform(120.0, 500.0) if dry else rng.uniform(15.0, 75.0))
        self._into_air = float(rng.uniform(3000.0, 9000.0) if dry else rng.uniform(40.0, 100.0))
        self._skin = self._core = 0.0
        self._noise = 0.001 if kind == "soft" else float(rng.uniform(0.0003, 0.0009))
        self._step = 0.002 if kind == "coarse" else 0.001
        self._dead = float(rng.uniform(0.0005, 0.001)) if kind == "dead band" else 0.0
        self._pointer: float | None = None
        self._probe_off = PROBE_U * float(rng.standard_normal())
        self._per_kelvin = GROWTH * (1.0 + 0.03 * float(rng.standard_normal()))
        self.size = float(rng.uniform(-0.0005, 0.0005))
        self._line = self.size - float(rng.uniform(0.0, 0.010))
        self.time = 0.0

    @property
    def growth(self) -> float:
        """Larger than at 20 °C."""
        return GROWTH * (0.3 * self._skin + 0.7 * self._core)

    def advance(self, infeed: float, *, truly: bool = False) -> float:
        """Make one pass and give what it took off; *truly* without chance, heat and head as they are."""
        uneven = 1.0 if truly else 1.0 + self._uneven * float(self.rng.standard_normal())
        self._line -= infeed
        before, most = self.size, 0.0
        for _ in range(TRAVERSES):
            standing = max(self.size + self.growth - self._line - self._rubs, 0.0)
            most = max(most, standing)
            share = min(self.share * self._sharp * uneven, 0.95)
            bite = (1.0 - (1.0 - share) ** (1.0 / TRAVERSES)) * (max(standing, 1e-6) / 0.010) ** self._harder
            taken = min(bite, 0.9) * standing
            self.size -= taken
            self._line += self._wear * taken
            if self.kind in GLAZED:
                self._sharp *= exp(-standing / self._bears)
            if not truly:
                self._pass_time(taken, touching=standing > 0.0)
        if self.kind == "sharpening" and most > 0.008:
            self._sharp += 0.25 * (1.0 - self._sharp)
        self.share *= 1.0 - self._fades
        return before - self.size

    def _pass_time(self, taken: float, *, touching: bool) -> None:
        seconds = PASS_SECONDS / TRAVERSES
        self._skin += self._heat * (taken + 0.0002 * touching)
        flow = 1.0 - exp(-seconds / 15.0)
        mean = 0.3 * self._skin + 0.7 * self._core
        self._skin += flow * (mean - self._skin)
        self._core += flow * (mean - self._core)
        fade = exp(-seconds / self._into_air)
        self._skin, self._core = self._skin * fade, self._core * fade
        still = exp(-self.time / self._creeps)
        self.time += seconds
        self._line -= self._creep * (still - exp(-self.time / self._creeps))

    def dress(self) -> None:
        """Dress the wheel and set it anew by eye: it bites better and stands a little back."""
        self.share = min(0.9, float(self.rng.uniform(1.0, 1.3)) * self.share)
        self._line += float(self.rng.uniform(0.005, 0.020))

    def measure(self, after: int) -> SizeReading:
        """Measure as a person does, corrected where there is a probe."""
        warm = self.size + self.growth + self._noise * float(self.rng.standard_normal())
        if self._pointer is None:
            self._pointer = warm
        self._pointer = min(max(self._pointer, warm - self._dead), warm + self._dead)
        value, growth, u_growth = round(self._pointer / self._step) * self._step, None, 0.0
        if self.probed:
            probe = self._core + self._probe_off + 0.05 * float(self.rng.standard_normal())
            growth, u_growth = self._per_kelvin * probe, self._per_kelvin * PROBE_U
            value -= growth
        return SizeReading(
            after=after,
            value=value,
            u=TOLD_SCATTER,
            resolution=0.001,
            growth=growth,
            u_growth=u_growth,
            t=self.time,
        )

    def truth(self) -> tuple[float, float]:
        """What the next pass without infeed takes off, and the cold size in the end."""
        later = deepcopy(self)
        first = taken = later.advance(0.0, truly=True)
        for _ in range(200):
            if taken < 1e-6:
                break
            taken = later.advance(0.0, truly=True)
        return first, later.size


class GroundPart(NamedTuple):
    """One session as it was ground and read, before anybody judges it."""

    strokes: tuple[Stroke, ...]
    sizes: tuple[SizeReading, ...]
    truths: tuple[tuple[float, float], ...]
    """After each pass."""
    infeeds: int
    """Passes before the first without."""
    coolant: bool
    probed: bool
    prior: Prior


def plan_of(rng: np.random.Generator) -> list[float]:
    """Infeeds that get smaller, or all alike, or as they come."""
    kind = int(rng.integers(3))
    if kind == 0:
        counts = (rng.integers(1, 5), rng.integers(2, 6), rng.integers(2, 5))
        return [u for u, n in zip((0.010, 0.005, 0.0025), counts, strict=True) for _ in range(int(n))]
    count = int(rng.integers(6, 13))
    if kind == 1:
        return [round(float(rng.uniform(0.0025, 0.010)), 3)] * count
    return [round(float(u), 3) for u in rng.uniform(0.0025, 0.010, count)]


def ground(seed: int, kind: str) -> GroundPart:
    """Grind and read one part."""
    shop = ApartGrind(seed, kind)
    plan = plan_of(shop.rng)
    strokes: list[Stroke] = []
    sizes = [shop.measure(0)]
    truths = []
    for number, infeed in enumerate(plan + [0.0] * RESTING, 1):
        if kind == "dressed" and number == len(plan) - 3:
            shop.dress()
        shop.advance(infeed)
        strokes.append(Stroke(infeed, shop.time))
        truths.append(shop.truth())
        read = shop.measure(number)
        if kind != "skipped" or shop.rng.random() >= 0.3 or number == len(plan):
            sizes.append(read)
    prior = with_coolant(Prior(), shop.coolant)
    return GroundPart(
        tuple(strokes), tuple(sizes), tuple(truths), len(plan), shop.coolant, shop.probed, prior
    )


def session(seed: int, kind: str, judged: Callable[..., Outlook] = judge) -> GrindSession:
    """Grind and judge one part, until it is called and truly done, or 20 passes rested."""
    part = ground(seed, kind)
    moments: list[Moment] = []
    for made in range(part.infeeds, len(part.strokes) + 1):
        sizes = [size for size in part.sizes if size.after <= made]
        if sizes[-1].after < made < len(part.strokes):
            continue
        outlook = judged(part.strokes[:made], sizes, LIMITS, part.prior)
        moments.append(Moment(outlook, made - part.infeeds, *part.truths[made - 1]))
        called = any(one.resting and one.outlook.settled for one in moments)
        if called and moments[-1].next_removal < LIMIT:
            break
    values = tuple(size.value for size in part.sizes)
    return GrindSession(tuple(moments), values, part.infeeds, part.coolant, part.probed)


def run(
    count: int, kind: str, *, seed: int = 0, progress: Callable[[int], None] | None = None
) -> GrindFigures:
    """Run *count* sessions of *kind*; *progress*, if given, gets the number of each that is done.

    Raises:
        ValueError: There is no such kind, or nothing to run.
    """
    return figures(
        sessions_of(count, lambda at: session(at, kind), seed=seed, progress=progress), f"apart {kind}"
    )
