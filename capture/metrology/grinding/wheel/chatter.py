"""Chatter in a gauge's stream: its frequencies, their aliases, and which turning thing makes them.

A gauge that reads R times a second shows a frequency f above R/2 as ``|f - k R|``: what it shows may be any
of ``k R ± f``, and all of them are named. Peaks by the periodogram of Lomb and Scargle (scipy); the
standard uncertainty of a frequency is ``sqrt(6 / N) s / (pi T A)`` (Montgomery and O'Donoghue, 1999, from
memory). Causes are weighed by Bayes' rule: each turning thing at its own frequency within the uncertainty
of its speed, and self-excited chatter at any.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import exp, hypot, log, pi, sqrt
from typing import Final

import numpy as np
from msgspec import Struct
from scipy.signal import lombscargle

from capture.metrology.uncertainty.propagation import Array

HIGHEST: Final = 500.0
"""Hz up to which aliases are named: grinding machines chatter below (common practice, no source)."""
SURE: Final = 1e-3
"""Chance at most that noise alone makes a peak as high as one that is named."""
MOST_TONES: Final = 5
U_SPEED: Final = 0.01
"""Standard uncertainty of a speed that was given, as a share of it (common practice, no source)."""
FEWEST: Final = 40
LOBES: Final = tuple(range(2, 31))
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
    rest = values - np.polyval(np.polyfit(times - times[0], values, 2), times - times[0])
    rest = np.clip(rest, *np.quantile(rest, [0.005, 0.995]))
    found = []
    for _ in range(MOST_TONES):
        peak = _strongest(times, rest, rate)
        if peak is None:
            break
        frequency, wave = peak
        rest = rest - wave
        amplitude, span = float(np.sqrt(2.0) * wave.std()), float(times[-1] - times[0])
        u = sqrt(6 / len(times)) * float(rest.std()) / (pi * span * max(amplitude, 1e-12))
        found.append(
            Tone(frequency, u, amplitude, aliases_of(frequency, rate), _causes(frequency, u, rate, speeds))
        )
    return tuple(sorted(found, key=lambda one: -one.amplitude))


def rate_of(times: Array) -> float:
    """Readings a second, by the whole stretch: late arrivals do not count."""
    gaps = np.diff(times)
    usual = float(np.median(gaps[gaps > 0]))
    together = gaps[gaps < 3 * usual]
    return 1 / float(together.mean())


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
    power[rates < 1.5 / span] = 0.0
    best = float(rates[int(np.argmax(power))])
    near = best + np.linspace(-0.5, 0.5, 41) / span
    near = near[near > 0]
    close = lombscargle(times - times[0], rest, 2 * pi * near, normalize=True, floating_mean=True)
    at = int(np.argmax(close))
    strength = -(n - 3) / 2 * log(max(1 - float(close[at]), 1e-300))
    if n / 2 * exp(-min(strength, 700.0)) > SURE:
        return None
    frequency = float(near[at])
    turned = 2 * pi * frequency * (times - times[0])
    model = np.column_stack([np.cos(turned), np.sin(turned)])
    wave: Array = model @ np.linalg.lstsq(model, rest, rcond=None)[0]
    return frequency, wave


def _causes(frequency: float, u: float, rate: float, speeds: Speeds) -> tuple[Cause, ...]:
    """What makes a tone, weighed; what is less likely than one in fifty is left out."""
    lines = _lines(speeds)
    weighed = []
    for kind, name, own, weight in lines:
        spread = max(hypot(u, U_SPEED * own), 1e-6)
        away = shown_at(own, rate) - frequency
        density = exp(-0.5 * (away / spread) ** 2) / (spread * sqrt(2 * pi))
        weighed.append((kind, name, own, weight * density))
    anywhere = WEIGHTS["regeneration"] / (rate / 2)
    total = anywhere + sum(one[3] for one in weighed)
    found = [
        Cause(
            kind=kind,
            frequency=own,
            probability=likely / total,
            lobes=None if speeds.work is None else own / speeds.work,
            alias=own > rate / 2,
            name=name,
        )
        for kind, name, own, likely in weighed
    ]
    lobes = None if speeds.work is None else frequency / speeds.work
    found.append(Cause("regeneration", frequency, anywhere / total, lobes, alias=False))
    return tuple(sorted((one for one in found if one.probability > 0.02), key=lambda one: -one.probability))


def _lines(speeds: Speeds) -> Iterator[tuple[str, str, float, float]]:
    """Kind, name, frequency and weight of everything that turns."""
    if speeds.work is not None:
        yield "centres", "", speeds.work, WEIGHTS["centres"]
        yield from (("lobes", "", n * speeds.work, WEIGHTS["lobes"]) for n in LOBES)
    if speeds.wheel is not None:
        yield "wheel", "", speeds.wheel, WEIGHTS["wheel"]
        yield "wheel twice", "", 2 * speeds.wheel, WEIGHTS["wheel twice"]
    for name, own in speeds.drives.items():
        yield "drive", name, own, WEIGHTS["drive"]
