"""Chatter in a gauge's stream: its frequencies, their aliases, and which turning thing makes them.

The waves are those of `stream_waves`, and every frequency that one may be an alias of is named. Causes are
weighed by Bayes' rule: each turning thing at its own frequency within the uncertainty
of its speed, and self-excited chatter at any. The work's own speed is read from its once-a-turn run-out where
the stream shows it, far closer than it is set: its lobes then stand apart from what else turns. A forced
vibration is as large at the end of a stretch as at its beginning; one that grows is self-excited.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import exp, hypot, pi, sqrt
from typing import Final

import numpy as np
from msgspec import Struct

from capture.metrology.grinding.wheel.stream_waves import (
    FEWEST,
    Peak,
    aliases_of,
    measured,
    on_surface,
    rate_of,
    shown_at,
    strongest,
    weak_near,
)
from capture.metrology.uncertainty.propagation import Array

MOST_TONES: Final = 5
U_SPEED: Final = 0.01
"""Standard uncertainty of a speed that was given, as a share of it (common practice, no source)."""
U_STEADY: Final = 5e-5
"""The same of a speed that was read from the stream: where the work wanders its lobes wander with it, and
stay whole multiples (common practice, no source)."""
CONSTANT: Final = 0.05
"""By how much, as a share, a forced vibration changes from one half of a stretch to the other."""
GROWING: Final = (0.5, 1.75)
"""How often self-excited chatter is met while it still grows, and the width of ln(second half / first) that
it may have then; what has grown is constant (common practice, no source)."""
TREND: Final = 6
"""Order of the polynomial by which a size settles, warms or is ground over the stretch."""
TOGETHER: Final = 3e-4
"""Share by which lobes of one work may stand apart from whole multiples of its speed, as it slips."""
ALONE: Final = 0.2
"""How much seldomer twice the wheel's speed is met where its own does not show (common practice)."""
LOBES: Final = tuple(range(2, 16))
"""As many as roundness is stated by."""
WEIGHTS: Final[Mapping[str, float]] = {
    "centres": 1.0,
    "wheel": 1.0,
    "wheel twice": 0.3,
    "drive": 0.5,
    "lobes": 0.03,
    "regeneration": 0.5,
}
"""How often each is met before anything is read, each count of lobes alone (common practice, no source)."""


class Speeds(Struct, frozen=True):
    """What turns, turns a second; None is not known."""

    wheel: float | None = None
    work: float | None = None
    drives: Mapping[str, float] = {}
    """Belts, motors, pumps by name."""


class Cause(Struct, frozen=True):
    """What may make a tone."""

    kind: str
    """``centres`` (once a turn of the work), ``lobes`` (its own), ``wheel``, ``wheel twice``, ``drive``
    or ``regeneration``."""
    frequency: float
    """At which it truly is, Hz."""
    probability: float
    lobes: float | None
    """Waves in one turn of the work; None where its speed is not known."""
    alias: bool
    """Whether the gauge shows it at another frequency than its own."""
    name: str = ""
    """Of the drive."""


class TurningLine(Struct, frozen=True):
    """A frequency at which something turns, Hz with its standard uncertainty, and how often it is met."""

    kind: str
    name: str
    own: float
    u: float
    weight: float


class Tone(Struct, frozen=True):
    """One frequency in a stream."""

    frequency: float
    """As the gauge shows it, Hz."""
    u: float
    amplitude: float
    """mm, half peak to valley."""
    aliases: tuple[float, ...]
    """Higher frequencies that it may be as well, up to `HIGHEST`, Hz."""
    causes: tuple[Cause, ...]
    """The likeliest first."""


def tones(times: Array, values: Array, speeds: Speeds) -> tuple[Tone, ...]:
    """The frequencies that stand clear of noise, the strongest first.

    Args:
        times: Seconds.
        values: mm.
        speeds: What turns.

    Raises:
        ValueError: too few readings, or all at one time.
    """
    if len(times) < FEWEST or times[-1] <= times[0]:
        raise ValueError(f"{len(times)} readings came, due {FEWEST} or more")
    rate = rate_of(times)
    there = on_surface(values)
    times, values = times[there], values[there]
    if len(times) < FEWEST:
        return ()
    within = 2 * (times - times[0]) / (times[-1] - times[0]) - 1
    rest = values - np.polyval(np.polyfit(within, values, TREND), within)
    rest = np.clip(rest, *np.quantile(rest, [0.005, 0.995]))
    peaks: list[Peak] = []
    for _ in range(MOST_TONES):
        peak = strongest(times, rest, rate)
        if peak is None:
            break
        rest = rest - peak[1]
        peaks.append(measured(times, rest, *peak))
    work, u_work = work_speed(times, rest, peaks, speeds)
    lines = tuple(_lines(speeds, work, u_work, twice=_twice(speeds, peaks, rate)))
    found = [
        Tone(
            one.frequency,
            one.u,
            one.amplitude,
            aliases_of(one.frequency, rate),
            _causes(one, rate, lines, work),
        )
        for one in peaks
    ]
    return tuple(sorted(found, key=lambda one: -one.amplitude))


