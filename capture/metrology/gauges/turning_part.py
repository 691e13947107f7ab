"""What a gauge that rides on a turning part shows of its size: the mean of a second, without what is no size.

A keyway or a cross hole takes up to a fifth of the turn, chips and drops a few readings: they lie far off
the rest and are left out, round the median first and then round the mean of what is kept. Run-out and ovality
are tones at the speed of the work, or where a slow stream folds them to (aliasing: Oppenheim and Schafer,
"Discrete-Time Signal Processing", from memory): up to three are found in a few seconds and taken off.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

STRAY = 3.5
"""Robust standard deviations beyond which a reading is left out."""
LEAST_GATE = 0.004
"""mm within which no reading is left out until it is known how quiet the gauge is, and"""
SMALLEST_GATE = 0.003
"""mm, where some seconds have shown how quiet the gauge is (both: common practice, no source)."""
WIDEST = 0.1
"""mm over which readings kept mean no one size: no work runs out by so much that is ground to size."""
CLEAR = 0.6
"""Share of the readings that must be left for a mean to mean anything."""


TONES = 3
"""Tones that are taken off at the most."""
SLOWEST = 0.5
"""Turns a second from which run-out is distinguished from what is ground."""
CLEAR_TONE = 25.0
"""Times the power of the noise from which a tone is one: noise alone is over it once in a million."""
LEAST_TONES = 30
"""Readings, and"""
SPAN_TONES = 4.0
"""seconds from which tones are looked for."""

Series = NDArray[np.float64]


class SecondMean(Struct, frozen=True):
    """The mean of one short time."""

    at: float
    """Its middle, seconds."""
    value: float
    """mm."""
    scatter: float
    """Standard deviation of the readings kept about a straight line, mm."""
    kept: int
    low: float
    """Least and"""
    high: float
    """greatest of the readings kept, mm."""


def without_tones(
    times: Sequence[float], values: Sequence[float], newest: int, step: float
) -> tuple[tuple[float, ...], float]:
    """The *newest* of *values* without what goes round with the part, and how far off a good one is, mm.

    Args:
        times: Seconds, nearly even, some seconds of them.
        values: mm.
        newest: How many of the last are wanted.
        step: Smallest step of the gauge, mm.
    """
    plain = tuple(values[-newest:]), max(3.0 * step, LEAST_GATE)
    t = np.asarray(times) - times[-1]
    if len(values) < LEAST_TONES or t[0] > -SPAN_TONES:
        return plain
    centre = median(values)
    v = np.asarray(values) - centre
    robust = 1.4826 * float(np.median(np.abs(v)))
    kept = np.abs(v) <= max(STRAY * robust, 3.0 * step, LEAST_GATE)
    if kept.sum() < CLEAR * len(v):
        return plain
    shapes = [np.ones_like(t), t]
    rest = v - _fit(shapes, v, kept)[0]
    for _ in range(TONES):
        tone = _strongest(t, np.where(kept, rest, 0.0))
        if tone is None:
            break
        shapes += [np.cos(2.0 * np.pi * tone * t), np.sin(2.0 * np.pi * tone * t)]
        rest = v - _fit(shapes, v, kept)[0]
    whole, weights = _fit(shapes, v, kept)
    turning = whole - weights[0] - weights[1] * t
    clean = np.asarray(values[-newest:]) - turning[-newest:]
    return tuple(clean.tolist()), _gate((v - whole)[kept], step)


def _gate(rest: Series, step: float) -> float:
    """How far off a reading that is one of the size may be, mm, by what is left of some seconds of them."""
    return max(STRAY * 1.4826 * float(np.median(np.abs(rest))), 1.5 * step, SMALLEST_GATE)


def _fit(shapes: Sequence[Series], v: Series, kept: NDArray[np.bool_]) -> tuple[Series, Series]:
    """Least squares of *shapes* through what is kept: the curve at all times, and the weights."""
    design = np.column_stack(shapes)
    weights = np.linalg.lstsq(design[kept], v[kept], rcond=None)[0]
    return np.asarray(design @ weights), np.asarray(weights)


def _strongest(t: Series, rest: Series) -> float | None:
    """Frequency of the clearest tone, Hz; None where none is clear of the noise."""
    count = len(t)
    beat = (t[-1] - t[0]) / (count - 1)
    size = 4 * count
    power = np.abs(np.fft.rfft(rest * np.hanning(count), size)) ** 2
    frequencies = np.fft.rfftfreq(size, beat)
    slow = int(np.searchsorted(frequencies, SLOWEST))
    if len(power) - slow < 8:
        return None
    peak = slow + int(power[slow:].argmax())
    if power[peak] < CLEAR_TONE * float(np.median(power[slow:])):
        return None
    if not slow < peak < len(power) - 1:
        return float(frequencies[peak])
    a, b, c = np.log(power[peak - 1 : peak + 2] + 1e-30)
    bend = a - 2.0 * b + c
    return float(frequencies[peak] + (0.5 * (a - c) / bend if bend < 0 else 0.0) * (frequencies[1]))


def second_mean(times: Sequence[float], values: Sequence[float], least: float) -> SecondMean | None:
    """The mean of these readings; None where they are too few or too scattered to mean one size.

    Args:
        times: Seconds.
        values: mm.
        least: mm off the middle within which no reading is left out.

    >>> found = second_mean([0.0, 0.2, 0.4, 0.6, 0.8], [55.0, 55.001, 54.2, 55.0, 55.001], 0.003)
    >>> round(found.value, 4), found.kept
    (55.0005, 4)
    """
    if len(values) < 3:
        return None
    centre = median(values)
    off = [value - centre for value in values]
    kept = off
    middle = 0.0
    for _ in range(3):
        robust = 1.4826 * median([abs(value - middle) for value in kept])
        gate = max(STRAY * robust, least)
        kept = [value for value in off if abs(value - middle) <= gate]
        if len(kept) < max(2, CLEAR * len(values)):
            return None
        middle = sum(kept) / len(kept)
    if max(kept) - min(kept) > WIDEST:
        return None
    at = 0.5 * (times[0] + times[-1])
    return SecondMean(
        at, centre + middle, _about_a_line(kept), len(kept), centre + min(kept), centre + max(kept)
    )


def _about_a_line(values: Sequence[float]) -> float:
    """Standard deviation about a straight line: what is cut off meanwhile is no scatter."""
    count = len(values)
    mean, half = sum(values) / count, 0.5 * (count - 1)
    weight = sum((i - half) ** 2 for i in range(count))
    slope = sum((i - half) * value for i, value in enumerate(values)) / weight
    squares = sum((value - mean - slope * (i - half)) ** 2 for i, value in enumerate(values))
    return float((squares / max(count - 2, 1)) ** 0.5)
