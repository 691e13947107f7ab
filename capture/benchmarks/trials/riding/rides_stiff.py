"""Grinds under a riding gauge by physics apart from both `rides_apart` and `capture.simulator.rider`.

The machine is a spring: the wheel bears on the part with a force, cuts by that force less the one at which
it only rubs, to a power that is not one, and so never takes all of it (the threshold force of King and
Hahn, from memory). The table runs up to its speed and down again; feeds come as hands give them: three and
two rests, one and one rest, or all in a row. In pauses the head is wound back, the work may stop with the
gauge on it and the coolant may be shut. The gauge filters what it shows and sends it at its own beat; its
noise has tails and wanders; chips lift the finger and fall off at once, coolant comes in bursts, a keyway
takes up to a fifth of the turn, and the work may turn nearly in time with the readings. Invented; ranges
were written down before the first run. Lengths mm on diameter, times seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import exp, log

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from capture.benchmarks.trials.riding.ride_truth import GrindTruth, TruePass
from capture.simulator.rider import RideSample

Series = NDArray[np.float64]
BEAT = 0.05
"""Seconds of a step of the wheel."""
ENDLESS = 60
"""Passes without infeed after which nothing is to come."""


class Stiff(Struct, frozen=True, kw_only=True):
    """One grind: the wheel, the table and the hands."""

    size: float
    infeeds: tuple[float, ...]
    share: float
    """Of 2 µm above the threshold, that a pass takes off."""
    power: float
    """Of the force, to which the wheel cuts."""
    rubs: float
    """mm of spring at which it only rubs."""
    wears: float
    """Of what the part loses, that the wheel loses."""
    uneven: float
    """Standard deviation of the logarithm of how well a pass cuts."""
    stroke: float
    tarry: tuple[float, float]
    """Seconds at either end."""
    place: float
    width: float
    pauses: tuple[tuple[int, float], ...]
    stops: bool
    """The work stops in pauses."""
    begins: float
    heat: float
    """Growth for each mm taken off, and"""
    friction: float
    """for each pass."""
    cools: float
    late: float
    """Seconds in which heat reaches the gauge's place."""


class StiffGauge(Struct, frozen=True, kw_only=True):
    """The gauge on it."""

    rate: float
    resolution: float
    noise: float
    wanders: float
    """mm; of noise of many seconds."""
    filters: float
    """Seconds of its own averaging."""
    turns: float
    lobes: tuple[float, ...]
    """Amplitudes once, twice … a turn."""
    keyway: float
    depth: float
    chips: float
    bursts: float
    push: float
    """Shown of the spring while the wheel is near."""
    coolant: float
    """mm that coolant lifts it, gone while it is shut."""
    drift: float
    """mm an hour."""
    missing: float
    offset: float


def grind_of(one: Stiff, gauge: StiffGauge, seed: int) -> tuple[GrindTruth, Iterator[RideSample]]:
    """The truth of one grind and what its gauge sends."""
    random = np.random.default_rng([seed, 21])
    t, x, paused = _table(one)
    near = np.clip(1.0 - np.abs(x - one.place) / (one.width / 2.0), 0.0, 1.0) ** 0.5
    size, spring, made = _ground(one, t, x, near, random)
    grown = _grown(one, t, size, near)
    truth = GrindTruth(one.size, tuple(made), stroke=one.stroke + 0.5 * sum(one.tarry), begins=one.begins)
    shown = size + grown + gauge.push * spring * np.exp(-(((x - one.place) / 0.5) ** 2))
    return truth, _sent(one, gauge, (t, shown, near, paused), random)


def _table(one: Stiff) -> tuple[Series, Series, Series]:
    """Times, where the wheel's middle stands as a share of the part (-9: off it), and where it pauses."""
    pauses, ends, now = dict(one.pauses), [], one.begins
    for number in range(len(one.infeeds)):
        ends.append((now, now + one.stroke))
        now += one.stroke + one.tarry[number % 2] + pauses.get(number, 0.0)
    t = np.arange(0.0, ends[-1][1] + one.stroke + 12.0, BEAT)
    x, paused = np.full(len(t), -9.0), np.zeros(len(t))
    for number, (begin, end) in enumerate(ends):
        i = slice(int(begin / BEAT) + 1, int(end / BEAT) + 1)
        part = (t[i] - begin) / (end - begin)
        ease = 0.08  # runs up to its speed and down again
        way = np.where(
            part < ease,
            part**2 / (2 * ease),
            np.where(part > 1 - ease, 1 - ease - (1 - part) ** 2 / (2 * ease), part - ease / 2),
        ) / (1 - ease)
        x[i] = -0.1 + 1.2 * (way if number % 2 == 0 else 1 - way)
        if number in pauses:
            paused[int((end + 2.0) / BEAT) : int((end + pauses[number] - 2.0) / BEAT)] = 1.0
    return t, x, paused


