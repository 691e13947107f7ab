"""Mixtures of normal densities, many at once: their middle, and what holds 95 % round it."""

from __future__ import annotations

from collections.abc import Callable
from math import pi, sqrt

import numpy as np
from scipy.special import ndtr

from capture.metrology.grinding.spring.grid import Array

WIDE = 1.959964
"""Standard deviations round the middle of a normal density that hold 95 % of it."""
MOST_STEPS = 60


def middle(weight: Array, mean: Array, deviation: Array) -> Array:
    """Value that half of each mixture lies under."""
    centre = mean @ weight
    most = 10.0 * np.sqrt((deviation**2 + (mean - centre[:, None]) ** 2) @ weight)

    def under(value: Array) -> tuple[Array, Array]:
        apart = (value[:, None] - mean) / deviation
        return ndtr(apart) @ weight - 0.5, (_bell(apart) / deviation) @ weight

    return _solved(under, centre - most, centre, centre + most)


def reach(weight: Array, mean: Array, deviation: Array) -> Array:
    """Distance from 0 within which 95 % of each mixture lies."""
    most = 10.0 * np.sqrt((deviation**2 + mean**2) @ weight)

    def within(value: Array) -> tuple[Array, Array]:
        high, low = (value[:, None] - mean) / deviation, (-value[:, None] - mean) / deviation
        return (ndtr(high) - ndtr(low)) @ weight - 0.95, ((_bell(high) + _bell(low)) / deviation) @ weight

    return _solved(within, np.zeros_like(most), most * WIDE / 10.0, most)


def _bell(apart: Array) -> Array:
    return np.asarray(np.exp(-0.5 * apart**2) / sqrt(2.0 * pi))


def _solved(miss: Callable[[Array], tuple[Array, Array]], low: Array, value: Array, high: Array) -> Array:
    """Where rising functions are 0, each between *low* and *high*: Newton's steps, kept between bounds.

    Args:
        miss: Gives the functions' values and slopes.
        low: Where each is less than 0.
        value: Where to begin.
        high: Where each is more than 0.
    """
    fine = 1e-9 * (high - low)
    for _ in range(MOST_STEPS):
        above, slope = miss(value)
        low, high = np.where(above < 0.0, value, low), np.where(above < 0.0, high, value)
        step = value - above / np.maximum(slope, 1e-300)
        nearer = np.where((step > low) & (step < high), step, 0.5 * (low + high))
        still = np.abs(nearer - value) < fine
        value = nearer
        if still.all():
            break
    return value
