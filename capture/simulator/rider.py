"""A diameter gauge that rides on a part while it is ground, with the truth beside it.

Invented physics, apart from `capture.simulator.grinder`'s: the table strokes, the wheel goes by the gauge's
place in each stroke and takes the share K of what stands there off in a ramp as long as the wheel is wide.
What the gauge shows besides: run-out and ovality of the turning part, a keyway, chips and drops, heat, drift,
and the push of the wheel on the part. Diameters and infeeds on diameter, mm; times seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, exp, pi, sin

import numpy as np
from msgspec import Struct


class Ride(Struct, frozen=True, kw_only=True):
    """One grind, and how it is seen."""

    size: float = 55.040
    share: float = 0.5
    infeeds: tuple[float, ...] = (0.004,) * 5 + (0.0,) * 6
    stroke: float = 15.0
    """Seconds of a stroke."""
    place: float = 0.4
    """Share of the part's length at which the gauge rides."""
    width: float = 2.0
    """Seconds in which the wheel goes by."""
    begins: float = 10.0
    pauses: tuple[tuple[int, float], ...] = ()
    """Passes after which the wheel is drawn back, and for how many seconds."""
    lifts: bool = False
    """The gauge is lifted in the pauses."""
    rate: float = 10.0
    noise: float = 0.0003
    rougher: float = 1.5
    """The noise while the wheel is by, times."""
    resolution: float = 0.001
    turns: float = 2.1
    """Revolutions of the part a second."""
    runout: float = 0.0
    """Amplitude once a turn, as it shows."""
    oval: float = 0.0
    """Amplitude twice a turn."""
    keyway: float = 0.0
    """Share of the turn that it takes."""
    depth: float = 0.3
    spikes: float = 0.0
    """Chance of a spoilt reading."""
    push: float = 0.0
    """Shown of what stands in the part while the wheel is on it, as a share: the part gives way."""
    heat: float = 0.0
    """Growth a pass, mm, and"""
    cools: float = 60.0
    """seconds in which it is gone but for 1/e."""
    drift: float = 0.0
    """mm a second."""
    offset: float = 0.0
    """What the gauge shows less the size."""


class RideSample(Struct, frozen=True):
    """One reading."""

    at: float
    value: float


class RidePass(Struct, frozen=True):
    """One pass as it truly was."""

    at: float
    """When the middle of the wheel was at the gauge's place."""
    infeed: float
    removed: float
    size: float
    """Cold size of the place after it."""
    to_come: float
    """What passes without infeed would still take off."""


def passes_of(ride: Ride) -> tuple[RidePass, ...]:
    """When the wheel goes by, and what it takes off."""
    standing, size, t = 0.0, ride.size, ride.begins
    made: list[RidePass] = []
    pauses = dict(ride.pauses)
    for number, infeed in enumerate(ride.infeeds):
        standing += infeed
        removed = ride.share * standing
        standing -= removed
        size -= removed
        along = ride.place if number % 2 == 0 else 1.0 - ride.place
        made.append(RidePass(t + along * ride.stroke, infeed, removed, size, standing))
        t += ride.stroke + pauses.get(number, 0.0)
    return tuple(made)


def stands(ride: Ride, passes: tuple[RidePass, ...], t: float) -> tuple[float, float, float]:
    """Cold size at the place, what stands in the part under the wheel, and how near the wheel is (0 to 1)."""
    size, standing, near = ride.size, 0.0, 0.0
    for one in passes:
        x = (t - one.at) / ride.width + 0.5
        if x <= 0.0:
            break
        gone = min(x, 1.0)
        size = one.size + one.removed * (1.0 - gone)
        if x < 1.0:
            near = sin(pi * x)
            standing = one.to_come + one.removed
    return size, standing, near


def ride_seconds(ride: Ride) -> float:
    """How long it lasts."""
    return passes_of(ride)[-1].at + ride.stroke + 10.0


