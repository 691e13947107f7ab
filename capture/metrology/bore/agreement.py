"""Agreement: the diameter of a place from its turning points, which of them agree, and how well it is known.

The largest subset that its uncertainties explain is kept (Cox, "The evaluation of key comparison data:
determining the largest consistent subset", Metrologia 44 (2007) 187), with one leaning: sideways swing
can only make a bore read too small, so of two that disagree the lower is doubted first.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from msgspec import Struct

HAND = 0.00007
"""mm; standard deviation of turning points that are read without error: how well a hand finds the same
diameter again (common practice, no source)."""
DOUBT = 0.6
"""Share of the largest deviation from which a lower point is doubted before the one that deviates most."""
PRIOR = 3.0
"""Degrees of freedom that the uncertainties of the points themselves count for beside their scatter."""
LEAST_SPREAD = 0.78
"""Points that agree better than their uncertainties say may make the mean's variance smaller by so much."""

CRITICAL = (
    *(0.0, 6.63, 4.61, 3.78, 3.32, 3.02, 2.80, 2.64, 2.51, 2.41, 2.32),
    *(2.25, 2.18, 2.13, 2.08, 2.04, 2.00, 1.97, 1.93, 1.90, 1.88),
)
"""Chi squared over its degrees of freedom that is exceeded once in a hundred, for 0 to 20 degrees
(Abramowitz and Stegun, Handbook of Mathematical Functions, table 26.8)."""


class Agreed(Struct, frozen=True):
    """What the turning points of a place say together."""

    value: float
    """mm."""
    u: float
    """Standard uncertainty, mm."""
    kept: tuple[int, ...]
    """Places, in the order given, of the points that agree."""
    low: tuple[int, ...]
    """Those below them: swung off the centre, or on a chip."""
    high: tuple[int, ...]
    """Those above them: knocked, or never upright."""


def agreed(values: Sequence[float], us: Sequence[float], *, hand: float = HAND) -> Agreed:
    """The mean of the points that agree, weighted by their uncertainties.

    Args:
        values: Turning points, mm.
        us: Standard uncertainty of each, mm.
        hand: What each may differ by without error, standard deviation, mm.

    Raises:
        ValueError: No points.
    """
    if not values:
        raise ValueError("no turning points, due at least one")
    weights = [1.0 / (u * u + hand * hand) for u in us]
    kept = list(range(len(values)))
    while True:
        mean, chi2 = _mean(values, weights, kept)
        degrees = len(kept) - 1
        if degrees < 2 or chi2 <= CRITICAL[min(degrees, len(CRITICAL) - 1)] * degrees:
            break
        kept.remove(_doubted(values, weights, kept))
    # Kept points may not say less than what they would if a doubted one agreed after all.
    aside = [i for i in range(len(values)) if i not in kept]
    u = sqrt(1.0 / sum(weights[i] for i in kept))
    spread = (PRIOR + chi2) / (PRIOR + degrees) if degrees else 1.0
    return Agreed(
        value=mean,
        u=u * sqrt(max(spread, LEAST_SPREAD)),
        kept=tuple(kept),
        low=tuple(i for i in aside if values[i] < mean),
        high=tuple(i for i in aside if values[i] >= mean),
    )


def _mean(values: Sequence[float], weights: Sequence[float], kept: Sequence[int]) -> tuple[float, float]:
    # About the first value, so that sizes of 55 mm keep their last digits.
    first = values[kept[0]]
    whole = sum(weights[i] for i in kept)
    mean = sum(weights[i] * (values[i] - first) for i in kept) / whole
    return first + mean, sum(weights[i] * (values[i] - first - mean) ** 2 for i in kept)


def _doubted(values: Sequence[float], weights: Sequence[float], kept: Sequence[int]) -> int:
    """The point to leave out next: the one farthest from the median, a lower one sooner."""
    ordered = sorted(values[i] for i in kept)
    middle = (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2.0
    far = {i: (values[i] - middle) * sqrt(weights[i]) for i in kept}
    lowest = min(kept, key=lambda i: far[i])
    farthest = max(kept, key=lambda i: abs(far[i]))
    return lowest if -far[lowest] >= DOUBT * abs(far[farthest]) else farthest
