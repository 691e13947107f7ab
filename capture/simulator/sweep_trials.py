"""Trials of the sweep: hundreds of simulated stations a rate, and how often and how well they were read.

One session: in air, into the bore, five places of sizes that differ by 2 µm (standard deviation), seven
rocks at each; between places the gauge is moved, or withdrawn and entered again (three in ten). Rock 0.4 to
1.2 Hz, amplitude 1.5 to 4.5°, both uneven by 15 % from half rock to half rock, pauses in 4 % of the half
rocks; noise 0.4 µm, resolution 1 µm, readings late by 4 ms in the mean. And streams without a single rock:
lying still, in air, knocked, trembling, wandering.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from capture.folds.sweep import step
from capture.folds.sweep_state import Accepted, Sample, Setup, Sweep, setup
from capture.settings import Sweep as Limits
from capture.simulator.bore import BoreGauge, Hand, Shape, Wire
from capture.simulator.bore import Sample as Shown

PLACES = 5
ROCKS = 7.0
AFTER = 2.5
"""Seconds after the last rock of a place within which it may still be accepted."""
NOMINAL = 55.0


class Station(Struct, frozen=True):
    """One place of a session, beside what was made of it."""

    size: float
    frequency: float
    amplitude: float
    start: float
    end: float
    accepted: Accepted | None

    @property
    def error(self) -> float | None:
        """Accepted less true, mm."""
        return None if self.accepted is None else self.accepted.value - self.size

    @property
    def rocks(self) -> float | None:
        """Rocks that it took."""
        return None if self.accepted is None else (self.accepted.at - self.start) * self.frequency


class Result(Struct, frozen=True):
    """What many stations at one rate came to; lengths in µm."""

    rate: float
    stations: int
    accepted: int
    extra: int
    """Readings of no station: the same place twice, or none at all."""
    slower: int
    """Stations not accepted in sessions where the hand was asked to rock more slowly."""
    p50: float
    p95: float
    worst: float
    bias: float
    coverage: float
    """Share of errors within twice the standard uncertainty."""
    u: float
    """Median standard uncertainty."""
    rocks_p50: float
    rocks_p95: float
    within_5: float
    """Share of all stations accepted within five rocks."""


class Session(Struct, frozen=True):
    """One session beside its truth."""

    stations: tuple[Station, ...]
    extra: int
    slower: bool


def session(rate: float, seed: int, *, shape: Shape = "sine", hand: Hand | None = None) -> Session:
    """One simulated session and what the sweep made of it."""
    random = np.random.default_rng(seed)
    held = hand or Hand(
        frequency=float(random.uniform(0.4, 1.2)), amplitude=float(random.uniform(1.5, 4.5)), shape=shape
    )
    gauge = BoreGauge(held, Wire(rate=rate), seed)
    sizes = [float(size) for size in NOMINAL + np.cumsum(random.normal(0.0, 0.002, PLACES))]
    spans: list[tuple[float, float]] = []

    def stream() -> Iterator[Shown]:
        yield from gauge.air(2.0, sizes[0])
        yield from gauge.enter(sizes[0])
        for number, size in enumerate(sizes):
            start = gauge.seconds
            yield from gauge.rock(size, ROCKS)
            spans.append((start, gauge.seconds))
            if number + 1 == PLACES:
                break
            if random.random() < 0.3:
                yield from gauge.leave(size)
                yield from gauge.air(3.0, size)
                yield from gauge.enter(sizes[number + 1])
            else:
                yield from gauge.move(float(random.uniform(1.5, 3.0)), size, sizes[number + 1])
        yield from gauge.leave(sizes[-1])
        yield from gauge.air(2.0, sizes[-1])

    found, slower = accepted(((s.at, s.value) for s in stream()), setup(Limits(), 0.001, None, NOMINAL))
    stations = []
    for size, (start, end) in zip(sizes, spans, strict=True):
        own = next((a for a in found if start <= a.at <= end + AFTER), None)
        if own is not None:
            found.remove(own)
        stations.append(Station(size, held.frequency, held.amplitude, start, end, own))
    return Session(tuple(stations), len(found), slower)


def accepted(stream: Iterable[tuple[float, float]], told: Setup) -> tuple[list[Accepted], bool]:
    """What is accepted of a stream of times and values, and whether the hand was asked to be slower."""
    state, found, slower = Sweep(streams=True), [], False
    for seq, (at, value) in enumerate(stream):
        state = step(state, Sample(at, value, seq), told)
        if state.due is not None and state.due.seq == seq:
            found.append(state.due)
        slower = slower or state.tone == "slower"
    return found, slower


def trial(rate: float, sessions: int, *, seed: int = 0, shape: Shape = "sine") -> Result:
    """*sessions* sessions at one rate.

    Raises:
        ValueError: Not one station was accepted.
    """
    each = [session(rate, seed + number, shape=shape) for number in range(sessions)]
    stations = [station for one in each for station in one.stations]
    good = [station for station in stations if station.accepted is not None]
    if not good:
        raise ValueError(f"no station of {len(stations)} was accepted at {rate:g} Hz")
    errors = 1000.0 * np.array([station.error for station in good], dtype=np.float64)
    us = 1000.0 * np.array([s.accepted.u for s in good if s.accepted is not None])
    rocks = np.array([station.rocks for station in good], dtype=np.float64)
    return Result(
        rate=rate,
        stations=len(stations),
        accepted=len(good),
        extra=sum(one.extra for one in each),
        slower=sum(s.accepted is None for one in each if one.slower for s in one.stations),
        p50=float(np.median(np.abs(errors))),
        p95=float(np.quantile(np.abs(errors), 0.95)),
        worst=float(np.abs(errors).max()),
        bias=float(errors.mean()),
        coverage=float(np.mean(np.abs(errors) <= 2.0 * us)),
        u=float(np.median(us)),
        rocks_p50=float(np.median(rocks)),
        rocks_p95=float(np.quantile(rocks, 0.95)),
        within_5=float(np.sum(rocks <= 5.0) / len(stations)),
    )


GARBAGE = (
    "still",
    "drifting",
    "air",
    "air nearby",
    "restless air",
    "knocked",
    "trembling",
    "wandering",
    "white",
)


def garbage(kind: str, rate: float, seed: int, *, seconds: float = 60.0) -> int:
    """How many readings were accepted of a gauge that is not rocked; there should be none."""
    random = np.random.default_rng(seed)
    t = np.arange(int(seconds * rate)) / rate
    values = _unrocked(kind, t, random) + random.normal(0.0, 0.0004, len(t))
    shown = np.round(values * 1000.0) / 1000.0
    told = setup(Limits(), 0.001, None, NOMINAL)
    return len(accepted(zip(t.tolist(), shown.tolist(), strict=True), told)[0])


def _unrocked(  # noqa: C901 - one case for each kind
    kind: str, t: NDArray[np.float64], random: np.random.Generator
) -> NDArray[np.float64]:
    rate = 1.0 / (t[1] - t[0])
    flat = np.full(len(t), NOMINAL)
    match kind:
        case "still":
            return flat
        case "drifting":
            return flat + 0.002 * np.sin(0.1 * t) + 0.0001 * t
        case "air":
            return flat + 0.8
        case "air nearby":
            return flat + 0.3
        case "restless air":
            return flat + 0.5 + 0.02 * random.standard_normal(len(t))
        case "knocked":
            for place in random.integers(0, len(t) - 8, 30):
                flat[place : place + int(random.integers(1, 6))] += random.normal(0.0, 0.03)
            return flat
        case "trembling":
            return flat + 0.003 * np.sin(2 * np.pi * 8.3 * t)
        case "wandering":
            return flat + np.cumsum(random.normal(0.0, 0.01 / np.sqrt(rate), len(t)))
        case "white":
            return flat + random.normal(0.0, 0.01, len(t))
        case _:
            raise ValueError(f"no such stream: {kind}, due one of " + ", ".join(GARBAGE))