def work_speed(
    times: Array, rest: Array, peaks: Sequence[Peak], speeds: Speeds
) -> tuple[float | None, float]:
    """How often the work turns a second, and its standard uncertainty.

    By its once-a-turn run-out within three uncertainties of the speed that was given: one of the *peaks*,
    else by two or more that are whole multiples of one speed, else by a weaker run-out in what is left
    without them; where there is none it stays as given.
    """
    given = speeds.work
    if given is None:
        return None, 0.0
    reach = 3.0 * U_SPEED * given
    near = [one for one in peaks if abs(one.frequency - given) <= reach]
    best = max(near, key=lambda one: one.amplitude, default=None)
    if best is None and (together := _multiples(peaks, given, reach)) is not None:
        return together, TOGETHER * together
    best = best or weak_near(times, rest, given, reach)
    if best is None:
        return given, U_SPEED * given
    return best.frequency, hypot(best.u, U_STEADY * best.frequency)


def _multiples(peaks: Sequence[Peak], about: float, reach: float) -> float | None:
    """The speed near *about* of which the most peaks, and two at least, are whole multiples."""
    best, most = None, 1
    for one in peaks:
        n = round(one.frequency / about)
        if not 1 < n <= LOBES[-1] or abs(one.frequency / n - about) > reach:
            continue
        speed = one.frequency / n
        others = {
            round(each.frequency / speed)
            for each in peaks
            if abs(each.frequency / speed - round(each.frequency / speed)) < TOGETHER * each.frequency / speed
        }
        if len(others - {0}) > most:
            best, most = speed, len(others - {0})
    return best


def _twice(speeds: Speeds, peaks: Sequence[Peak], rate: float) -> float:
    """How often twice the wheel's speed is met: seldom where its own speed does not show."""
    if speeds.wheel is None:
        return 0.0
    shown, reach = shown_at(speeds.wheel, rate), 2 * U_SPEED * speeds.wheel
    seen = any(abs(one.frequency - shown) < reach for one in peaks)
    return WEIGHTS["wheel twice"] * (1.0 if seen else ALONE)


def _normal(away: float, spread: float) -> float:
    """Density of a normal distribution *away* from its middle."""
    return exp(-0.5 * (away / spread) ** 2) / (spread * sqrt(2 * pi))


def _causes(tone: Peak, rate: float, lines: Sequence[TurningLine], work: float | None) -> tuple[Cause, ...]:
    """What makes a tone, weighed; what is less likely than one in fifty is left out."""
    weighed = []
    for one in lines:
        spread = max(hypot(tone.u, one.u), 1e-6)
        away = shown_at(one.own, rate) - tone.frequency
        weighed.append((one, one.weight * _normal(away, spread)))
    spread = hypot(tone.u_growth, CONSTANT)
    constant = _normal(tone.growth, spread)
    often, width = GROWING
    grows = (1 - often) * constant + (often / width if -spread < tone.growth < width else 0.0)
    anywhere = WEIGHTS["regeneration"] / (rate / 2) * grows / max(constant, 1e-9)
    total = anywhere + sum(likely for _, likely in weighed)
    found = [
        Cause(
            kind=one.kind,
            frequency=one.own,
            probability=likely / total,
            lobes=None if work is None else one.own / work,
            alias=one.own > rate / 2,
            name=one.name,
        )
        for one, likely in weighed
    ]
    lobes = None if work is None else tone.frequency / work
    found.append(Cause("regeneration", tone.frequency, anywhere / total, lobes, alias=False))
    return tuple(sorted((one for one in found if one.probability > 0.02), key=lambda one: -one.probability))


def _lines(speeds: Speeds, work: float | None, u_work: float, *, twice: float) -> Iterator[TurningLine]:
    """Everything that turns; the work at its speed as read."""
    if work is not None:
        yield TurningLine("centres", "", work, u_work, WEIGHTS["centres"])
        yield from (TurningLine("lobes", "", n * work, n * u_work, WEIGHTS["lobes"]) for n in LOBES)
    if speeds.wheel is not None:
        yield TurningLine("wheel", "", speeds.wheel, U_SPEED * speeds.wheel, WEIGHTS["wheel"])
        yield TurningLine("wheel twice", "", 2 * speeds.wheel, 2 * U_SPEED * speeds.wheel, twice)
    for name, own in speeds.drives.items():
        yield TurningLine("drive", name, own, U_SPEED * own, WEIGHTS["drive"])
