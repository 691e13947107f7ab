"""Which readings of a part that turns are of its surface: not in a keyway, not in the air, not at rest."""

from __future__ import annotations

import numpy as np

from capture.metrology.form.turn_columns import TurnReadings
from capture.metrology.form.turned_fit import LEAST_SPREAD, TurnedFit
from capture.metrology.uncertainty.propagation import Array

OUT = 6.0
"""Robust standard deviations from the middle beyond which a reading is no surface: a keyway, a gauge lifted
off."""


SHORTH = 1.349
"""Standard deviations that hold half of a normal distribution."""
SHALLOW = 0.05
"""mm, least depth of a keyway or a hole that may hold so many readings (common practice, no source)."""
FAR = 12.0
"""Scatters from the fit beyond which a reading is off the surface and not a form that the fit misses."""


def on_surface(values: Array, resolution: float) -> Array:
    """1 for a reading of the surface, 0 for one far off: in a keyway, in the air.

    Where keyways hold a quarter of the readings or more they would set the scale: then the half of the
    readings that lies closest together does (the shorth: Andrews and others, 1972, from memory).
    """
    middle = float(np.median(values))
    away = np.abs(values - middle)
    least = max(2 * resolution, LEAST_SPREAD)
    spread = max(1.4826 * float(np.median(away)), float(np.quantile(away, 0.75)), least)
    half = _closest_half(values)
    close = OUT * max((half[1] - half[0]) / SHORTH, least)
    if OUT * spread > max(close, SHALLOW):
        middle = 0.5 * (half[0] + half[1])
        near = np.abs(values - middle) < max(close, SHALLOW)
    else:
        near = away < OUT * spread
    # The edge of a keyway lifts the reading beside it as well.
    edge = near.copy()
    edge[1:] &= near[:-1]
    edge[:-1] &= near[1:]
    return (edge if edge.mean() > 0.5 else near).astype(float)


def _closest_half(values: Array) -> tuple[float, float]:
    """The shortest interval that holds half of the values."""
    ordered = np.sort(values)
    many = (len(ordered) + 1) // 2
    lengths = ordered[many - 1 :] - ordered[: len(ordered) - many + 1]
    first = int(np.argmin(lengths))
    return float(ordered[first]), float(ordered[first + many - 1])


def while_turning(given: TurnReadings) -> slice:
    """The readings while the part turned: not those in which the gauge stood still at either end."""
    t, y = given.times, given.values
    window = max(len(y) // 40, 8)
    if len(y) < 4 * window:
        return slice(0, len(y))
    blocks = [slice(k, min(k + window, len(y))) for k in range(0, len(y), window)]
    ranges = np.array([np.ptp(np.quantile(y[one], [0.1, 0.9])) for one in blocks])
    usual = float(np.median(ranges))
    moving = ranges > 0.2 * usual
    if usual <= 0 or not moving.any():
        return slice(0, len(t))
    first, last = int(np.argmax(moving)), len(moving) - 1 - int(np.argmax(moving[::-1]))
    return slice(blocks[first].start, blocks[last].stop)


def masked_sectors(fit: TurnedFit, *, pieces: int = 180) -> tuple[tuple[float, float], ...]:
    """From where to where readings of every turn count for nothing, degrees from the first mark."""
    place = np.floor((fit.theta % (2 * np.pi)) / (2 * np.pi) * pieces).astype(int) % pieces
    kept = np.bincount(place, weights=(fit.weights > 0.05).astype(float), minlength=pieces)
    here = np.bincount(place, minlength=pieces)
    read = np.flatnonzero(here)
    bad = kept[read] < 0.5 * here[read]
    if bad.all() or not bad.any():
        return ()
    found = []
    for begin in np.flatnonzero(bad & ~np.roll(bad, 1)):
        length = int(np.argmin(np.roll(bad, -begin)))
        first, last = float(read[begin]), float(read[(begin + length - 1) % len(read)]) + 1
        found.append((first * 360 / pieces, (last + (pieces if last < first else 0)) * 360 / pieces))
    return tuple(one for one in found if one[1] - one[0] >= 2 * 360 / pieces)


def in_mask(fit: TurnedFit, on: Array, *, pieces: int = 180, margin: int = 1) -> Array:
    """Readings at angles where most readings of every turn are off the surface: a keyway, a cross hole.

    *on* is 0 for a reading that was seen to be off before the fit.
    """
    place = np.floor((fit.theta % (2 * np.pi)) / (2 * np.pi) * pieces).astype(int) % pieces
    # what the fit cannot follow yet is near it and comes back; a keyway is far below
    off = np.logical_or(on <= 0, np.abs(fit.residuals) > FAR * fit.spread)
    lost = np.bincount(place, weights=off.astype(float), minlength=pieces)
    all_here = np.bincount(place, minlength=pieces)
    bad = (all_here >= 2) & (lost > 0.5 * all_here) & (lost >= 2)
    wide = bad.copy()
    for step in range(1, margin + 1):
        wide |= np.roll(bad, step) | np.roll(bad, -step)
    found: Array = wide[place]
    return found
