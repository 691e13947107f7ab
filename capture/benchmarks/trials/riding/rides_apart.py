"""Grinds under a riding gauge by physics apart from those of `capture.simulator.rider`.

The detector was not fitted to them. Metal comes off as the wheel passes the place, at a rate in proportion to
what stands under it, so that a pass takes ``1 - exp(-time under the wheel / time constant)`` of it. The table
rests at its ends, goes back at another pace and pauses; it feeds at both ends or at one. The part bends under
the wheel wherever the wheel is, which a gauge of one side shows. Heat comes with what is taken off and with
rubbing, and spreads from the skin to the core; the gauge drifts at random; noise is coloured; run-out wanders
in frequency and has three lobes; a keyway has slopes; chips lift the finger and let it down slowly; coolant
pushes it for a few readings; readings are late and some are missing. Invented; lengths mm on diameter, times
seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, exp, pi, sin

import numpy as np
from msgspec import Struct

from capture.benchmarks.trials.riding.ride_truth import GrindTruth, TruePass
from capture.simulator.rider import RideSample

BEAT = 0.02
"""Seconds of a step of the physics."""


class Apart(Struct, frozen=True, kw_only=True):
    """One grind, and how it is seen."""

    size: float
    infeeds: tuple[float, ...]
    stroke: float
    """Seconds of a stroke one way, its rest at the end left out."""
    back: float
    """The stroke back, times."""
    tarry: float
    """Seconds at an end."""
    place: float
    """Share of the part's length at which the gauge rides."""
    width: float
    """Of the wheel, as a share of the part's length."""
    share: float
    """Of what stands, that a pass takes."""
    dulls: float
    """Of its share that the wheel loses a pass."""
    bite: float
    """Standard deviation of the logarithm of how fast a pass cuts."""
    pauses: tuple[tuple[int, float], ...]
    begins: float
    rate: float
    resolution: float
    noise: float
    colour: float
    """Of a reading's noise that the next one has as well."""
    rougher: float
    turns: float
    lobes: tuple[float, float, float]
    """Amplitudes once, twice and three times a turn."""
    keyway: float
    depth: float
    chips: float
    """A second."""
    coolant: float
    """Pushes of the finger a second."""
    bends: float
    """Shown of what stands, with the wheel at the gauge."""
    heat: float
    """Growth for each mm taken off."""
    rubs: float
    """Growth for each pass whatever it takes."""
    skin: float
    """Seconds in which the skin's heat goes to the core, and"""
    cools: float
    """the core's to the coolant."""
    drift: float
    """Of the gauge, mm after an hour, standard deviation."""
    missing: float
    offset: float


def grind_of(one: Apart, seed: int) -> tuple[GrindTruth, Iterator[RideSample]]:
    """The truth of one grind and what its gauge sends."""
    random = np.random.default_rng([seed, 11])
    path = _path(one)
    cold, bend, near, grown, made = _cut(one, path, random)
    truth = GrindTruth(one.size, tuple(made), stroke=one.stroke + one.tarry, begins=one.begins)
    return truth, _seen(one, cold, bend, near, grown, random)


def _path(one: Apart) -> list[tuple[float, float, float]]:
    """When each pass begins and ends, and at which end of the part it begins."""
    t, found, pauses = one.begins, [], dict(one.pauses)
    for number in range(len(one.infeeds)):
        lasts = one.stroke * (1.0 if number % 2 == 0 else one.back)
        found.append((t, t + lasts, float(number % 2)))
        t += lasts + one.tarry + pauses.get(number, 0.0)
    return found


def _cut(
    one: Apart, path: list[tuple[float, float, float]], random: np.random.Generator
) -> tuple[list[float], list[float], list[float], list[float], list[TruePass]]:
    beats = int((path[-1][1] + one.stroke + 12.0) / BEAT)
    size, standing, skin, core, share = one.size, 0.0, 0.0, 0.0, one.share
    number, before, begun, speed = -1, one.size, False, 1.0
    cold, bend, near, grown, made = [], [], [], [], []
    for beat in range(beats):
        t = beat * BEAT
        at, wheel = 0.0, None
        if number + 1 < len(path) and t >= path[number + 1][0]:
            number += 1
            if number:
                share *= 1.0 - one.dulls
            standing += one.infeeds[number]
            begun, before = False, size
            speed = float(np.exp(one.bite * random.standard_normal()))
        if number >= 0 and t <= path[number][1]:
            start, end, side = path[number]
            x = (t - start) / (end - start)
            wheel = abs(side - x)
            at = abs(wheel - one.place)
        close = 0.0
        if wheel is not None and at < one.width / 2.0:
            under = one.width * (path[number][1] - path[number][0])
            off = standing * (1.0 - exp(speed * np.log(1.0 - share) * BEAT / under))
            size, standing = size - off, standing - off
            skin += one.heat * off + one.rubs * BEAT / under
            close, begun = 1.0, True
        elif begun:
            start, end, side = path[number]
            middle = start + abs(side - one.place) * (end - start)
            rest = standing * share
            made.append(TruePass(middle, one.infeeds[number], before - size, size, standing, rest))
            begun = False
        core += (skin - core) * BEAT / one.skin * 0.3 - core * BEAT / one.cools
        skin -= (skin - core) * BEAT / one.skin
        cold.append(size)
        grown.append(0.5 * (skin + core))
        near.append(close)
        bend.append(0.0 if wheel is None else one.bends * standing * max(0.0, cos(0.5 * pi * at / 0.9)))
    return cold, bend, near, grown, made


