"""Trials of passes found by the power of the wheel's drive: whole grinds with every true pass known.

Physics apart from the simulator's and from what the estimator believes: the tangential force has a size
effect (specific energy falls with a power of the depth, as it does in fine grinding: Malkin and Guo,
"Grinding Technology"), the wheel's flats rub and grow, its share differs from pass to pass, the depth with
taper along the part; belts ripple at two frequencies, the free running load wanders and warms, and the meter
lags. The table runs to and fro at speeds of its own and tarries at its ends. Cycles of one to three feeds and
up to two rests, each measured by hand with the wheel wound back, then four to eight rests. Some parts have an
undercut, some meters carry the coolant pump, some wheels are dressed on the way, some strokes go through the
air. Ranges were written down before the first run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import exp, pi, sin

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.passes.untold_session import TrialSession
from capture.sheet.job import Job
from capture.sheet.reader import job_of
from capture.simulator.infeed_head import InfeedDisplay, InfeedHand, InfeedHead
from capture.simulator.spindle_power import SpindleSample

MIDDLE = 140.0
START = 55.060
STANDS_OUT = 3.0
"""Times what the meter shows by itself, beyond which a pass is clear."""


class Drive(Struct, frozen=True, kw_only=True):
    """One machine, its meter, and the part on it."""

    idle: float
    warms: float
    wander: float
    """W, standard deviation after a minute."""
    ripples: tuple[tuple[float, float], ...]
    """W and Hz."""
    noise: float
    lag: float
    rate: float
    resolution: float
    pump: float
    energy: float
    """J/mm³ at a depth of a micrometre, and"""
    size_effect: float
    """by which power of the depth it falls."""
    rubs: float
    diameter: float
    length: float
    stroke: float
    back: float
    tarry: float
    share: float
    taper: float
    undercut: float
    dresses: bool
    dresser: float
    air: bool


class GroundPass(Struct, frozen=True):
    """One pass as it was."""

    infeed: float
    rise: float
    """W, mean over the stroke."""
    clear: bool


class PowerJob(Struct, frozen=True):
    """One grind: the true passes before each size, and the infeeds of those found."""

    made: tuple[tuple[GroundPass, ...], ...]
    found: tuple[tuple[float | None, ...], ...]


def any_drive(rng: np.random.Generator) -> Drive:
    """A machine drawn generously."""
    idle = float(np.exp(rng.uniform(np.log(300.0), np.log(2500.0))))
    uniform = rng.uniform
    return Drive(
        idle=idle,
        warms=float(uniform(0.0, 0.12)) * idle,
        wander=float(uniform(0.0, 0.006)) * idle,
        ripples=(
            (float(uniform(0.0, 0.006)) * idle, float(uniform(0.2, 1.5))),
            (float(uniform(0.0, 0.01)) * idle, float(uniform(1.5, 9.0))),
        ),
        noise=float(uniform(0.001, 0.006)) * idle,
        lag=float(uniform(0.05, 0.4)),
        rate=float(np.exp(rng.uniform(np.log(2.0), np.log(12.0)))),
        resolution=float(rng.choice([0.1, 1.0, 1.0, 5.0])),
        pump=float(uniform(60.0, 300.0)) if uniform() < 0.4 else 0.0,
        energy=float(uniform(40.0, 120.0)),
        size_effect=float(uniform(0.2, 0.45)),
        rubs=float(uniform(5.0, 40.0)),
        diameter=float(uniform(30.0, 110.0)),
        length=float(uniform(120.0, 400.0)),
        stroke=float(uniform(5.0, 25.0)),
        back=float(uniform(0.85, 1.15)),
        tarry=float(uniform(0.2, 1.5)),
        share=float(uniform(0.35, 0.7)),
        taper=float(uniform(0.0, 0.3)),
        undercut=float(uniform(0.2, 0.8)) if uniform() < 0.15 else 0.0,
        dresses=bool(uniform() < 0.4),
        dresser=float(uniform(0.02, 0.08)) * idle,
        air=bool(uniform() < 0.3),
    )


class PowerShop:
    """The machine at work; what its meter and the gauge on its head send goes into a session."""

    def __init__(self, seed: int, *, head: bool) -> None:
        self.rng = np.random.default_rng([seed, 71])
        self.drive = any_drive(self.rng)
        self.session = TrialSession(sheet_of(self.drive, head=head))
        self.head: InfeedHead | None = None
        if head:
            display = InfeedDisplay(rate=4.0, noise=0.0003)
            self.head = InfeedHead(display, InfeedHand(misses=0.0004), at=-5.0, seed=seed)
        self.time = 0.0
        self.standing = float(self.rng.uniform(0.0, 0.002))
        self.size = START
        self.flats = 1.0
        self.depth = 0.0
        self.pump = False
        self._next = 0.0
        self._shown = self.drive.idle + self.drive.warms
        self._wander = 0.0
        self.made: list[GroundPass] = []

    def stay(self, seconds: float, more: Callable[[float], float] = lambda _: 0.0) -> None:
        """Time passes, with *more* power than of a wheel that runs free."""
        began, end = self.time, self.time + seconds
        shown = [] if self.head is None else list(self.head.stay(end - self.head.time))
        for one in self._sent(began, end, more):
            while shown and shown[0][0] <= one.at:
                self.session.received([shown.pop(0)])
            self.session.watts([one])
        self.session.received(shown)
        self.time = end

    def stroke(self, infeed: float, forth: bool) -> None:
        """The table goes over the part once."""
        drive = self.drive
        seconds = drive.stroke * (1.0 if forth else drive.back)
        if infeed:
            self.depth += infeed
        if self.head is not None:
            self.head.position = self.depth + 0.0003 * float(self.rng.standard_normal())
        self.standing += infeed
        share = min(drive.share * (1.0 + 0.05 * float(self.rng.standard_normal())), 0.95)
        removed = share * self.standing
        self.standing -= removed
        self.size -= removed
        speed = drive.length / seconds
        rubs = drive.rubs * self.flats * (1.0 - exp(-removed / 0.0003))
        self.flats *= 1.01
        tilt = drive.taper * (1.0 if forth else -1.0)

        def power(t: float) -> float:
            along = t / seconds
            ramp = min(t, seconds - t, 0.4) / 0.4
            if drive.undercut and abs(along - (0.6 if forth else 0.4)) * seconds < 0.5 * drive.undercut:
                return 0.0
            depth = 500.0 * removed * (1.0 + tilt * (2.0 * along - 1.0))  # µm on radius
            cut = drive.energy * max(depth, 0.0) ** (1.0 - drive.size_effect) * 0.001
            return float(ramp * (pi * drive.diameter * cut * speed + rubs))

        rise = sum(power((n + 0.5) * seconds / 40.0) for n in range(40)) / 40.0
        own = (drive.noise**2 + 0.5 * sum(a * a for a, _ in drive.ripples) + drive.wander**2 / 6.0) ** 0.5
        self.made.append(GroundPass(infeed, rise, rise > STANDS_OUT * max(own, drive.resolution)))
        self.stay(seconds, power)
        self.stay(drive.tarry)

    def size_by_hand(self) -> None:
        """The part is measured."""
        shown = round(self.size + 0.0005 * float(self.rng.standard_normal()), 3)
        self.session.sized(self.time, shown)

    def away(self, *, off: bool) -> None:
        """The wheel is wound back, or brought in again."""
        if self.head is not None:
            self.head.position = -5.0 if off else self.depth
        self.pump = not off and bool(self.drive.pump)

    def dress(self) -> None:
        """A diamond goes over the wheel."""
        seconds = float(self.rng.uniform(3.0, 14.0))
        for _ in range(int(self.rng.integers(2, 5))):
            self.stay(seconds, lambda t: self.drive.dresser if 0.2 < t < seconds - 0.2 else 0.0)
            self.stay(float(self.rng.uniform(1.0, 3.0)))
        self.flats = 1.0

    def _sent(self, began: float, end: float, more: Callable[[float], float]) -> Iterator[SpindleSample]:
        drive = self.drive
        while self._next < end:
            at = self._next
            gap = 1.0 / drive.rate
            self._next += gap * (1.0 + 0.02 * float(self.rng.standard_normal()))
            self._wander += drive.wander * (gap / 60.0) ** 0.5 * float(self.rng.standard_normal())
            true = drive.idle + drive.warms * exp(-at / 600.0) + self._wander + more(max(at - began, 0.0))
            true += sum(a * sin(2.0 * pi * f * at) for a, f in drive.ripples)
            true += drive.pump if self.pump else 0.0
            self._shown += (1.0 - exp(-gap / drive.lag)) * (true - self._shown)
            value = self._shown + drive.noise * float(self.rng.standard_normal())
            yield SpindleSample(at, round(value / drive.resolution) * drive.resolution)


def sheet_of(drive: Drive, *, head: bool) -> Job:
    """The sheet of the trial; *head*: with a gauge on the wheel head. Of an undercut it has the stroke."""
    link = {"serial": "a"}
    power = {"name": "drive", "measures": "power", "link": link, "resolution": drive.resolution}
    mike = {"name": "mike", "measures": "diameter", "link": link, "resolution": 0.001, "stream": False}
    saddle = {"name": "saddle", "measures": "infeed", "link": link, "resolution": 0.001}
    stroke = {"stroke": round(drive.stroke, 1)} if drive.undercut else {}
    return job_of(
        {
            "job": {"name": "power"},
            "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
            "shaft": {"material": "steel 4140", "stations": [MIDDLE]},
            "grinder": {"dial": "diameter", **stroke},
            "gauge": [power, mike, *([saddle] if head else [])],
        }
    )


def power_job(seed: int, *, head: bool = False) -> PowerJob:
    """Grind one part to the end."""
    shop = PowerShop(seed, head=head)
    rng = shop.rng
    shop.stay(float(rng.uniform(8.0, 20.0)))
    shop.size_by_hand()
    made: list[tuple[GroundPass, ...]] = []
    cycles = int(rng.integers(4, 8))
    dressed = int(rng.integers(2, cycles)) if shop.drive.dresses else -1
    for number in range(cycles):
        if number == dressed:
            shop.stay(float(rng.uniform(5.0, 20.0)))
            shop.dress()
            shop.stay(float(rng.uniform(5.0, 20.0)))
        feeds = [round(float(rng.uniform(2.0, 10.0))) / 1000.0 for _ in range(int(rng.integers(1, 4)))]
        made.append(_cycle(shop, [*feeds, *[0.0] * int(rng.integers(0, 3))]))
    made += [_cycle(shop, [0.0]) for _ in range(int(rng.integers(4, 9)))]
    return PowerJob(tuple(made), shop.session.found(len(made)))


def _cycle(shop: PowerShop, infeeds: list[float]) -> tuple[GroundPass, ...]:
    rng = shop.rng
    shop.made = []
    if shop.drive.air and rng.uniform() < 0.5:
        shop.stay(shop.drive.stroke)
    shop.away(off=False)
    shop.stay(float(rng.uniform(1.0, 6.0)))
    for number, infeed in enumerate(infeeds):
        shop.stroke(infeed, number % 2 == 0)
    shop.stay(float(rng.uniform(1.0, 3.0)))
    shop.away(off=True)
    shop.stay(float(rng.uniform(8.0, 40.0)))
    shop.size_by_hand()
    shop.stay(float(rng.uniform(1.0, 20.0)))
    return tuple(shop.made)


class PowerFigures(Struct, frozen=True):
    """What the trial found."""

    jobs: int
    passes: int
    right: float
    """Share of all true passes that were found, less those that were none."""
    clear: int
    clear_right: float
    """The same of measurements whose passes all are clear."""
    named: float
    """Share of the passes of right measurements that were named fed or rest rightly, or left open."""
    infeed_p95: float
    """mm; NaN without a gauge on the head."""


def run(
    count: int, *, head: bool = False, seed: int = 0, progress: Callable[[int], None] | None = None
) -> PowerFigures:
    """Run *count* jobs; *head*: with a gauge on the wheel head as well.

    Raises:
        ValueError: There is nothing to run.
    """
    if count < 1:
        raise ValueError(f"a trial needs at least 1 job, got {count}")
    passes = wrong = clear = clear_wrong = named = of = 0
    errors: list[float] = []
    for number in range(count):
        one = power_job(seed + number, head=head)
        for made, found in zip(one.made, one.found, strict=True):
            off = abs(len(made) - len(found))
            passes, wrong = passes + len(made), wrong + off
            if all(each.clear for each in made):
                clear, clear_wrong = clear + len(made), clear_wrong + off
            if off:
                continue
            for true, infeed in zip(made, found, strict=True):
                of += 1
                named += infeed is None or (infeed == 0.0) == (true.infeed == 0.0)
                if infeed and true.infeed:
                    errors.append(abs(infeed - true.infeed))
        if progress:
            progress(number + 1)
    p95 = float(np.percentile(errors, 95)) if errors else float("nan")
    shares = (1.0 - wrong / max(passes, 1), clear, 1.0 - clear_wrong / max(clear, 1), named / max(of, 1))
    return PowerFigures(count, passes, *shares, p95)
