"""Chatter in a gauge's stream: its frequencies, their aliases, and which turning thing makes them.

A gauge that reads R times a second shows a frequency f above R/2 as ``|f - k R|``: what it shows may be any
of ``k R ± f``, and all of them are named. Peaks by the periodogram of Lomb and Scargle (scipy); the
standard uncertainty of a frequency is ``sqrt(6 / N) s / (pi T A)`` (Montgomery and O'Donoghue, 1999, from
memory). Causes are weighed by Bayes' rule: each turning thing at its own frequency within the uncertainty
of its speed, and self-excited chatter at any. The work's own speed is read from its once-a-turn run-out where
the stream shows it, far closer than it is set: its lobes then stand apart from what else turns. A forced
vibration is as large at the end of a stretch as at its beginning; one that grows is self-excited.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import exp, hypot, log, pi, sqrt
from typing import Final

import numpy as np
from msgspec import Struct
from scipy.ndimage import median_filter
from scipy.signal import lombscargle

from capture.metrology.uncertainty.propagation import Array

HIGHEST: Final = 500.0
"""Hz up to which aliases are named: grinding machines chatter below (common practice, no source)."""
SURE: Final = 1e-3
"""Chance at most that noise alone makes a peak as high as one that is named."""
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
FEWEST: Final = 40
TREND: Final = 6
"""Order of the polynomial by which a size settles, warms or is ground over the stretch."""
SLOWEST_WAVES: Final = 3.5
"""Waves in the stretch under which the trend has taken a vibration away."""
AROUND: Final = 41
"""Readings about each whose median is where the surface is."""
OFF: Final = 0.03
"""mm from there within which a reading is of the surface, however still that is (common practice)."""
PAUSE: Final = 3.0
"""Usual gaps between two readings after which the gauge has paused."""
TOGETHER: Final = 3e-4
"""Share by which lobes of one work may stand apart from whole multiples of its speed, as it slips."""
ALONE: Final = 0.2
"""How much seldomer twice the wheel's speed is met where its own does not show (common practice)."""
LOBES: Final = tuple(range(2, 16))
"""As many as roundness is told by."""
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


class Peak(Struct, frozen=True):
    """A wave in a stream: as the gauge shows it, Hz with its uncertainty, and mm."""

    frequency: float
    u: float
    amplitude: float
    growth: float
    """Logarithm of its amplitude in the second half over that in the first."""
    u_growth: float


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
    there = _on_surface(values)
    times, values = times[there], values[there]
    if len(times) < FEWEST:
        return ()
    within = 2 * (times - times[0]) / (times[-1] - times[0]) - 1
    rest = values - np.polyval(np.polyfit(within, values, TREND), within)
    rest = np.clip(rest, *np.quantile(rest, [0.005, 0.995]))
    peaks: list[Peak] = []
    for _ in range(MOST_TONES):
        peak = _strongest(times, rest, rate)
        if peak is None:
            break
        rest = rest - peak[1]
        peaks.append(_measured(times, rest, *peak))
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


def _on_surface(values: Array) -> Array:
    """Which readings are of the surface: a finger that falls into a keyway or is lifted shows no vibration.

    The readings beside one that is off it are left out as well.
    """
    away = np.abs(values - median_filter(values, AROUND, mode="nearest"))
    limit = max(8 * 1.4826 * float(np.median(away)), OFF)
    off = np.convolve(away > limit, [1, 1, 1], mode="same") > 0
    return np.asarray(~off)


def _measured(times: Array, rest: Array, frequency: float, wave: Array) -> Peak:
    """A wave with its uncertainty; *rest* is what is left without it."""
    amplitude, span = float(np.sqrt(2.0) * wave.std()), float(times[-1] - times[0])
    u = sqrt(6 / len(times)) * float(rest.std()) / (pi * span * max(amplitude, 1e-12))
    growth, u_growth = _growth(times, rest + wave, frequency, float(rest.std()))
    return Peak(frequency, u, amplitude, growth, u_growth)


def _growth(times: Array, values: Array, frequency: float, noise: float) -> tuple[float, float]:
    """How a wave grows from the first half of a stretch to the second, with its standard uncertainty.

    The relative standard uncertainty of an amplitude by N readings is ``sqrt(2 / N) s / A`` (Montgomery and
    O'Donoghue, 1999, from memory).
    """
    half = len(times) // 2
    sizes = [
        float(np.sqrt(2.0) * _wave(times[part], values[part], frequency).std())
        for part in (slice(None, half), slice(half, None))
    ]
    least = max(min(sizes), 1e-12)
    return log(max(sizes[1], 1e-12) / max(sizes[0], 1e-12)), 2.0 / sqrt(half) * noise / least


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
    best = best or _weak(times, rest, given, reach)
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


