"""Plunges under a gauge that rides on the part, with the truth beside them.

`plain`: the textbook's machine, a first-order lag (King and Hahn; Malkin and Guo, "Grinding Technology"):
the rate of removal is what stands in the spring over the time constant. `apart`: a wheel that rubs only below
a force and cuts by a power of it, a second spring that is slower, coarse and then finer infeed, and heat that
follows what is cut. What the gauge shows besides: run-out, ovality, chips, noise in colours, drift.
Diameters, mm; seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import exp

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from capture.simulator.rider import RideSample

Series = NDArray[np.float64]
BEAT = 0.02
"""Seconds of one step of the physics."""


class RiddenPlunge(Struct, frozen=True, kw_only=True):
    """One plunge and its gauge."""

    size: float = 55.04
    begins: float = 15.0
    feeds: tuple[tuple[float, float], ...] = ((0.001, 40.0),)
    """Rate of infeed, mm a second, and for how long; one after the other."""
    dwell: float = 60.0
    after: float = 15.0
    """Seconds that the part turns on after the wheel has left."""
    tau: float = 6.0
    """Time constant where the wheel cuts a depth of 2 µm."""
    power: float = 1.0
    """Of the removal by the force."""
    rubs: float = 0.0
    """mm of the spring under which the wheel only rubs."""
    slow: float = 0.0
    """Share of the deflection that is a slower spring's, of"""
    late: float = 20.0
    """seconds."""
    heat: float = 0.0
    """Growth for each mm cut."""
    cools: float = 60.0
    """Seconds."""
    rate: float = 10.0
    noise: float = 0.0003
    wanders: float = 0.0
    """mm; of noise of some seconds."""
    resolution: float = 0.0001
    turns: float = 2.1
    runout: float = 0.001
    oval: float = 0.0003
    spikes: float = 0.0
    drift: float = 0.0
    """mm a second."""
    offset: float = 0.0


class PlungeTruth(Struct, frozen=True):
    """What truly happened."""

    size: float
    begins: float
    stops: float
    """When the last infeed stops, and"""
    leaves: float
    """when the wheel leaves."""
    times: Series
    to_come: Series
    """What the dwell would still take at each time, mm."""
    cold: Series
    """Cold size at each time."""
    tau: float


def plunged(one: RiddenPlunge, seed: int) -> tuple[PlungeTruth, Iterator[RideSample]]:
    """The truth of one plunge, and what its gauge sends."""
    stops = one.begins + sum(seconds for _, seconds in one.feeds)
    leaves = stops + one.dwell
    t = np.arange(0.0, leaves + one.after, BEAT)
    cold, spring, grown = _ground(one, t, leaves)
    come = np.maximum(spring - one.rubs * (1.0 + one.slow), 0.0)
    truth = PlungeTruth(one.size, one.begins, stops, leaves, t, come, cold, one.tau)
    return truth, _sent(one, t, cold + grown, seed)


def _ground(one: RiddenPlunge, t: Series, leaves: float) -> tuple[Series, Series, Series]:
    """Cold size, what stands in the springs, and growth."""
    ends = np.cumsum([seconds for _, seconds in one.feeds]) + one.begins
    size, spring, held, warm = one.size, 0.0, 0.0, 0.0
    found = np.empty((3, len(t)))
    for n, now in enumerate(t.tolist()):
        stage = int(np.searchsorted(ends, now, side="right"))
        fed = one.feeds[stage][0] if now >= one.begins and stage < len(ends) else 0.0
        on = now < leaves
        over = max(spring - one.rubs, 0.0)
        cut = over * (over / 0.002) ** (one.power - 1.0) / one.tau * BEAT if on and over > 1e-9 else 0.0
        cut = min(cut, over)
        # the slower spring takes up a share of the deflection, and gives it back
        taken = (one.slow * spring - held) * (1.0 - exp(-BEAT / one.late))
        held += taken
        spring += fed * BEAT - cut - taken if on else 0.0
        size -= cut
        warm = warm * exp(-BEAT / one.cools) + one.heat * cut
        found[:, n] = size, max(spring + held, 0.0), warm
    return found[0], found[1], found[2]