def _seen(
    one: Apart,
    cold: list[float],
    bend: list[float],
    near: list[float],
    grown: list[float],
    random: np.random.Generator,
) -> Iterator[RideSample]:
    phase, noise, drift, chip, push, before = float(random.uniform()), 0.0, 0.0, 0.0, 0, 0.0
    fresh = (1.0 - one.colour**2) ** 0.5
    t, turns = 0.0, one.turns
    while True:
        t += (1.0 + 0.05 * float(random.uniform(-1.0, 1.0))) / one.rate
        beat = int(t / BEAT)
        if beat >= len(cold):
            return
        gap, before = t - before, t
        turns += (one.turns - turns) * 0.1 * gap + 0.003 * one.turns * gap**0.5 * float(
            random.standard_normal()
        )
        phase += turns * gap
        noise = one.colour * noise + fresh * float(random.standard_normal())
        drift += one.drift * (gap / 3600.0) ** 0.5 * float(random.standard_normal())
        chip *= exp(-gap / 0.15)
        if random.random() < one.chips * gap:
            chip += float(random.uniform(0.004, 0.06))
        if random.random() < one.coolant * gap:
            push = int(random.integers(1, 1 + max(1, int(0.2 * one.rate))))
        value = cold[beat] + bend[beat] + grown[beat] + drift + chip
        value += sum(a * cos(2 * pi * (n * phase + 0.1 * n)) for n, a in enumerate(one.lobes, 1))
        value += one.noise * (1.0 + (one.rougher - 1.0) * near[beat]) * noise
        if push > 0:
            push, value = push - 1, value + float(random.uniform(-0.03, 0.01))
        turn = phase % 1.0
        if turn < one.keyway:
            value -= one.depth * min(1.0, 6.0 * sin(pi * turn / one.keyway))
        if random.random() < one.missing:
            continue
        value += one.offset
        yield RideSample(t, round(value / one.resolution) * one.resolution)


def any_apart(seed: int, rate: float) -> Apart:
    """A grind drawn generously; every third gauge touches one side only."""
    random = np.random.default_rng([seed, 12])
    uniform = random.uniform
    feed, rests = float(uniform(0.002, 0.012)), int(random.integers(3, 9))
    one_end = bool(random.random() < 0.25)
    fed = [
        0.0 if one_end and number % 2 else feed * float(uniform(0.85, 1.15))
        for number in range(int(random.integers(4, 11)))
    ]
    last = float(uniform(0.001, 0.004))
    fine = [last] * int(random.integers(0, 3))
    infeeds = (*fed, *fine, *(0.0,) * rests)
    sided = seed % 3 == 0
    runout = float(uniform(0.0005, 0.004)) if sided else float(uniform(0.0, 0.0002))
    return Apart(
        size=float(uniform(54.9, 55.2)),
        infeeds=infeeds,
        stroke=float(uniform(5.0, 30.0)),
        back=float(uniform(0.8, 1.2)),
        tarry=float(uniform(0.2, 3.0)),
        place=float(uniform(0.25, 0.75)),
        width=float(uniform(0.1, 0.35)),
        share=float(uniform(0.3, 0.75)),
        dulls=float(uniform(0.0, 0.015)),
        bite=float(uniform(0.02, 0.08)),
        pauses=tuple(
            (number, float(uniform(15.0, 90.0)))
            for number in range(len(infeeds) - 1)
            if random.random() < 0.1
        ),
        begins=float(uniform(10.0, 30.0)),
        rate=rate,
        resolution=float(random.choice([0.001, 0.0005, 0.0001])),
        noise=float(uniform(0.0001, 0.0005)),
        colour=float(uniform(0.0, 0.6)),
        rougher=float(uniform(1.0, 3.0)),
        turns=float(uniform(0.6, 5.0)),
        lobes=(runout, float(uniform(0.0, 0.001)), float(uniform(0.0, 0.0006))),
        keyway=float(uniform(0.05, 0.2)) if random.random() < 0.25 else 0.0,
        depth=float(uniform(0.05, 0.6)),
        chips=float(uniform(0.0, 0.1)),
        coolant=float(uniform(0.0, 0.1)),
        bends=float(uniform(0.05, 0.3)) if sided else float(uniform(0.0, 0.05)),
        heat=float(uniform(0.0, 0.1)),
        rubs=float(uniform(0.0, 0.0002)),
        skin=float(uniform(2.0, 8.0)),
        cools=float(uniform(40.0, 120.0)),
        drift=float(uniform(0.0, 0.001)),
        missing=float(uniform(0.0, 0.03)),
        offset=float(random.choice([0.0, -55.0])),
    )