def _rate(one: Stiff, spring: float) -> float:
    """Share of *spring* that is cut in one pass's time under the wheel, as a rate."""
    over = max(spring - one.rubs, 0.0)
    return -log(1.0 - one.share) * over * (over / 0.002) ** (one.power - 1.0) if over > 1e-9 else 0.0


def _passed(one: Stiff, spring: float) -> float:
    """The spring after one more even pass without infeed."""
    for _ in range(20):
        spring -= _rate(one, spring) * (1.0 + one.wears) / 20
    return spring


def _ground(
    one: Stiff, t: Series, x: Series, near: Series, random: np.random.Generator
) -> tuple[Series, Series, list[TruePass]]:
    size, spring = np.empty(len(t)), np.zeros(len(t))
    now, stands, made = one.size, 0.0, list[TruePass]()
    on = near > 0.0
    starts = np.flatnonzero(on[1:] & ~on[:-1]) + 1
    stops = np.flatnonzero(~on[1:] & on[:-1]) + 1
    begun = 0
    for number, (i, k) in enumerate(zip(starts.tolist(), stops.tolist(), strict=True)):
        size[begun:i], before = now, now
        spring[begun:i] = stands
        stands += one.infeeds[number]
        weight = near[i:k] / near[i:k].sum()
        bite = exp(one.uneven * float(random.standard_normal()))
        for n, w in enumerate(weight):
            off = bite * _rate(one, stands) * w
            now, stands = now - off, stands - off * (1.0 + one.wears)
            size[i + n], spring[i + n] = now, stands
        begun = k
        rest = stands
        for _ in range(ENDLESS):
            rest = _passed(one, rest)
        took = (stands - _passed(one, stands)) / (1.0 + one.wears)
        come = (stands - rest) / (1.0 + one.wears)
        at = 0.5 * (t[i] + t[k])
        made.append(TruePass(float(at), one.infeeds[number], before - now, now, come, took))
    size[begun:], spring[begun:] = now, stands
    return size, spring * (x > -5.0), made


def _grown(one: Stiff, t: Series, size: Series, near: Series) -> Series:
    off = -np.diff(size, prepend=size[0])
    passes = near / max(near.sum(), 1e-9) * len(one.infeeds)
    heat = one.heat * off + one.friction * passes
    core, shown = 0.0, 0.0
    keep, reach = exp(-BEAT / one.cools), 1.0 - exp(-BEAT / one.late)
    found = np.empty(len(t))
    for n, came in enumerate(heat):
        core = core * keep + came
        shown += (core - shown) * reach
        found[n] = shown
    return found


def _sent(
    one: Stiff, gauge: StiffGauge, part: tuple[Series, ...], random: np.random.Generator
) -> Iterator[RideSample]:
    t, shown, near, paused = part
    fine = max(gauge.rate, 50.0)
    at = np.arange(0.0, t[-1] - 0.1, 1.0 / fine)
    count = len(at)
    level, close = np.interp(at, t, shown), np.interp(at, t, near)
    still = np.interp(at, t, paused) > 0.5
    speed = gauge.turns * (1.0 + 0.002 * np.cumsum(random.standard_normal(count)) / fine**0.5)
    speed = np.where(still, 0.0, speed) if one.stops else speed
    phase = float(random.uniform()) + np.cumsum(speed) / fine
    for n, a in enumerate(gauge.lobes, 1):
        level = level + a * np.sin(2.0 * np.pi * n * phase + n * n)
    turn = np.abs((phase % 1.0) - 0.5)
    if gauge.keyway:
        level = level - gauge.depth * np.clip((gauge.keyway / 2.0 - turn) / 0.01, 0.0, 1.0)
    level = level + np.where(still, -gauge.coolant, 0.0) + gauge.drift * at / 3600.0
    level = level + _disturbed(gauge, count, fine, still, random)
    tails = random.standard_t(4, count) / 2.0**0.5
    level = level + gauge.noise * (1.0 + close) * tails
    wander = _filtered(random.standard_normal(count), fine * 15.0, 0.0) * (fine * 30.0) ** 0.5
    level = level + gauge.wanders * wander
    if gauge.filters:
        level = _filtered(level, gauge.filters * fine)
    due = np.flatnonzero(np.diff(np.floor(at * gauge.rate), prepend=-1.0) > 0.0)
    for i in due:
        if random.uniform() >= gauge.missing:
            value = round((level[i] + gauge.offset) / gauge.resolution) * gauge.resolution
            yield RideSample(float(at[i] + 0.004 * random.standard_exponential()), round(value, 7))


