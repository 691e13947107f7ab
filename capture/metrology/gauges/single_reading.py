"""The standard uncertainty of one reading from the gauge alone: its scatter, and the step that it shows."""

from __future__ import annotations

from math import hypot, sqrt

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
