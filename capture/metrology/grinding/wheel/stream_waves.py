"""Waves in a gauge's stream: how often it reads, what is of the surface, what stands clear of noise.

A gauge that reads R times a second shows a frequency f above R/2 as ``|f - k R|``: what it shows may be any
of ``k R ± f``. Peaks by the periodogram of Lomb and Scargle (scipy); the standard uncertainty of a frequency
is ``sqrt(6 / N) s / (pi T A)`` (Montgomery and O'Donoghue, 1999, from memory).
"""

from __future__ import annotations

from math import log, pi, sqrt
from typing import Final

import numpy as np
from msgspec import Struct

from capture.metrology.uncertainty.propagation import Array

HIGHEST: Final = 500.0
"""Hz up to which aliases are named: grinding machines chatter below (common practice, no source)."""
SURE: Final = 1e-3
"""Chance at most that noise alone makes a peak as high as one that is named."""
FEWEST: Final = 40
SLOWEST_WAVES: Final = 3.5
"""Waves in the stretch under which the trend has taken a vibration away."""
AROUND: Final = 41
"""Readings about each whose median is where the surface is."""
OFF: Final = 0.03
"""mm from there within which a reading is of the surface, however still that is (common practice)."""
PAUSE: Final = 3.0
"""Usual gaps between two readings after which the gauge has paused."""


class Peak(Struct, frozen=True):
    """A wave in a stream: as the gauge shows it, Hz with its uncertainty, and mm."""

    frequency: float
    u: float
    amplitude: float
    growth: float
    """Logarithm of its amplitude in the second half over that in the first."""
    u_growth: float


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


def on_surface(values: Array) -> Array:
    """Which readings are of the surface: a finger that falls into a keyway or is lifted shows no vibration.

    The readings beside one that is off it are left out as well.
    """
    from scipy.ndimage import median_filter  # noqa: PLC0415 - slow to load, and few sessions need it

    away = np.abs(values - median_filter(values, AROUND, mode="nearest"))
    limit = max(8 * 1.4826 * float(np.median(away)), OFF)
    off = np.convolve(away > limit, [1, 1, 1], mode="same") > 0
    return np.asarray(~off)


def strongest(times: Array, rest: Array, rate: float) -> tuple[float, Array] | None:
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
    close = _power(times, rest, near)
    at = int(np.argmax(close))
    if n / 2 * _by_chance(float(close[at]), n) > SURE:
        return None
    return float(near[at]), _wave(times, rest, float(near[at]))


def _power(times: Array, rest: Array, at: Array) -> Array:
    """The share of the variance that a wave of each frequency *at*, Hz, explains (Lomb and Scargle)."""
    from scipy.signal import lombscargle  # noqa: PLC0415 - slow to load, and few sessions need it

    share: Array = lombscargle(times - times[0], rest, 2 * pi * at, normalize=True, floating_mean=True)
    return share


def weak_near(times: Array, rest: Array, about: float, reach: float) -> Peak | None:
    """The highest peak near a frequency, where noise makes none as high in so narrow a band."""
    span, n = float(times[-1] - times[0]), len(times)
    at = np.arange(about - reach, about + reach, 0.1 / span)
    close = _power(times, rest, at)
    best = int(np.argmax(close))
    if max(2 * reach * span, 1.0) * _by_chance(float(close[best]), n) > SURE:
        return None
    wave = _wave(times, rest, float(at[best]))
    return measured(times, rest - wave, float(at[best]), wave)


def measured(times: Array, rest: Array, frequency: float, wave: Array) -> Peak:
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


def _wave(times: Array, rest: Array, frequency: float) -> Array:
    """The part of *rest* at one frequency, by least squares."""
    turned = 2 * pi * frequency * (times - times[0])
    model = np.column_stack([np.cos(turned), np.sin(turned)])
    wave: Array = model @ np.linalg.lstsq(model, rest, rcond=None)[0]
    return wave


def _by_chance(power: float, readings: int) -> float:
    """How likely noise alone makes a normalized power as high at one frequency: ``(1 - p)^((N - 3) / 2)``."""
    return float((1.0 - min(power, 1.0)) ** ((readings - 3) / 2))