def _disturbed(
    gauge: StiffGauge, count: int, fine: float, still: NDArray[np.bool_], random: np.random.Generator
) -> Series:
    """Chips under the finger, and coolant in bursts; mm."""
    found = np.zeros(count)
    for i in np.flatnonzero(random.uniform(size=count) < gauge.chips / fine):
        lasts = int(fine * float(random.exponential(0.4)))
        found[i : i + 1 + lasts] += float(random.exponential(0.01))
    for i in np.flatnonzero(random.uniform(size=count) < gauge.bursts / fine):
        lasts = 1 + int(fine * float(random.uniform(0.1, 1.0)))
        hits = random.uniform(size=lasts) < 0.3
        span = found[i : i + lasts]
        span += (hits * random.uniform(-0.02, 0.005, lasts))[: len(span)]
    return np.where(still, 0.0, found)


def _filtered(values: Series, beats: float, begins: float | None = None) -> Series:
    """Through a filter of one time constant that begins at *begins*; None: at the first value."""
    share = 1.0 - exp(-1.0 / beats)
    found, now = np.empty(len(values)), float(values[0]) if begins is None else begins
    for i, value in enumerate(values.tolist()):
        now += (value - now) * share
        found[i] = now
    return found


def any_stiff(seed: int, rate: float) -> tuple[Stiff, StiffGauge]:
    """A grind and its gauge drawn generously; two gauges of five touch one side only."""
    random = np.random.default_rng([seed, 22])
    uniform = random.uniform
    infeeds = tuple(_hands(random))
    one = Stiff(
        size=float(uniform(54.95, 55.15)),
        infeeds=infeeds,
        share=float(uniform(0.35, 0.75)),
        power=float(uniform(0.9, 1.2)),
        rubs=float(uniform(0.0, 0.003)),
        wears=float(uniform(0.0, 0.1)),
        uneven=float(uniform(0.0, 0.1)),
        stroke=float(uniform(4.0, 25.0)),
        tarry=(float(uniform(0.3, 4.0)), float(uniform(0.3, 4.0))),
        place=float(uniform(0.2, 0.8)),
        width=float(uniform(0.12, 0.4)),
        pauses=tuple(
            (number, float(uniform(15.0, 120.0)))
            for number in range(len(infeeds) - 1)
            if random.random() < 0.12
        ),
        stops=bool(random.random() < 0.4),
        begins=float(uniform(12.0, 40.0)),
        heat=float(uniform(0.0, 0.08)),
        friction=float(uniform(0.0, 0.0002)),
        cools=float(uniform(30.0, 150.0)),
        late=float(uniform(0.5, 5.0)),
    )
    return one, _any_gauge(random, rate)


def _hands(random: np.random.Generator) -> Iterator[float]:
    """What is fed for each pass: the habits of some hands, on a dial of whole or half micrometres."""
    dial = float(random.choice([0.001, 0.0005]))
    feed = float(random.uniform(0.003, 0.012))
    feeds, rests = [(1, 0), (3, 2), (1, 1), (2, 1)][int(random.integers(4))]
    for _ in range(int(random.integers(4, 9)) // feeds + 1):
        for _ in range(feeds):
            yield max(round(feed * float(random.uniform(0.8, 1.2)) / dial), 2) * dial
        for _ in range(rests):
            yield 0.0
    for _ in range(int(random.integers(0, 3))):
        yield float(random.choice([0.001, 0.002, 0.003]))
    for _ in range(int(random.integers(4, 10))):
        yield 0.0


def _any_gauge(random: np.random.Generator, rate: float) -> StiffGauge:
    uniform, sided = random.uniform, bool(random.random() < 0.4)
    turns = float(uniform(0.7, 4.0))
    if random.random() < 0.2:  # nearly in time with the readings
        turns = rate / round(rate / turns) * (1.0 + float(uniform(-0.01, 0.01)))
    once = float(uniform(0.0005, 0.005)) if sided else float(uniform(0.0, 0.0002))
    keyed = bool(random.random() < 0.25)
    return StiffGauge(
        rate=rate,
        resolution=float(random.choice([0.001, 0.0005, 0.0001])),
        noise=float(uniform(0.00005, 0.0004)),
        wanders=float(uniform(0.0, 0.0001)),
        # nobody rides over a keyway with a gauge that averages it in
        filters=0.0 if keyed else float(random.choice([0.0, 0.1, 0.5])),
        turns=turns,
        lobes=(once, float(uniform(0.0, 0.001)), float(uniform(0.0, 0.0003)), float(uniform(0.0, 0.0002))),
        keyway=float(uniform(0.03, 0.2)) if keyed else 0.0,
        depth=float(10.0 ** uniform(-1.3, 0.3)),
        chips=float(uniform(0.0, 0.05)),
        bursts=float(uniform(0.0, 0.05)),
        push=float(uniform(0.05, 0.3)) if sided else float(uniform(0.0, 0.05)),
        coolant=float(random.choice([0.0, 0.0, 0.0005])),
        drift=float(uniform(-0.002, 0.002)),
        missing=float(uniform(0.0, 0.05)),
        offset=float(random.choice([0.0, -55.0])),
    )
