"""The standard uncertainty of one reading from the gauge alone: its scatter, and the step that it shows."""

from __future__ import annotations

from math import exp, hypot, pi, sqrt

UNKNOWN_REPEATABILITY = 0.5
"""Of the resolution, where nothing states the repeatability (common practice, no source)."""


def scatter_of(repeatability: float | None, resolution: float) -> float:
    """Standard deviation of repeated readings before rounding, mm: as stated, or half a step."""
    return UNKNOWN_REPEATABILITY * resolution if repeatability is None else repeatability


def with_rounding(scatter: float, step: float) -> float:
    """*scatter* with rounding to *step* as a rectangular distribution (JCGM 100:2008, F.2.2.1), mm.

    >>> round(with_rounding(0.0, 0.001) * 1000, 3)
    0.289
    """
    return hypot(scatter, step / sqrt(12.0))


def rounded_mean(scatter: float, step: float) -> float:
    """Standard uncertainty, mm, that rounding to *step* leaves in the mean of many readings of *scatter*.

    Scatter of a third of a step and more breaks the steps up, so that their mean is true; less does not. The
    first term of the series of the mean error over where the size lies within a step (Widrow and Kollar,
    "Quantization Noise", from memory): amplitude ``step / pi * exp(-2 (pi scatter / step)^2)``.

    >>> [round(rounded_mean(scatter, 1.0), 3) for scatter in (0.0, 0.3, 1.0)]
    [0.225, 0.038, 0.0]
    """
    if step <= 0.0:
        return 0.0
    return step / (pi * sqrt(2.0)) * exp(-2.0 * (pi * scatter / step) ** 2)
