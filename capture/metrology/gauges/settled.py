"""Settled: what a gauge shows of a part on which it has come to rest, and whether it has come to rest.

The mean of the readings of a short time, those left out that lie far off the median of all (a drop, a
knock). It has come to rest when the readings lie within a few steps, and a line and a parabola through
them neither rise nor bend by more than their own uncertainty: oil or coolant being squeezed out is a
slope, a gauge that is rocked over the diameter is a bend, and neither is a size yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import exp, pi, sqrt
from statistics import median

from msgspec import Struct

LEAST = 5
"""Readings that a settled gauge is judged by at the least."""
STRAY = 4.0
"""Deviations, in robust standard deviations, beyond which a reading is a stray."""
STRAYS = 0.2
"""Share of the readings that may be strays."""
SPREAD = 0.0025
"""mm within which the readings of a gauge held on a part lie (common practice, no source)."""
SLOPE = 0.0004
"""mm by which they may rise or bend from end to end beside their own uncertainty (common practice)."""
SURELY = 2.5
"""Standard uncertainties of a slope or a bend that are not seen as one."""


class Settled(Struct, frozen=True):
    """What the gauge shows at rest."""

    value: float
    """mm."""
    u: float
    """Standard uncertainty by the scatter and the rounding of these readings, mm."""
    kept: int
    """Readings that it rests on."""


def settled(times: Sequence[float], values: Sequence[float], *, noise: float, step: float) -> Settled | None:
    """The size on which a gauge has come to rest, or None where it has not.

    Args:
        times: Seconds, rising.
        values: mm.
        noise: Standard deviation of one reading by the sheet, rounding included, mm.
        step: Smallest step that it shows, mm; 0 is not known.

    >>> readings = [55.001, 55.001, 55.002, 55.001, 55.001]
    >>> found = settled([0.0, 0.1, 0.2, 0.3, 0.4], readings, noise=0.0006, step=0.001)
    >>> round(found.value, 4), found.kept
    (55.0012, 5)
    >>> settled([0.0, 0.1, 0.2, 0.3, 0.4], [55.009, 55.007, 55.005, 55.003, 55.001], noise=0.0006, step=0.001)
    """
    if len(values) < LEAST:
        return None
    middle = median(values)
    robust = 1.4826 * median([abs(value - middle) for value in values])
    far = max(STRAY * robust, 1.6 * step, STRAY * noise)
    kept = [(t, value - middle) for t, value in zip(times, values, strict=True) if abs(value - middle) <= far]
    if len(kept) < max(LEAST, (1.0 - STRAYS) * len(values)):
        return None
    off = [value for _, value in kept]
    if max(off) - min(off) > max(SPREAD, 3.0 * step, 6.0 * noise):
        return None
    mean = sum(off) / len(off)
    variance = sum((value - mean) ** 2 for value in off) / (len(off) - 1)
    # by differences of neighbours, in which a slope does not show as scatter
    steps = sum((b - a) ** 2 for a, b in pairwise(off)) / (2.0 * (len(off) - 1))
    if _moves(kept, max(steps, noise**2 / 4.0), max(SLOPE, 0.35 * step)):
        return None
    return Settled(middle + mean, sqrt(mean_variance(variance, len(off), step)), len(off))


def mean_variance(variance: float, count: int, step: float) -> float:
    """Variance of the mean of *count* readings of variance *variance*, rounded to *step*, mm².

    Rounding adds step²/12 to one reading (GUM, JCGM 100:2008, F.2.2.1), which *variance* holds already
    where the readings cross steps; where they do not, the mean is as uncertain as one (the first harmonic
    of the rounding's error; Widrow and Kollár, "Quantization Noise", from memory).
    """
    stuck = exp(-4.0 * pi**2 * variance / step**2) if step > 0 else 0.0
    return variance / count + step**2 / 12.0 * max(stuck, 1.0 / count)


def _moves(kept: Sequence[tuple[float, float]], variance: float, allowed: float) -> bool:
    """Whether a line or a parabola through the readings shows them on their way."""
    first, last = kept[0][0], kept[-1][0]
    if last <= first:
        return True
    # Legendre's first two polynomials over the window: nearly orthogonal on an even beat
    xs = [2.0 * (t - first) / (last - first) - 1.0 for t, _ in kept]
    mean = sum(value for _, value in kept) / len(kept)
    line = _along(xs, [value - mean for _, value in kept])
    bends = [1.5 * x * x - 0.5 for x in xs]
    level = sum(bends) / len(bends)
    bend = _along([b - level for b in bends], [value - mean for _, value in kept])
    for (size, weight), whole in ((line, 2.0), (bend, 1.5)):
        if whole * abs(size) > allowed + SURELY * whole * sqrt(variance / max(weight, 1e-12)):
            return True
    return False


def _along(shape: Sequence[float], off: Sequence[float]) -> tuple[float, float]:
    """How much of *shape* is in *off* by least squares, and the sum of the squares of the shape."""
    middle = sum(shape) / len(shape)
    weight = sum((s - middle) ** 2 for s in shape)
    if weight <= 0.0:
        return 0.0, 0.0
    return sum((s - middle) * value for s, value in zip(shape, off, strict=True)) / weight, weight
