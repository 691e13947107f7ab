"""Trials of the sweep: hundreds of simulated stations a rate, and how often and how well they were read.

One session: in air, into the bore, five places of sizes that differ by 2 µm (standard deviation), seven
rocks at each; between places the gauge is moved, or withdrawn and entered again (three in ten). Rock 0.4 to
1.2 Hz, amplitude 1.5 to 4.5°, both uneven by 15 % from half rock to half rock, pauses in 4 % of the half
rocks; noise 0.4 µm, resolution 1 µm, readings late by 4 ms in the mean. Other hands break one thing that the
fit holds: see `HANDS`. Streams without a single rock are in `capture.benchmarks.trials.placing.unrocked`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from capture.sheet.stream_settings import SweepSettings as Limits
from capture.simulator.bore import BoreGauge, Hand, Wire
from capture.simulator.bore import BoreSample as Shown
from capture.state.sweep.sweep import step
from capture.state.sweep.sweep_state import Accepted, Setup, StreamSample, SweepState, setup

PLACES = 5
ROCKS = 7.0
AFTER = 2.5
"""Seconds after the last rock of a place within which it may still be accepted."""
NOMINAL = 55.0

HANDS: dict[str, str] = {
    "matched": "waves from turn to turn",
    "straight": "as quick before a turn as in the middle",
    "flowing": "one wave of flowing rate",
    "uneven": "rocks uneven by 25 %",
    "pausing": "stops in every fifth half rock",
    "leaning": "rocks about a lean of up to a quarter of their amplitude",
    "slow": "0.2 to 0.4 rocks a second",
    "small": "rocks of 1.0 to 1.6 degrees",
    "knocked": "a knock after one half rock in 25",
    "skewed": "starts each half rock quick and ends it slow, or the reverse",
    "lame": "one way takes 1.5 to 2.5 times as long as the other, and is skewed",
    "dwelling": "rests for up to 0.3 s at each turn",
    "played": "waves from turn to turn, read by a gauge with 0.5 µm of hysteresis",
    "worn": "skewed, lame and resting at each turn, read by a gauge with 0.5 µm of hysteresis",
    "swung": "swings by 0.2 mm about the middle, in 2 to 8 s",
}
"""Kinds of hands, and how each moves the gauge."""
PLAYED = frozenset({"played", "worn"})
"""Read by a gauge that does not follow the last 0.5 µm where the hand turns."""


class SweepStation(Struct, frozen=True):
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
    """Share of errors within 1.96 standard uncertainties."""
    u: float
    """Median standard uncertainty."""
    rocks_p50: float
    rocks_p95: float
    within_5: float
    """Share of all stations accepted within five rocks."""


class SweepSession(Struct, frozen=True):
    """One session beside its truth."""

    stations: tuple[SweepStation, ...]
    extra: int
    slower: bool


def session(rate: float, seed: int, kind: str = "matched") -> SweepSession:
    """One simulated session and what the sweep made of it.

    Raises:
        ValueError: There is no such hand.
    """
    random = np.random.default_rng(seed)
    held = _hand(kind, random)
    gauge = BoreGauge(held, Wire(rate=rate, play=0.0005 if kind in PLAYED else 0.0), seed)
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
        stations.append(SweepStation(size, held.frequency, held.amplitude, start, end, own))
    return SweepSession(tuple(stations), len(found), slower)


def accepted(stream: Iterable[tuple[float, float]], progress: Setup) -> tuple[list[Accepted], bool]:
    """What is accepted of a stream of times and values, and whether the hand was asked to be slower."""
    state, found, slower = SweepState(streams=True), [], False
    for seq, (at, value) in enumerate(stream):
        state = step(state, StreamSample(at, value, seq), progress)
        if state.due is not None and state.due.seq == seq:
            found.append(state.due)
        slower = slower or state.tone == "slower"
    return found, slower


def _hand(kind: str, random: np.random.Generator) -> Hand:
    hand = Hand(frequency=float(random.uniform(0.4, 1.2)), amplitude=float(random.uniform(1.5, 4.5)))
    changed: dict[str, dict[str, Any]] = {
        "matched": {},
        "straight": {"shape": "straight"},
        "flowing": {"shape": "flowing"},
        "uneven": {"uneven": 0.25},
        "pausing": {"pauses": 0.2},
        "leaning": {"lean": float(random.uniform(-0.25, 0.25)) * hand.amplitude},
        "slow": {"frequency": float(random.uniform(0.2, 0.4))},
        "small": {"amplitude": float(random.uniform(1.0, 1.6))},
        "knocked": {"bumps": 0.04},
        "skewed": {"skew": _skew(random)},
        "lame": {"skew": _skew(random), "lame": float(random.uniform(1.5, 2.5))},
        "dwelling": {"dwell": 0.3},
        "played": {},
        "worn": {"skew": _skew(random), "lame": float(random.uniform(1.0, 2.0)), "dwell": 0.2},
        "swung": {"swing": 0.2, "swing_every": float(random.uniform(2.0, 8.0))},
    }
    if kind not in changed:
        raise ValueError(f"a hand is one of {', '.join(HANDS)}; got {kind}")
    return replace(hand, **changed[kind])


def _skew(random: np.random.Generator) -> float:
    quick = float(random.uniform(0.6, 0.85))
    return quick if random.random() < 0.5 else 1.0 / quick


def trial(
    rate: float,
    sessions: int,
    kind: str = "matched",
    *,
    seed: int = 0,
    progress: Callable[[int], None] | None = None,
) -> Result:
    """*sessions* sessions at one rate by one kind of hand; *progress* gets the number of each that is done.

    Raises:
        ValueError: Not one station was accepted, or there is no such hand.
    """
    each = []
    for number in range(sessions):
        each.append(session(rate, seed + number, kind))
        if progress:
            progress(number + 1)
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
        coverage=float(np.mean(np.abs(errors) <= 1.96 * us)),
        u=float(np.median(us)),
        rocks_p50=float(np.median(rocks)),
        rocks_p95=float(np.quantile(rocks, 0.95)),
        within_5=float(np.sum(rocks <= 5.0) / len(stations)),
    )
