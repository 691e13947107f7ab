"""Whether something changes over months: a slope that a few odd jobs do not bend, with its interval.

The slope is the median of the slopes of all pairs of points (Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63,
1379), its interval by the ranks of these slopes (Sen 1968).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct
from scipy.stats import theilslopes

FEWEST: Final = 8
"""Jobs from which on a slope is given: with fewer the ranks leave no interval at this confidence."""
MOST: Final = 300
"""Points beyond which those of each month are put together to their median: pairs grow as the square."""
CONFIDENCE: Final = 0.99
"""Of the interval; a shop looks at many gauges and machines at once."""
MONTH: Final = 365.25 / 12.0
"""Days."""


class LongTrend(Struct, frozen=True):
    """A change over time."""

    slope: float
    """A month."""
    low: float
    """Lower end of its interval, a month."""
    high: float
    months: float
    """Between the first and the last job."""
    jobs: int
    now: float
    """Where the line stands at the last job."""

    @property
    def change(self) -> float:
        """From the first to the last job, by the slope."""
        return self.slope * self.months

    @property
    def sure(self) -> bool:
        """Whether the interval leaves no doubt of the direction."""
        return self.low > 0.0 or self.high < 0.0


def trend(days: Sequence[float], values: Sequence[float]) -> LongTrend | None:
    """The trend of *values* at *days*; None where the jobs are too few or all of one day.

    >>> found = trend(range(0, 300, 10), [0.001 * day for day in range(0, 300, 10)])
    >>> round(found.slope, 4), found.sure, found.jobs
    (0.0304, True, 30)
    """
    x, y = np.asarray(days, dtype=float), np.asarray(values, dtype=float)
    keep = np.isfinite(x) & np.isfinite(y)
    x, y = x[keep], y[keep]
    jobs = len(x)
    if jobs < FEWEST or np.ptp(x) <= 0.0:
        return None
    months = float(np.ptp(x)) / MONTH
    if jobs > MOST:
        x, y = _monthly(x, y)
        if len(x) < FEWEST:
            return None
    found = theilslopes(y, x, CONFIDENCE, method="separate")
    slope, low, high = (float(one) * MONTH for one in (found.slope, found.low_slope, found.high_slope))
    now = float(np.median(y)) + slope * float(x.max() - np.median(x)) / MONTH
    return LongTrend(slope, low, high, months, jobs, now)


def _monthly(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The medians of each month."""
    month = np.floor(x / MONTH)
    each = np.unique(month)
    return (
        np.array([np.median(x[month == one]) for one in each]),
        np.array([np.median(y[month == one]) for one in each]),
    )
