"""A bore gauge that nobody rocks: streams of which not one reading should be accepted.

Lying still, hanging in air, knocked thirty times a minute, trembling, held by an unsteady hand, wandering;
noise 0.4 µm, resolution 1 µm. All is drawn from one seed a stream.
"""

from __future__ import annotations

from collections.abc import Callable
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.signal import lfilter

from capture.benchmarks.trials.placing.sweep import NOMINAL, accepted
from capture.sheet.stream_settings import SweepSettings as Limits
from capture.state.sweep.sweep_state import setup

Curve = NDArray[np.float64]
KNOCKS = 0.5
"""A second."""

UNROCKED: dict[str, str] = {
    "still": "lying still",
    "drifting": "slow drift and a slow wave",
    "air": "far above the bore's size",
    "air nearby": "0.3 mm above it, wandering",
    "restless air": "0.5 mm above it, restless",
    "white": "noise of 10 µm",
    "trembling": "3 µm at 8.3 Hz",
    "unsteady": "leaning by 2 degrees with a tremor of 5 to 9 Hz",
    "knocked": "30 steps of one to five readings a minute",
    "jolted": "30 jolts a minute that die away",
    "pulsed": "30 steps of up to 0.6 s a minute",
    "wandering": "a random walk of 10 µm in a second",
    "creeping": "a random walk of 3 µm in a second",
    "smooth": "wandering smoothly by 30 µm",
    "sliding": "slid along the bore, leaning, knocked 10 times a minute",
}
"""Kinds of streams, and what each is."""


def unrocked(kind: str, rate: float, seed: int, *, seconds: float = 60.0) -> int:
    """How many readings were accepted of a stream of *kind* at *rate* a second; there should be none.

    Raises:
        ValueError: There is no such stream.
    """
    if kind not in UNROCKED:
        raise ValueError(f"no such stream: {kind}, due one of {', '.join(UNROCKED)}")
    random = np.random.default_rng([seed, list(UNROCKED).index(kind), round(rate)])
    t = np.arange(int(seconds * rate)) / rate
    values = NOMINAL + _STREAMS[kind](t, random) + random.normal(0.0, 0.0004, len(t))
    shown = np.round(values * 1000.0) / 1000.0
    rules = setup(Limits(), 0.001, None, NOMINAL)
    return len(accepted(zip(t.tolist(), shown.tolist(), strict=True), rules)[0])


def an_hour(kind: str, rate: float, hours: float, *, seed: int = 0) -> float:
    """How many readings are accepted in an hour of a stream of *kind*, over ten minutes at a time."""
    streams = max(1, round(6 * hours))
    seconds = 3600.0 * hours / streams
    return sum(unrocked(kind, rate, seed + number, seconds=seconds) for number in range(streams)) / hours


def _still(t: Curve, _: np.random.Generator) -> Curve:
    return np.zeros_like(t)


def _drifting(t: Curve, _: np.random.Generator) -> Curve:
    drift: Curve = 0.002 * np.sin(0.1 * t) + 0.0001 * t
    return drift


def _nearby(t: Curve, random: np.random.Generator) -> Curve:
    return 0.3 + 0.03 * _wandered(t, random, 0.5)


def _trembling(t: Curve, _: np.random.Generator) -> Curve:
    tremor: Curve = 0.003 * np.sin(2 * pi * 8.3 * t)
    return tremor


def _unsteady(t: Curve, random: np.random.Generator) -> Curve:
    tremor = np.sin(2 * pi * random.uniform(5.0, 9.0) * t) * (1.0 + 0.3 * _wandered(t, random, 0.5))
    return _leaning(2.0 + 0.4 * tremor + 0.3 * _wandered(t, random, 2.0))


def _knocked(t: Curve, random: np.random.Generator) -> Curve:
    shown = np.zeros_like(t)
    for place in random.integers(0, len(t) - 8, int(KNOCKS * t[-1])):
        shown[place : place + int(random.integers(1, 6))] += random.normal(0.0, 0.03)
    return shown


def _jolted(t: Curve, random: np.random.Generator, often: float = KNOCKS) -> Curve:
    shown = np.zeros_like(t)
    for at in random.uniform(0.0, t[-1], random.poisson(often * t[-1])):
        since = t[(t >= at) & (t < at + 0.5)] - at
        high = random.uniform(0.01, 0.06) * random.choice((-1, 1))
        jolt = np.cos(random.uniform(20, 80) * since) * np.exp(-random.uniform(8, 20) * since)
        shown[(t >= at) & (t < at + 0.5)] += high * jolt
    return shown


def _pulsed(t: Curve, random: np.random.Generator) -> Curve:
    shown = np.zeros_like(t)
    for at in random.uniform(0.0, t[-1], random.poisson(KNOCKS * t[-1])):
        shown[(t >= at) & (t < at + random.uniform(0.02, 0.6))] += random.normal(0.0, 0.03)
    return shown


def _wandering_by(step: float) -> Callable[[Curve, np.random.Generator], Curve]:
    def walked(t: Curve, random: np.random.Generator) -> Curve:
        return np.cumsum(random.normal(0.0, step * np.sqrt(t[1] - t[0]), len(t)))

    return walked


def _smooth(t: Curve, random: np.random.Generator) -> Curve:
    rough = random.standard_normal(len(t))
    curve: Curve = gaussian_filter1d(rough, random.uniform(0.1, 0.4) / (t[1] - t[0]))
    smooth: Curve = 0.03 * curve / curve.std()
    return smooth


def _sliding(t: Curve, random: np.random.Generator) -> Curve:
    along = 0.01 * np.sin(0.4 * t)
    return along + _leaning(2.5 + 0.8 * _wandered(t, random, 1.0)) + _jolted(t, random, KNOCKS / 3)


def _leaning(degrees: Curve) -> Curve:
    """What a lean makes of the bore, less the bore: D theta² / 2."""
    more: Curve = NOMINAL * np.radians(degrees) ** 2 / 2.0
    return more


def _wandered(t: Curve, random: np.random.Generator, memory: float) -> Curve:
    """Standard normal, forgetting with a time constant of *memory* seconds (Ornstein and Uhlenbeck)."""
    keep = np.exp(-(t[1] - t[0]) / memory)
    steps = random.standard_normal(len(t)) * np.sqrt(1.0 - keep**2)
    steps[0] = random.standard_normal()
    curve: Curve = lfilter([1.0], [1.0, -keep], steps)
    return curve


_STREAMS: dict[str, Callable[[Curve, np.random.Generator], Curve]] = {
    "still": _still,
    "drifting": _drifting,
    "air": lambda t, random: 0.8 + _still(t, random),
    "air nearby": _nearby,
    "restless air": lambda t, random: 0.5 + random.normal(0.0, 0.02, len(t)),
    "white": lambda t, random: random.normal(0.0, 0.01, len(t)),
    "trembling": _trembling,
    "unsteady": _unsteady,
    "knocked": _knocked,
    "jolted": _jolted,
    "pulsed": _pulsed,
    "wandering": _wandering_by(0.01),
    "creeping": _wandering_by(0.003),
    "smooth": _smooth,
    "sliding": _sliding,
}
