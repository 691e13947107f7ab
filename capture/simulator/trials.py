"""Trials of the judge of a grind: hundreds of simulated sessions with the truth beside every judgement.

A matched session: the wheel stands an unknown 0 to 10 µm deep in the part; infeeds follow one of three
plans (10, 5, then 2.5 µm; all alike; each drawn from 2.5 to 10 µm), a third of the sessions each; then up to
20 passes without infeed; one reading before the first pass and one after each. The share K is drawn from
0.3 to 0.75, the gauge's scatter from 0.3 to 1 µm (the judge is told 0.6 µm), its resolution is 1 µm,
wheel wear 0 to 10 %. Coolant runs in half of the sessions, half have a probe; the judge's expansion is off by
3 % and the probe by 0.1 K (standard deviations). Other kinds break one thing the model holds: see `KINDS`.
All is drawn from one seed a session.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from capture.metrology.grinding import judge
from capture.metrology.outlook import Limits, Outlook, Size, Stroke
from capture.simulator.grinder import Gauge, Grinder, Warmth, Wheel, Work

LIMIT = 0.0005
LIMITS = Limits(removal=LIMIT, confidence=0.95, warm=0.0005)
RESTING = 20
TOLD_SCATTER = 0.0006
PROBE_U = 0.1
START = 55.060
MIDDLE = 140.0

KINDS: dict[str, str] = {
    "matched": "the model's own physics",
    "pushed": "a part that grows is pressed into the wheel",
    "lag": "the probe follows the part by 40 s",
    "plunge": "the share of each pass varies as if it lasted 0.6 to 1.4 times as long",
    "slip": "each infeed errs by 0.3 µm",
    "glazing": "the share falls by 3 % a pass",
    "loading": "the share falls by 4 % for each 10 µm removed",
    "periodic": "the gauge errs by 0.5 µm over its scale",
    "air": "the wheel starts up to 30 µm clear of the part",
    "mistyped": "one infeed is told as a tenth, half, twice or ten times what it was",
    "unknown": "no infeed is told",
}


class Moment(NamedTuple):
    """A judgement beside the truth; lengths mm."""

    outlook: Outlook
    resting: int
    """Passes without infeed up to now."""
    next_removal: float
    final: float
    """Cold size when nothing more comes off, as a deviation like the outlook's."""


class Session(NamedTuple):
    """One simulated grind, judged after its last infeed and after every pass without."""

    moments: tuple[Moment, ...]
    values: tuple[float, ...]
    """Sizes as the naive rule sees them, corrected where there is a probe."""
    infeeds: int
    coolant: bool
    probe: bool


class Figures(Struct, frozen=True):
    """What a trial found; delays in passes, shares of all sessions."""

    kind: str
    sessions: int
    delay_median: float
    delay_p90: float
    late: float
    """Share called later than one pass after the truth."""
    wrong: float
    """Share called with more than the limit still to come by the next pass."""
    false: float
    """Share called with more than twice the limit still to come by the next pass."""
    naive_median: float
    naive_p90: float
    naive_false: float
    error_at_stop: float
    """Root mean square error of the predicted size after the last infeed, mm."""
    held_at_stop: float
    """Share of sessions whose predicted size ± 1.96 u then holds the truth."""
    error_at_call: float
    held_at_call: float


def run(
    count: int, kind: str = "matched", *, seed: int = 0, told: Callable[[int], None] | None = None
) -> Figures:
    """Run *count* sessions of *kind*; *told*, if given, hears the number of each that is done.

    Raises:
        ValueError: There is no such kind, or nothing to run.
    """
    if count < 1:
        raise ValueError(f"a trial needs at least 1 session, got {count}")
    sessions = []
    for number in range(count):
        sessions.append(session(seed + number, kind))
        if told:
            told(number + 1)
    return figures(sessions, kind)


def session(seed: int, kind: str = "matched") -> Session:
    """Grind and judge one part, until the judge and the naive rule have both called or 20 passes rested."""
    if kind not in KINDS:
        raise ValueError(f"a kind of trial is one of {', '.join(KINDS)}; got {kind}")
    rng = np.random.default_rng(seed)
    share = float(rng.uniform(0.3, 0.75))
    coolant, probe = bool(rng.integers(2)), bool(rng.integers(2))
    plan = _plan(rng)
    shop = _shop(rng, kind, share, coolant=coolant)
    reader = _Reader(shop, float(1.0 + 0.03 * rng.standard_normal()) if probe else None)
    mistyped, factor = int(rng.integers(len(plan))), float(rng.choice([0.1, 0.5, 2.0, 10.0]))
    strokes: list[Stroke] = []
    moments: list[Moment] = []
    reader.read(0)
    for number, infeed in enumerate(plan + [0.0] * RESTING):
        if kind == "plunge":
            shop.share = 1.0 - (1.0 - share) ** float(rng.uniform(0.6, 1.4))
        shop.advance(infeed)
        if kind == "plunge":
            shop.share = share
        told = infeed * factor if kind == "mistyped" and number == mistyped else infeed
        strokes.append(Stroke(None if kind == "unknown" else told, shop.time))
        reader.read(number + 1)
        resting = number + 1 - len(plan)
        if resting < 0:
            continue
        final = shop.size(MIDDLE) - shop.to_come(MIDDLE) - START
        outlook = judge(strokes, reader.sizes, LIMITS)
        moments.append(Moment(outlook, resting, shop.next_removal(MIDDLE), final))
        called = any(m.resting and m.outlook.settled for m in moments)
        values = reader.values
        if called and moments[-1].next_removal < LIMIT and naive_call(values, len(plan)) <= resting:
            break
    return Session(tuple(moments), tuple(reader.values), len(plan), coolant, probe)