def samples_of(ride: Ride, seed: int) -> Iterator[RideSample]:
    """What the gauge sends from beginning to end."""
    random = np.random.default_rng(seed)
    passes = passes_of(ride)
    warm, before, phase = 0.0, 0.0, float(random.uniform(0, 1))
    grown = 0
    away = _away(ride, passes)
    for number in range(int(ride_seconds(ride) * ride.rate)):
        t = number / ride.rate
        size, standing, near = stands(ride, passes, t)
        warm *= exp(-(t - before) / ride.cools)
        while grown < len(passes) and passes[grown].at < t:
            warm, grown = warm + ride.heat, grown + 1
        phase += (t - before) * ride.turns * (1.0 + 0.002 * float(random.standard_normal()))
        before = t
        value = size + warm + ride.drift * t + ride.push * standing * near
        value += ride.runout * cos(2 * pi * phase) + ride.oval * cos(4 * pi * phase)
        value += ride.noise * (1.0 + (ride.rougher - 1.0) * near) * float(random.standard_normal())
        if phase % 1.0 < ride.keyway:
            value -= ride.depth
        if random.random() < ride.spikes:
            value += float(random.choice([-1.0, 1.0, 1.0])) * float(random.uniform(0.003, 0.1))
        if any(start < t < end for start, end in away):
            value += 1.5
        value += ride.offset
        yield RideSample(t, round(value / ride.resolution) * ride.resolution)


def _away(ride: Ride, passes: tuple[RidePass, ...]) -> list[tuple[float, float]]:
    """From when to when the gauge is lifted."""
    if not ride.lifts:
        return []
    return [
        (passes[number].at + 0.6 * ride.stroke, passes[number].at + 0.6 * ride.stroke + 0.8 * seconds)
        for number, seconds in ride.pauses
    ]


def _drawn_infeeds(random: np.random.Generator, fed: int, rests: int, feed: float) -> tuple[float, ...]:
    """Infeeds of about *feed* (mm) and as many spark-out strokes as *rests*; sometimes a second time."""
    infeeds = tuple(float(feed * random.uniform(0.7, 1.3)) for _ in range(fed)) + (0.0,) * rests
    if random.random() < 0.3:
        more = tuple(float(random.uniform(0.002, 0.005)) for _ in range(int(random.integers(1, 3))))
        infeeds = infeeds + more + (0.0,) * int(random.integers(2, 6))
    return infeeds


def any_ride(seed: int, rate: float) -> Ride:
    """A grind drawn generously."""
    random = np.random.default_rng([seed, 4])
    uniform = random.uniform
    fed = int(random.integers(3, 9))
    rests = int(random.integers(2, 9))
    feed = float(uniform(0.002, 0.010))
    sided = bool(random.random() < 0.5)
    infeeds = _drawn_infeeds(random, fed, rests, feed)
    stroke = float(uniform(6.0, 35.0))
    pauses = tuple(
        (number, float(uniform(20.0, 120.0))) for number in range(len(infeeds) - 1) if random.random() < 0.15
    )
    return Ride(
        size=float(uniform(54.9, 55.2)),
        share=float(uniform(0.3, 0.75)),
        infeeds=infeeds,
        stroke=stroke,
        place=float(uniform(0.3, 0.7)),
        width=stroke * float(uniform(0.08, 0.3)),
        begins=float(uniform(8.0, 30.0)),
        pauses=pauses,
        lifts=bool(random.random() < 0.3),
        rate=rate,
        noise=float(uniform(0.0001, 0.0004)),
        rougher=float(uniform(1.0, 3.0)),
        resolution=float(random.choice([0.001, 0.0005, 0.0001])),
        turns=float(uniform(0.8, 4.5)),
        runout=float(uniform(0.0, 0.003)) if sided else 0.0,
        oval=float(uniform(0.0, 0.001)),
        keyway=float(uniform(0.05, 0.2)) if random.random() < 0.25 else 0.0,
        depth=float(uniform(0.03, 0.8)),
        spikes=float(uniform(0.0, 0.03)),
        push=float(uniform(0.05, 0.4)) if sided else float(uniform(0.0, 0.08)),
        heat=float(uniform(0.0, 0.0004)),
        cools=float(uniform(40.0, 90.0)),
        drift=float(uniform(-1.0, 1.0)) * 0.001 / 3600.0,
        offset=float(random.choice([0.0, -55.0])),
    )