def _sent(one: RiddenPlunge, t: Series, shown: Series, seed: int) -> Iterator[RideSample]:
    random = np.random.default_rng([seed, 31])
    at = np.arange(0.0, t[-1], 1.0 / one.rate)
    phase = (
        random.uniform() + np.cumsum(one.turns * (1.0 + 0.002 * random.standard_normal(len(at)))) / one.rate
    )
    level = np.interp(at, t, shown) + one.drift * at + one.offset
    level += one.runout * np.cos(2.0 * np.pi * phase) + one.oval * np.cos(4.0 * np.pi * phase + 1.0)
    level += one.noise * random.standard_normal(len(at))
    wander = 0.0
    keep = exp(-1.0 / (3.0 * one.rate))
    for n, a in enumerate(at.tolist()):
        wander = wander * keep + one.wanders * (1.0 - keep**2) ** 0.5 * float(random.standard_normal())
        value = float(level[n]) + wander
        if random.uniform() < one.spikes:
            value += float(random.choice([-1.0, 1.0, 1.0])) * float(random.uniform(0.003, 0.1))
        yield RideSample(a, round(round(value / one.resolution) * one.resolution, 7))


def any_plain(seed: int, rate: float) -> RiddenPlunge:
    """A plunge of the textbook's machine, drawn by *seed*."""
    random = np.random.default_rng([seed, 32])
    uniform = random.uniform
    tau = exp(uniform(np.log(1.0), np.log(12.0)))
    feed = exp(uniform(np.log(0.0003), np.log(0.003)))
    long = max(15.0 + 2.0 * tau, float(uniform(15.0, 90.0)))
    return RiddenPlunge(
        size=float(uniform(54.95, 55.15)),
        begins=float(uniform(13.0, 30.0)),
        feeds=((feed, long),),
        dwell=tau * (np.log(max(feed * tau / 0.0005, 1.0)) + float(uniform(1.0, 4.0))) + 12.0,
        tau=tau,
        rate=rate,
        noise=float(uniform(0.0002, 0.0004)),
        resolution=float(random.choice([0.001, 0.0005, 0.0001])),
        turns=float(uniform(0.8, 4.5)),
        runout=float(uniform(0.0, 0.003)),
        oval=float(uniform(0.0, 0.001)),
        spikes=float(uniform(0.0, 0.02)),
        drift=float(uniform(-1.0, 1.0)) * 0.001 / 3600.0,
        offset=float(random.choice([0.0, -55.0])),
    )


def any_plunge_apart(seed: int, rate: float) -> RiddenPlunge:
    """A plunge of physics that the fit does not know, drawn by *seed*."""
    random = np.random.default_rng([seed, 33])
    uniform = random.uniform
    one = any_plain(seed + 1_000_003, rate)
    feed, long = one.feeds[0]
    finer = ((feed * float(uniform(0.15, 0.4)), float(uniform(6.0, 30.0))),) if random.random() < 0.4 else ()
    return RiddenPlunge(
        size=one.size,
        begins=one.begins,
        feeds=((feed, long), *finer),
        dwell=one.dwell + float(uniform(0.0, 40.0)),
        tau=one.tau,
        power=float(uniform(0.85, 1.15)),
        rubs=float(uniform(0.0, 0.002)),
        slow=float(uniform(0.0, 0.2)),
        late=float(uniform(8.0, 30.0)),
        heat=float(uniform(0.0, 0.04)),
        cools=float(uniform(30.0, 120.0)),
        rate=rate,
        noise=one.noise,
        wanders=float(uniform(0.0, 0.0001)),
        resolution=one.resolution,
        turns=one.turns,
        runout=one.runout,
        oval=one.oval,
        spikes=one.spikes,
        drift=one.drift,
        offset=one.offset,
    )
