"""Where the filter of the machine's spring is run: a coarse look everywhere, then closer where it counts.

Each kind of trouble, in each hypothesis of the grind, with each scatter of the gauge, is a strand with a
belief of its own about the share. The points of a strand are drawn together round its belief until enough
of them carry it. An even grid of points closer than a standard deviation sums a bell curve to 1 in 10^7
(the trapezoidal rule on the whole line: Trefethen and Weideman, SIAM Review 56 (2014) 385), so few points
are enough. A strand that carries next to nothing is left out, but not before its own points were close
enough to say so: between points that are too far apart any belief looks like nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from capture.metrology.grinding.spring.filter import Belief, follow_all
from capture.metrology.grinding.spring.grid import (
    LEAST,
    MOST,
    SCATTERS,
    Array,
    Numbers,
    Points,
    grid,
    share_axis,
)
from capture.metrology.grinding.spring.passes import Prior, Task

SHARES, FEWER = 15, 9
"""Points on each axis of shares, and for a first look at hypotheses that are likely to be wrong."""
SAME = 0.8
"""Width of the points over that of the look before from which on another look brings nothing."""
ENOUGH = 3.0
"""Points that a belief has to be spread over, 1 / Σ p²: 3.5 standard deviations over the step."""
SOME = 1.5
"""The same, for its sum to be believed within a factor of two."""
SLIGHT = 1e-4
"""Belief in a strand that is left out."""
HEAVY = 0.01
"""Belief in a strand from which on its points have to be close enough."""
EDGE = 1e-5
"""Part of a strand's belief at a share under which its grid ends."""
HOPELESS = 18.0
"""Logarithm of the odds against a point from which on it is no longer followed."""
MOST_LOOKS = 6
"""Looks at the belief at most, the first among them: a bound on the time that a judgement takes."""


def focused(
    tasks: Sequence[Task], weights: Sequence[float], prior: Prior, first: Points | None = None
) -> Belief:
    """The filter of all hypotheses, on grids drawn together until the belief covers enough of their points.

    Args:
        tasks: One grind, under each hypothesis.
        weights: Of each hypothesis, beforehand.
        prior: What is believed beforehand.
        first: Points of the first hypothesis, where they are known already.
    """
    cases = len(tasks[0].cases)
    points = grid(share_axis(SHARES if first is None else FEWER), cases, len(tasks))
    if first is not None:
        # a mistyped infeed and a wheel's trouble that the first hypothesis rules out: one chance in 10,000
        alive = np.isin(np.arange(cases), first.case) | [not case.astray for case in tasks[0].cases]
        others = points.kept((points.hypothesis > 0) & alive[points.case])
        points = Points(*(np.concatenate(both) for both in zip(first, others, strict=True)))
    belief = follow_all(tasks, weights, points, prior, HOPELESS + _coarseness(tasks[0], points))
    for _ in range(MOST_LOOKS - 1):
        closer, fine = _closer(belief, cases)
        if fine or closer.width.mean() > SAME * belief.points.width.mean():
            break
        belief = follow_all(tasks, weights, closer, prior, HOPELESS + _coarseness(tasks[0], closer))
    return belief


def _coarseness(task: Task, points: Points) -> float:
    """What a point may lose, in the logarithm of its odds, because the best share lies between two points."""
    u = min(group.u / np.sqrt(group.readings) for group in task.groups)
    sharpest = float(SCATTERS.min()) * u / task.scale / np.sqrt(len(task.groups))
    return float(0.5 * (0.5 * points.width.max() / sharpest) ** 2)


def _closer(belief: Belief, cases: int) -> tuple[Points, bool]:
    """Points round the belief of each strand; and whether they were close enough already."""
    points = belief.points
    number = (points.hypothesis * cases + points.case) * len(SCATTERS) + np.searchsorted(
        SCATTERS, points.ratio
    )
    order = np.lexsort((points.share, number))
    starts = np.flatnonzero(np.diff(number[order], prepend=-1))
    strand = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(order)))
    log, share, width = belief.log[order], points.share[order], points.width[order][starts]
    own = np.exp(log - np.maximum.reduceat(log, starts)[strand])
    own /= np.add.reduceat(own, starts)[strand]
    spread = 1.0 / np.add.reduceat(own**2, starts)
    mass = np.add.reduceat(belief.weight[order], starts)
    inside = own > EDGE
    low = np.minimum.reduceat(np.where(inside, share, 1.0), starts) - width
    high = np.maximum.reduceat(np.where(inside, share, 0.0), starts) + width
    kept = (mass > SLIGHT) | (spread < SOME)
    fine = not bool(np.any((spread < ENOUGH) & (mass > HEAVY)) or np.any(spread < SOME))
    return _drawn(
        points, order[starts][kept], np.maximum(low, LEAST)[kept], np.minimum(high, MOST)[kept]
    ), fine


def _drawn(points: Points, rows: Numbers, low: Array, high: Array) -> Points:
    """Even grids from *low* to *high*, each otherwise as the point of *rows*."""
    share = np.linspace(low, high, SHARES, axis=1).ravel()
    again = np.repeat(rows, SHARES)
    width = np.repeat((high - low) / (SHARES - 1), SHARES)
    return Points(points.hypothesis[again], points.case[again], share, points.ratio[again], width)
