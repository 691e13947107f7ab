"""Spark-out by sizes alone, where no infeed is known: is surely less coming off than the limit?

A straight line through the sizes of the last few passes gives the removal a pass. While a sprung
machine sparks out each pass takes less than the one before, so that the mean of the last few is an upper
bound of the next. The line is tried over several windows, and each has to be surer by the number tried
(Bonferroni), so that looking often does not make it easy.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from scipy.special import ndtr

SHORTEST, LONGEST = 3, 8
"""Passes in a window. Two sizes show no scatter; beyond eight passes the trend is another one."""
TRUST = 6.0
"""Readings that the stated scatter of the gauge counts for beside those of the window."""


class Trend(Struct, frozen=True):
    """What the sizes of the last few passes say by themselves."""

    removal: float
    """Taken off by a pass, mm on diameter; less than 0 for a part that gets larger."""
    u_removal: float
    p_below: float
    """Probability, after paying for the windows tried, that the next pass takes less than the limit."""
    p_growing: float
    passes: int
    """Sizes after so many passes are in the window."""


def trend(
    after: Sequence[int],
    places: Sequence[int],
    values: Sequence[float],
    variances: Sequence[float],
    *,
    limit: float,
) -> Trend | None:
    """Test the last few of *values*, ordered by pass; None with sizes after fewer than three passes.

    Args:
        after: Number of the pass that each value was measured after.
        places: Place of each value; places differ by constants.
        values: Sizes as deviations from any reference, mm.
        variances: Stated variance of each value, mm².
        limit: Removal a pass that counts as none, mm on diameter.

    >>> sizes = [0.0052, 0.0049, 0.0050, 0.0051, 0.0050, 0.0050]
    >>> found = trend(range(6), [0] * 6, sizes, [1e-8] * 6, limit=0.0005)
    >>> found.passes, found.p_below > 0.99
    (6, True)
    >>> trend([0, 1], [0, 0], [0.01, 0.005], [1e-8] * 2, limit=0.0005) is None
    True
    """
    numbers = sorted(set(after))[-LONGEST:]
    firsts = numbers[: len(numbers) - SHORTEST + 1]
    lines = [line for first in firsts if (line := _line(first, after, places, values, variances)) is not None]
    if not lines:
        return None
    tried = len(lines)
    tests = [
        Trend(
            removal,
            u,
            _paid(float(ndtr((limit - removal) / u)), tried),
            _paid(float(ndtr(-removal / u)), tried),
            passes,
        )
        for removal, u, passes in lines
    ]
    surest = max(tests, key=lambda test: test.p_below)
    rising = max(test.p_growing for test in tests)
    return Trend(surest.removal, surest.u_removal, surest.p_below, rising, surest.passes)


def _paid(probability: float, tried: int) -> float:
    return max(0.0, 1.0 - tried * (1.0 - probability))


def _line(
    first: int,
    after: Sequence[int],
    places: Sequence[int],
    values: Sequence[float],
    variances: Sequence[float],
) -> tuple[float, float, int] | None:
    """Removal a pass, its standard uncertainty and the passes it rests on, from pass *first* on."""
    rows = [i for i, number in enumerate(after) if number >= first]
    number = np.array([after[i] for i in rows], dtype=np.float64)
    value = np.array([values[i] for i in rows])
    stated = np.array([variances[i] for i in rows])
    kinds = sorted({places[i] for i in rows})
    offsets = np.array([[float(places[i] == kind) for kind in kinds] for i in rows])
    design = np.column_stack([offsets, number - number.mean()]) / np.sqrt(stated)[:, None]
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    inverse = np.linalg.inv(design.T @ design)
    scaled = value / np.sqrt(stated)
    answer = inverse @ (design.T @ scaled)
    free = len(rows) - design.shape[1]
    excess = (TRUST + float(np.sum((scaled - design @ answer) ** 2))) / (TRUST + free)
    return -float(answer[-1]), float(np.sqrt(inverse[-1, -1] * excess)), len(set(number.tolist()))
