"""Trials of the coach: simulated jobs ground three times, by the coach, by habit, and by one who knows.

A job: 30 to 90 µm of stock over a band 2.5 µm wide, what the rule of the simulated sleeve's sheet leaves; a
share of 0.3 to 0.75, a wheel that wears up to 10 %, a gauge that scatters 0.3 to 1 µm (0.6 are stated) and
shows whole micrometres, the wheel at first 0 to 10 µm deep in the part, coolant seen to run, a probe on half
of the parts. Who is coached does what is advised and nothing else. Who grinds by habit feeds as deep as a
finishing pass may be until the reading is on size, and then passes without infeed until two readings
in a row stay. The oracle sees the true size, the true spring and what is still to come, and
feeds whole divisions of the dial by the same limits. All stop with less than 0.5 µm to come by the next
pass. The advice is that of `folds.advice`, as a session would give it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from capture.coach.advice import Coaching, Ground, coaching_of
from capture.coach.choose_infeed import first_infeed
from capture.coach.final_size import Band, Feeding
from capture.coach.infeed_choice import InfeedChoice
from capture.coach.pauses import WAIT
from capture.metrology.grinding.outlook import GrindLimits, SizeReading, Stroke
from capture.sheet.job import Grinder as SheetGrinder
from capture.sheet.job import Job, Known
from capture.sheet.measuring_plan import PlannedPlace
from capture.simulator.grinder import HeatBalance, SimulatedGauge, SimulatedGrinder, Wheel, Workholding

KINDS: dict[str, str] = {
    "matched": "the model's own physics",
    "remembered": "the share is known from earlier jobs within 0.05",
    "pushed": "a part that grows is pressed into the wheel",
    "plunge": "the share of each pass varies as if it lasted 0.6 to 1.4 times as long",
    "loading": "the share falls by 4 % for each 10 µm removed",
    "glazing": "the share falls by 3 % a pass",
    "lag": "the probe follows the part by 40 s",
    "slip": "each infeed errs by 0.3 µm",
    "periodic": "the gauge errs by 0.5 µm over its scale",
    "air": "the wheel starts up to 30 µm clear of the part",
    "radius": "the dial is read on radius, so that twice what is entered is fed",
    "untold": "one pass is not entered",
    "mistyped": "one infeed is entered as a tenth, half, twice or ten times what it was",
    "dry": "no coolant and no probe: the heat of the passes stays in the part",
    "elsewhere": "the readings of one pass are of a place that is 3 to 10 µm larger or smaller",
    "dressed": "the wheel is dressed by 10 to 30 µm between two passes, and nobody says so",
}
AS_MATCHED = frozenset({"untold", "mistyped", "radius", "elsewhere"})
"""Kinds where only what is entered or read is amiss: whoever knows the truth grinds a matched job."""

BAND = Band(low=-0.001744, high=0.000744, aim=0.0)
FEEDING = Feeding()
TOLD_SCATTER = 0.0006
PROBE_U = 0.1
AIM = 55.0
MIDDLE = 140.0
MOST = 60
"""Passes after which a job is given up."""
LIMITS = GrindLimits(removal=FEEDING.removal, confidence=0.95, warm=0.0005, band=(BAND.low, BAND.high))


class Outcome(NamedTuple):
    """How one job ended."""

    passes: int
    readings: int
    size: float
    """True cold size over the aim, mm."""
    asked: bool = False
    """Something that does not fit was asked about, a wait advised, or no advice given."""

    @property
    def landed(self) -> bool:
        """Inside the guarded band."""
        return BAND.low <= self.size <= BAND.high

    @property
    def under(self) -> bool:
        """Under the guarded band: nothing can be put back."""
        return self.size < BAND.low


class Shop:
    """One job's machine, gauge and operator's arithmetic; the same seed gives the same job."""

    def __init__(self, seed: int, kind: str) -> None:
        if kind not in KINDS:
            raise ValueError(f"a kind of trial is one of {', '.join(KINDS)}; got {kind}")
        rng = self.rng = np.random.default_rng(seed)
        self.kind = kind
        self.share = float(rng.uniform(0.3, 0.75))
        probe = bool(rng.integers(2)) and kind != "dry"
        wheel = Wheel(
            share=self.share,
            wear=float(rng.uniform(0.0, 0.1)),
            scatter=0.02,
            slip=0.0003 if kind == "slip" else 0.00005,
            glazing=0.03 if kind == "glazing" else 0.0,
            loading=4.0 if kind == "loading" else 0.0,
        )
        noise, deep, clear = rng.uniform(0.0003, 0.001), rng.uniform(0.0, 0.010), rng.uniform(0.0, 0.030)
        self.grinder = SimulatedGrinder(
            work=Workholding(diameter=AIM + float(rng.uniform(0.030, 0.090))),
            wheel=wheel,
            warmth=HeatBalance(pushes=kind == "pushed", lag=40.0 if kind == "lag" else 0.0),
            gauge=SimulatedGauge(
                noise=float(noise),
                periodic=0.0005 if kind == "periodic" else 0.0,
                probe_offset=PROBE_U * float(rng.standard_normal()),
            ),
            interference=-float(clear) if kind == "air" else float(deep),
            coolant=kind != "dry",
            seed=int(rng.integers(2**31)),
        )
        work = self.grinder.work
        error = 1.0 + 0.03 * float(rng.standard_normal())
        self.per_kelvin = work.diameter * work.expansion * error if probe else None
        known = None
        if kind == "remembered":
            share = float(np.clip(self.share + 0.05 * rng.standard_normal(), 0.1, 0.9))
            known = Known(share=share, u_share=0.05, jobs=3)
        self.job = Job("trial", grinder=SheetGrinder("diameter", known=known))
        self.odd_pass = int(rng.integers(2, 6))
        self.factor = float(rng.choice([0.1, 0.5, 2.0, 10.0]))
        self.elsewhere = float(rng.uniform(0.003, 0.010) * rng.choice([-1.0, 1.0]))
        self.dressed = float(rng.uniform(0.010, 0.030))

    def advance(self, infeed: float) -> None:
        """Make a pass."""
        if self.kind == "dressed" and self.grinder.passes == self.odd_pass:
            self.grinder.dress(self.dressed, self.share)
        if self.kind == "plunge":
            self.grinder.share = 1.0 - (1.0 - self.share) ** float(self.rng.uniform(0.6, 1.4))
        self.grinder.advance(2.0 * infeed if self.kind == "radius" else infeed)
        if self.kind == "plunge":
            self.grinder.share = self.share

    def measure(self, after: int) -> SizeReading:
        """Measure the middle."""
        shop = self.grinder
        value, growth, u_growth = shop.measure(MIDDLE) - AIM, None, 0.0
        if self.kind == "elsewhere" and after == self.odd_pass:
            value += self.elsewhere
        if self.per_kelvin is not None:
            growth, u_growth = self.per_kelvin * (shop.probe() - 20.0), self.per_kelvin * PROBE_U
            value -= growth
        return SizeReading(
            after=after,
            value=value,
            u=TOLD_SCATTER,
            resolution=shop.gauge.resolution,
            growth=growth,
            u_growth=u_growth,
            t=shop.time,
        )

    @property
    def size(self) -> float:
        """True cold size over the aim."""
        return self.grinder.size(MIDDLE) - AIM

    @property
    def settled(self) -> bool:
        """Whether one more pass truly takes less than the limit."""
        return self.grinder.next_removal(MIDDLE) < LIMITS.removal


def coached(seed: int, kind: str = "matched") -> Outcome:
    """Grind one job as the coach says."""
    shop = Shop(seed, kind)
    strokes: list[Stroke] = []
    sizes = [shop.measure(0)]
    fed, passes, readings, wanted, asked = 0.0, 0, 1, 1, False
    while passes < MOST:
        infeed = first_infeed(sizes[0].value, fed, BAND, FEEDING) if kind != "radius" or not strokes else 0.0
        if infeed < FEEDING.rough:
            found, odd, more = _followed(shop, strokes, sizes)
            readings, asked = readings + more, asked or odd
            if found is not None and found.step == "stop":
                break
            if found is not None:
                # without advice: a pass without infeed, measured well
                infeed, wanted = found.infeed, found.readings
        shop.advance(infeed)
        passes += 1
        if kind == "untold" and passes == shop.odd_pass:
            continue
        fed += infeed
        wrong = shop.factor if kind == "mistyped" and passes == shop.odd_pass else 1.0
        strokes.append(Stroke(infeed * wrong, shop.grinder.time))
        sizes += [shop.measure(len(strokes)) for _ in range(wanted)]
        readings += wanted
    return Outcome(passes, readings, shop.size, asked)


def _followed(
    shop: Shop, strokes: list[Stroke], sizes: list[SizeReading]
) -> tuple[InfeedChoice | None, bool, int]:
    """The next advice for the wheel, once all that asked for readings has been done.

    With it whether anything was asked about, and the readings taken.
    """
    found, more = _advice(shop, strokes, sizes), 0
    asked = _asks(found)
    while found is not None and found.landing.step in {"measure again", "wait"} and more < MOST:
        if found.landing.step == "wait":
            shop.grinder.wait(found.wait or WAIT)
        for _ in range(1 if found.landing.step == "measure again" else found.landing.readings):
            sizes.append(shop.measure(len(strokes)))
            more += 1
        found = _advice(shop, strokes, sizes)
        asked = asked or _asks(found)
    return (None if found is None else found.landing), asked, more


def _advice(shop: Shop, strokes: list[Stroke], sizes: list[SizeReading]) -> Coaching | None:
    if not strokes:
        return None
    ground = Ground(
        strokes=strokes,
        sizes=sizes,
        places=(PlannedPlace(MIDDLE),),
        turns=(),
        reference=AIM,
        touched=True,
        dressed=True,
        coolant=shop.grinder.coolant,
        number=0,
    )
    return coaching_of(ground, LIMITS, BAND.aim, shop.job)


def _asks(found: Coaching | None) -> bool:
    return found is not None and (bool(found.doubt) or found.landing.step in {"cannot tell", "wait"})


def by_habit(seed: int, kind: str = "matched") -> Outcome:
    """Grind one job until the reading is on size, and spark out until two readings stay."""
    shop = Shop(seed, kind)
    value, still, passes = shop.measure(0).value, 0, 0
    while value > BAND.aim and passes < MOST:
        deep = FEEDING.rough if value > FEEDING.last_stock + FEEDING.rough else FEEDING.finish
        shop.advance(max(FEEDING.division, round(min(deep, value), 3)))
        passes += 1
        value = shop.measure(passes).value
    while still < 2 and passes < MOST:
        shop.advance(0.0)
        passes += 1
        newest = shop.measure(passes).value
        still = still + 1 if abs(value - newest) <= FEEDING.removal else 0
        value = newest
    return Outcome(passes, passes + 1, shop.size)


def oracle(seed: int, kind: str = "matched") -> Outcome:
    """Grind one job with the truth in sight, to the middle of the band."""
    target = BAND.middle
    shop = Shop(seed, "matched" if kind in AS_MATCHED else kind)
    passes = 0
    while passes < MOST and not (shop.settled and shop.size <= BAND.high):
        over = shop.size - shop.grinder.to_come(MIDDLE) - target
        infeed = _best_infeed(over, BAND.high - target)
        shop.advance(round(infeed / FEEDING.division) * FEEDING.division)
        passes += 1
    return Outcome(passes, 0, shop.size)


def _best_infeed(over: float, room: float) -> float:
    """As deep as a pass may be; the last and smallest infeed brings the end to the target."""
    if over <= min(room, FEEDING.division):
        return 0.0
    # the last stock is counted from the aim, as the coach counts it
    above = over + BAND.middle - BAND.aim - FEEDING.last_stock
    return max(min(FEEDING.rough, above), FEEDING.finish) if above > 0.0 else min(FEEDING.finish, over)
