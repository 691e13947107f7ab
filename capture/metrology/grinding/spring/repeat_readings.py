"""Readings of one place after one pass, taken together: what their mean and their scatter tell."""

from __future__ import annotations

import numpy as np

from capture.metrology.grinding.spring.grid import Array

SEATING = 5
"""Readings of one place after one pass share its seating: more than these tell nothing more of the mean."""


def mean_variance(single: Array, readings: Array, step: Array) -> Array:
    """Variance of a group's mean.

    Rounding to a step q adds q²/12 to one reading (GUM, JCGM 100:2008, F.2.2.1). In a mean it fades only
    as far as the scatter s carries the readings across steps: what stays is its first harmonic, of
    amplitude (q/π) exp(-2π² s²/q²) (Widrow and Kollár, "Quantization Noise", from memory).
    """
    count = np.minimum(readings, SEATING)
    stuck = np.exp(-4.0 * np.pi**2 * single / np.maximum(step, 1e-12) ** 2)
    return np.asarray(single / count + step**2 / 12.0 * np.maximum(1.0 / count, stuck))


def within(single: Array, readings: Array, squares: Array, step: Array) -> Array:
    """Logarithm of the likelihood of the scatter inside a group, for its first readings' worth."""
    variance = single + step**2 / 12.0
    free = np.minimum(readings, SEATING) - 1
    return np.asarray(-0.5 * free * (np.log(variance) + squares / np.maximum(readings - 1, 1) / variance))
