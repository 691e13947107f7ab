"""Trials of the judge of a grind: hundreds of simulated sessions with the truth beside every judgement.

A matched session: the wheel stands an unknown 0 to 10 µm deep in the part; infeeds follow one of three
plans (10, 5, then 2.5 µm; all alike; each drawn from 2.5 to 10 µm), a third of the sessions each; then up to
20 passes without infeed; one reading before the first pass and one after each. The share K is drawn from
0.3 to 0.75, the gauge's scatter from 0.3 to 1 µm (the judge is given 0.6 µm), its resolution is 1 µm,
wheel wear 0 to 10 %. Each mm³ makes 30 to 70 J, of which 5 to 15 % go into a wet part and 40 to 80 % into a
dry one. Coolant runs in half of the sessions, and the judge is given whether it does; half have a
probe; the judge's expansion is off by 3 % and the probe by 0.1 K (standard deviations). Other kinds break one
thing the model holds: see `KINDS`. All is drawn from one seed a session.

What is held to: of the intervals "predicted size ± 1.96 u" as many are to hold the truth as are said to,
95 %, in every group of sessions that the judge can tell apart: with a probe or without, wet or dry. They are
counted where they are used: at the call, once a session, and after every pass from the last infeed on.
The truth is the cold size when nothing more comes off by passes without infeed, the heat as it is.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from msgspec import structs

from capture.benchmarks.trials.grinding.grind_figures import (
    LIMIT,
    RESTING,
    GrindFigures,
    GrindSession,
    Moment,
    figures,
    naive_call,
    sessions_of,
)
from capture.metrology.grinding.judgement import judge
from capture.metrology.grinding.outlook import GrindLimits, SizeReading, Stroke
from capture.metrology.grinding.spring.passes import Prior, with_coolant
from capture.simulator.grinder import HeatBalance, SimulatedGauge, SimulatedGrinder, Wheel, Workholding

LIMITS = GrindLimits(removal=LIMIT, confidence=0.95, warm=0.0005)
TOLD_SCATTER = 0.0006
PROBE_U = 0.1
START = 55.060
MIDDLE = 140.0

KINDS: dict[str, str] = {
    "matched": "the model's own physics",
    "pushed": "a part that grows is pressed into the wheel",
    "untold": "nobody tells whether coolant runs; it does in eleven sessions of twelve",
    "lag": "the probe follows the part by 40 s",
    "plunge": "the share of each pass varies as if it lasted 0.6 to 1.4 times as long",
    "slip": "each infeed errs by 0.3 µm",
    "glazing": "the share falls by 3 % a pass",
    "loading": "the share falls by 4 % for each 10 µm removed",
    "slender": "the part bends away: in its middle the share is less by a fifth",
    "dressed": "the wheel is dressed before the last infeeds, cuts better, and is set anew",
    "periodic": "the gauge errs by 0.5 µm over its scale",
    "air": "the wheel starts up to 30 µm clear of the part",
    "mistyped": "one infeed is entered as a tenth, half, twice or ten times what it was",
    "unknown": "no infeed is entered",
}


def run(
    count: int, kind: str = "matched", *, seed: int = 0, progress: Callable[[int], None] | None = None
) -> GrindFigures:
    """Run *count* sessions of *kind*; *progress*, if given, gets the number of each that is done.

    Raises:
        ValueError: There is no such kind, or nothing to run.
    """
    return figures(sessions_of(count, lambda at: session(at, kind), seed=seed, progress=progress), kind)


def session(seed: int, kind: str = "matched") -> GrindSession:
    """Grind and judge one part, until the judge and the naive rule have both called or 20 passes rested."""
    if kind not in KINDS:
        raise ValueError(f"a kind of trial is one of {', '.join(KINDS)}; got {kind}")
    rng = np.random.default_rng(seed)
    share = float(rng.uniform(0.3, 0.75))
    coolant, probe = bool(rng.integers(2)), bool(rng.integers(2))
    plan = _plan(rng)
    if kind == "untold":
        coolant = bool(rng.integers(12))
    shop = _shop(rng, kind, share, coolant=coolant)
    reader = _Reader(shop, float(1.0 + 0.03 * rng.standard_normal()) if probe else None)
    mistyped, factor = int(rng.integers(len(plan))), float(rng.choice([0.1, 0.5, 2.0, 10.0]))
    prior = with_coolant(Prior(), None if kind == "untold" else coolant)
    strokes: list[Stroke] = []
    moments: list[Moment] = []
    reader.read(0)
    for number, infeed in enumerate(plan + [0.0] * RESTING):
        if kind == "dressed" and number == len(plan) - 3:
            _dress(shop, rng)
            prior = structs.replace(prior, cut=sum(plan[:number]))
            strokes = []
            reader.begin_again()
        if kind == "plunge":
            _plunge(shop, infeed, share, rng)
        else:
            shop.advance(infeed)
        progress = infeed * factor if kind == "mistyped" and number == mistyped else infeed
        strokes.append(Stroke(None if kind == "unknown" else progress, shop.time))
        reader.read(len(strokes))
        resting = number + 1 - len(plan)
        if resting < 0:
            continue
        final = shop.size(MIDDLE) - shop.to_come(MIDDLE) - START
        outlook = judge(strokes, reader.sizes, LIMITS, prior)
        moments.append(Moment(outlook, resting, shop.next_removal(MIDDLE), final))
        called = any(m.resting and m.outlook.settled for m in moments)
        values = reader.values
        if called and moments[-1].next_removal < LIMIT and naive_call(values, len(plan)) <= resting:
            break
    return GrindSession(tuple(moments), tuple(reader.values), len(plan), coolant, probe)


def _plunge(shop: SimulatedGrinder, infeed: float, share: float, rng: np.random.Generator) -> None:
    """Make a pass that takes another *share* off, as if it lasted 0.6 to 1.4 times as long."""
    shop.share = 1.0 - (1.0 - share) ** float(rng.uniform(0.6, 1.4))
    shop.advance(infeed)
    shop.share = share


def _dress(shop: SimulatedGrinder, rng: np.random.Generator) -> None:
    """Dress the wheel, which bites better then, and touch it off."""
    depth = 0.020
    shop.dress(depth, min(0.9, 1.2 * shop.share))
    shop.retract(float(rng.uniform(-0.010, 0.0)) - depth)


def _plan(rng: np.random.Generator) -> list[float]:
    """Infeeds that get smaller, or all alike, or as they come."""
    kind = int(rng.integers(3))
    if kind == 0:
        counts = (rng.integers(1, 5), rng.integers(2, 6), rng.integers(2, 5))
        return [u for u, n in zip((0.010, 0.005, 0.0025), counts, strict=True) for _ in range(int(n))]
    count = int(rng.integers(6, 13))
    if kind == 1:
        return [round(float(rng.uniform(0.0025, 0.010)), 4)] * count
    return [round(float(u), 4) for u in rng.uniform(0.0025, 0.010, count)]


def _shop(rng: np.random.Generator, kind: str, share: float, *, coolant: bool) -> SimulatedGrinder:
    wheel = Wheel(
        share=share,
        wear=float(rng.uniform(0.0, 0.1)),
        dip=0.2 if kind == "slender" else 0.0,
        slip=0.0003 if kind == "slip" else 0.0,
        glazing=0.03 if kind == "glazing" else 0.0,
        loading=4.0 if kind == "loading" else 0.0,
    )
    noise, deep, clear = rng.uniform(0.0003, 0.001), rng.uniform(0.0, 0.010), rng.uniform(0.0, 0.030)
    offset = PROBE_U * float(rng.standard_normal())
    warmth = HeatBalance(
        specific_energy=float(rng.uniform(30.0, 70.0)),
        into_part_wet=float(rng.uniform(0.05, 0.15)),
        into_part_dry=float(rng.uniform(0.4, 0.8)),
        rubbing=float(rng.uniform(600.0, 1800.0)),
        pushes=kind == "pushed" or (kind == "untold" and bool(rng.integers(2))),
        lag=40.0 if kind == "lag" else 0.0,
    )
    return SimulatedGrinder(
        work=Workholding(diameter=START),
        wheel=wheel,
        warmth=warmth,
        gauge=SimulatedGauge(
            noise=float(noise), periodic=0.0005 if kind == "periodic" else 0.0, probe_offset=offset
        ),
        interference=-float(clear) if kind == "air" else float(deep),
        coolant=coolant,
        seed=int(rng.integers(2**31)),
    )


class _Reader:
    """Measures the middle as a person would, with the correction that the probe allows."""

    def __init__(self, shop: SimulatedGrinder, expansion_error: float | None) -> None:
        self.shop = shop
        work = shop.work
        self.per_kelvin = (
            None if expansion_error is None else work.diameter * work.expansion * expansion_error
        )
        self.sizes: list[SizeReading] = []
        self.values: list[float] = []

    def read(self, after: int) -> None:
        shop = self.shop
        value = shop.measure(MIDDLE) - START
        growth, u_growth = None, 0.0
        if self.per_kelvin is not None:
            growth, u_growth = self.per_kelvin * (shop.probe() - 20.0), self.per_kelvin * PROBE_U
            value -= growth
        step = shop.gauge.resolution
        self.values.append(value)
        self.sizes.append(
            SizeReading(
                after=after,
                value=value,
                u=TOLD_SCATTER,
                resolution=step,
                growth=growth,
                u_growth=u_growth,
                t=shop.time,
            )
        )

    def begin_again(self) -> None:
        """Keep of the sizes only the newest, as before the first pass."""
        self.sizes = [structs.replace(self.sizes[-1], after=0)]