def naive_call(values: Sequence[float], infeeds: int) -> int:
    """Passes without infeed until two successive removals are below the limit; `RESTING` + 1 for never."""
    removals = [before - after for before, after in pairwise(values)]
    for resting in range(2, len(removals) - infeeds + 1):
        newest = removals[infeeds + resting - 2 : infeeds + resting]
        if max(newest) < LIMIT:
            return resting
    return RESTING + 1


def figures(sessions: Sequence[Session], kind: str) -> Figures:
    """Sum up *sessions*."""
    delays, naive, calls, naive_calls = [], [], [], []
    at_stop, at_call = [], []
    for one in sessions:
        resting = {moment.resting: moment for moment in one.moments if moment.resting}
        truth = _first(resting, [k for k, m in resting.items() if m.next_removal < LIMIT])
        call = _first(resting, [k for k, m in resting.items() if m.outlook.settled])
        simple = naive_call(one.values, one.infeeds)
        delays.append(call - truth)
        naive.append(simple - truth)
        calls.append(resting[call].next_removal if call in resting else 0.0)
        naive_calls.append(resting[simple].next_removal if simple in resting else 0.0)
        at_stop.append(one.moments[0])
        at_call += [resting[call]] if call in resting else []
    return Figures(
        kind,
        len(sessions),
        float(np.median(delays)),
        float(np.percentile(delays, 90)),
        float(np.mean(np.array(delays) > 1)),
        float(np.mean(np.array(calls) >= LIMIT)),
        float(np.mean(np.array(calls) > 2.0 * LIMIT)),
        float(np.median(naive)),
        float(np.percentile(naive, 90)),
        float(np.mean(np.array(naive_calls) > 2.0 * LIMIT)),
        *_prediction(at_stop),
        *_prediction(at_call),
    )


def table(rows: Iterable[Figures]) -> str:
    """The figures of several trials as lines of text, lengths in µm."""
    names = (
        f"{'kind':10}{'sessions':>9} | {'delay':>9}{'wrong':>7}{'false':>7} | {'naive':>9}{'false':>7}"
        f" | {'at stop':>8}{'held':>7} | {'at call':>8}{'held':>7}"
    )
    units = (
        f"{'':19} | {'med / p90':>9}{'%':>7}{'%':>7} | {'med / p90':>9}{'%':>7}"
        f" | {'rms µm':>8}{'%':>7} | {'rms µm':>8}{'%':>7}"
    )
    lines = [names, units]
    for f in rows:
        delay = f"{f.delay_median:.1f} / {f.delay_p90:.0f}"
        naive = f"{f.naive_median:.1f} / {f.naive_p90:.0f}"
        lines.append(
            f"{f.kind:10}{f.sessions:9} | {delay:>9}{100 * f.wrong:7.1f}{100 * f.false:7.1f}"
            f" | {naive:>9}{100 * f.naive_false:7.1f}"
            f" | {1000 * f.error_at_stop:8.2f}{100 * f.held_at_stop:7.1f}"
            f" | {1000 * f.error_at_call:8.2f}{100 * f.held_at_call:7.1f}"
        )
    return "\n".join(lines)


def _first(resting: dict[int, Moment], found: list[int]) -> int:
    return min(found) if found else max(resting) + 1


def _prediction(moments: Sequence[Moment]) -> tuple[float, float]:
    """Root mean square error of the predicted size, and how often ± 1.96 u holds it; NaN for none."""
    misses = [
        (moment.outlook.predicted - moment.final, moment.outlook.u_predicted)
        for moment in moments
        if moment.outlook.predicted is not None and moment.outlook.u_predicted is not None
    ]
    if not misses:
        return float("nan"), float("nan")
    miss, u = np.array(misses).T
    return float(np.sqrt(np.mean(miss**2))), float(np.mean(np.abs(miss) < 1.96 * u))


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


def _shop(rng: np.random.Generator, kind: str, share: float, *, coolant: bool) -> Grinder:
    wheel = Wheel(
        share=share,
        wear=float(rng.uniform(0.0, 0.1)),
        slip=0.0003 if kind == "slip" else 0.0,
        glazing=0.03 if kind == "glazing" else 0.0,
        loading=4.0 if kind == "loading" else 0.0,
    )
    noise, deep, clear = rng.uniform(0.0003, 0.001), rng.uniform(0.0, 0.010), rng.uniform(0.0, 0.030)
    offset = PROBE_U * float(rng.standard_normal())
    return Grinder(
        work=Work(diameter=START),
        wheel=wheel,
        warmth=Warmth(pushes=kind == "pushed", lag=40.0 if kind == "lag" else 0.0),
        gauge=Gauge(noise=float(noise), periodic=0.0005 if kind == "periodic" else 0.0, probe_offset=offset),
        interference=-float(clear) if kind == "air" else float(deep),
        coolant=coolant,
        seed=int(rng.integers(2**31)),
    )


class _Reader:
    """Measures the middle as a person would, with the correction that the probe allows."""

    def __init__(self, shop: Grinder, expansion_error: float | None) -> None:
        self.shop = shop
        work = shop.work
        self.per_kelvin = (
            None if expansion_error is None else work.diameter * work.expansion * expansion_error
        )
        self.sizes: list[Size] = []
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
            Size(
                after=after,
                value=value,
                u=TOLD_SCATTER,
                resolution=step,
                growth=growth,
                u_growth=u_growth,
                t=shop.time,
            )
        )
