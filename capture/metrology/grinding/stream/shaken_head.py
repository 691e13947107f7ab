"""Where a head stood whose display shakes while the wheel cuts: the positions that last.

One second of such a display tells no feed from its own scatter; half a pass does. The run of seconds is cut
into positions such that the sum of squares about their means, and a penalty for each cut, is least (optimal
partitioning; Jackson et al., 2005, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

LEAST = 8
"""Differences from which on the scatter is known."""
KEPT = 25
"""Newest readings that it is looked for in."""
MOVES = 0.25
"""Share of the differences that may be moves of the head."""
TRIMMED = 0.42
"""Mean of the squares that are left by that of them all, for a normal scatter (by 4000 sets drawn)."""
SHAKES = 0.85
"""Steps of scatter from which on a display shakes: 0.3 of a step with its rounding show 0.4 to 0.8."""
RANGE = 20.0
"""Steps of range beyond which the head was moved."""
CUT = 14.0
"""Penalty of a cut, in squared standard deviations (chosen by the trial `shaking`)."""
MOST = 1200
"""Seconds that are looked at."""


class Second(NamedTuple):
    """What the display showed in one second, or in one of its slower readings."""

    begun: float
    until: float
    total: float
    number: int
    worked: float
    """Work done up to `until`."""


class HeadPosition(NamedTuple):
    """The head stood here from `begun` until `ended`."""

    level: float
    begun: float
    ended: float
    number: int
    """Readings that `level` is the mean of."""
    worked: float
    """Work done up to `ended`."""


def scatter(values: Sequence[float], step: float) -> float:
    """Standard deviation of one reading of a display that shakes, in the unit of *values*; else 0.

    >>> round(scatter([0.0, 2.0, 0.0, 2.0, 0.0, 2.0, 0.0, 2.0, 0.0], 1.0), 2)
    2.18
    """
    if len(values) <= LEAST or max(values) - min(values) > RANGE * step:
        return 0.0
    squares = sorted((b - a) ** 2 for a, b in pairwise(values))
    left = squares[: round(len(squares) * (1.0 - MOVES))]
    found = float((sum(left) / len(left) / (2.0 * TRIMMED)) ** 0.5)
    return found if found >= SHAKES * step else 0.0


def noted(trace: tuple[Second, ...], at: float, value: float, worked: float) -> tuple[Second, ...]:
    """*trace* with one more reading."""
    last = trace[-1] if trace else None
    if last is not None and at - last.begun < 1.0:
        return (*trace[:-1], Second(last.begun, at, last.total + value, last.number + 1, worked))
    begun = at if last is None else last.until
    return (*trace, Second(begun, at, value, 1, worked))[-MOST:]


def positions(trace: Sequence[Second], spread: float) -> tuple[HeadPosition, ...]:
    """The positions that *trace* shows, in order; *spread*: standard deviation of one reading."""
    if not trace:
        return ()
    number = np.cumsum([0.0, *[one.number for one in trace]])
    total = np.cumsum([0.0, *[one.total for one in trace]])
    mean = np.array([one.total / one.number for one in trace])
    square = np.cumsum([0.0, *(mean**2 * np.diff(number))])
    best = np.zeros(len(trace) + 1)
    start = np.zeros(len(trace) + 1, int)
    for end in range(1, len(trace) + 1):
        n, s = number[end] - number[:end], total[end] - total[:end]
        cost = (square[end] - square[:end] - s**2 / n) / spread**2 + best[:end] + CUT
        start[end] = int(np.argmin(cost))
        best[end] = cost[start[end]]
    found: list[HeadPosition] = []
    end = len(trace)
    while end:
        begin = int(start[end])
        n = float(number[end] - number[begin])
        level = float(total[end] - total[begin]) / n
        last = trace[end - 1]
        found.append(HeadPosition(level, trace[begin].begun, last.until, round(n), last.worked))
        end = begin
    return tuple(reversed(found))