def _weak(times: Array, rest: Array, about: float, reach: float) -> Peak | None:
    """The highest peak near a frequency, where noise makes none as high in so narrow a band."""
    span, n = float(times[-1] - times[0]), len(times)
    at = np.arange(about - reach, about + reach, 0.1 / span)
    close = lombscargle(times - times[0], rest, 2 * pi * at, normalize=True, floating_mean=True)
    best = int(np.argmax(close))
    if max(2 * reach * span, 1.0) * _by_chance(float(close[best]), n) > SURE:
        return None
    wave = _wave(times, rest, float(at[best]))
    return _measured(times, rest - wave, float(at[best]), wave)


def rate_of(times: Array) -> float:
    """Readings a second at which the gauge reads, by its longest stretch without a pause.

    Readings are counted along an even grid, over twice as many each time, so that neither late ones nor lost
    ones move it: a rate that is a thousandth off puts the tenth alias a hundredth of the rate off.
    """
    gaps = np.diff(times)
    usual = float(np.median(gaps[gaps > 0]))
    pauses = np.flatnonzero(gaps >= PAUSE * usual)
    ends = np.concatenate([[0], pauses + 1, [len(times)]])
    longest = int(np.argmax(np.diff(ends)))
    stretch = times[ends[longest] : ends[longest + 1]] - times[ends[longest]]
    if len(stretch) < 3:
        return 1 / usual
    within = np.diff(stretch)
    steps = np.round(within / within.mean())
    period, first, count = float(within.sum() / max(steps.sum(), 1.0)), 0.0, 32
    while True:
        numbers = np.round((stretch[:count] - first) / period)
        if numbers[-1] > numbers[0]:
            period, first = map(float, np.polyfit(numbers, stretch[:count], 1))
        if count >= len(stretch):
            return 1 / period
        count *= 2


def aliases_of(frequency: float, rate: float) -> tuple[float, ...]:
    """Higher frequencies that a gauge of this rate shows at *frequency*, Hz.

    >>> aliases_of(3.0, 10.0)[:4]
    (7.0, 13.0, 17.0, 23.0)
    """
    whole = range(1, int((HIGHEST + frequency) / rate) + 1)
    both = [one for k in whole for one in (k * rate - frequency, k * rate + frequency)]
    return tuple(one for one in both if frequency < one <= HIGHEST)


def shown_at(frequency: float, rate: float) -> float:
    """Where a gauge of this rate shows a frequency, Hz.

    >>> shown_at(23.0, 10.0)
    3.0
    """
    return abs(frequency - round(frequency / rate) * rate)


def _strongest(times: Array, rest: Array, rate: float) -> tuple[float, Array] | None:
    """The highest peak of the periodogram that noise does not make, and its wave.

    The peak is sought on an even grid by the fast Fourier transform, and settled on the true times.
    """
    span, n = float(times[-1] - times[0]), len(times)
    even = np.interp(np.arange(times[0], times[-1], 1 / rate), times, rest)
    if len(even) < FEWEST or not np.ptp(even):
        return None
    size = 1 << int(4 * len(even)).bit_length()
    power = np.abs(np.fft.rfft(even - even.mean(), size)) ** 2
    rates = np.fft.rfftfreq(size, 1 / rate)
    power[rates < SLOWEST_WAVES / span] = 0.0
    best = float(rates[int(np.argmax(power))])
    near = best + np.linspace(-0.5, 0.5, 41) / span
    near = near[near > 0]
    close = lombscargle(times - times[0], rest, 2 * pi * near, normalize=True, floating_mean=True)
    at = int(np.argmax(close))
    if n / 2 * _by_chance(float(close[at]), n) > SURE:
        return None
    return float(near[at]), _wave(times, rest, float(near[at]))


def _by_chance(power: float, readings: int) -> float:
    """How likely noise alone makes a normalized power as high at one frequency: ``(1 - p)^((N - 3) / 2)``."""
    return float((1.0 - min(power, 1.0)) ** ((readings - 3) / 2))


def _normal(away: float, spread: float) -> float:
    """Density of a normal distribution *away* from its middle."""
    return exp(-0.5 * (away / spread) ** 2) / (spread * sqrt(2 * pi))


def _wave(times: Array, rest: Array, frequency: float) -> Array:
    """The part of *rest* at one frequency, by least squares."""
    turned = 2 * pi * frequency * (times - times[0])
    model = np.column_stack([np.cos(turned), np.sin(turned)])
    wave: Array = model @ np.linalg.lstsq(model, rest, rcond=None)[0]
    return wave


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
