"""Decides whether agreeing turning points come from deliberate rocking or from chance."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import comb, hypot, log10
from statistics import median

from capture.metrology.bore.agreement import HAND
from capture.state.sweep.sweep_state import Placement, Point

REGULAR = (2.0, 4.0)
"""Rocks of one hand are within these factors of their median in length and in height."""
WINDOW = 2.5
"""Standard uncertainties within which a dip's bottom agrees with another by chance."""
JOINED = 0.5
"""A rock that begins on the reading at which the one before ended speaks for a hand: decades of its odds;"""
PARTED = -0.7
"""and one that does not, against it (both from hands and streams of `capture.simulator`)."""
SURE = 3.5
"""Decades of odds from which they are a hand's."""


def is_deliberate(placement: Placement, kept: Sequence[int]) -> bool:
    """Whether the points of a place that agree, *kept*, are of a hand that rocks.

    The bottoms of dips as high as h that nobody rocked agree within a few u with a chance of about u / h
    each, and the more dips there were the more ways there are to find some that do. A hand's rocks follow
    each other without anything in between.
    """
    return odds(placement, [placement.points[i] for i in kept]) >= SURE


def odds(placement: Placement, kept: Sequence[Point]) -> float:
    """Decades of odds that *kept* are of one hand, and do not agree by chance."""
    chances = sorted(min(1.0, WINDOW * hypot(point.u, HAND) / point.height) for point in kept)
    # The first may be anywhere: the one that is known worst.
    found = -sum(log10(chance) for chance in chances[:-1])
    found -= log10(comb(max(placement.dips, len(placement.points)), len(kept)))
    for before, after in pairwise(placement.points):
        found += JOINED if after.first == before.last else PARTED
    return found


def regular(points: Sequence[Point]) -> int:
    """How many points are of rocks of one kind; knocks follow each other anyhow."""
    half, height = median(point.half for point in points), median(point.height for point in points)
    longer, higher = REGULAR
    return sum(
        half / longer <= point.half <= half * longer and height / higher <= point.height <= height * higher
        for point in points
    )


def stepped(placement: Placement, kept: Sequence[int]) -> bool:
    """Whether a knock parts the points that agree from others that agree: the zero has moved."""
    aside = [point for i, point in enumerate(placement.points) if i not in kept]
    if not placement.knocks or len(aside) < 2:
        return False
    times = [placement.points[i].at for i in kept]
    apart = all(point.at < times[0] for point in aside) or all(point.at > times[-1] for point in aside)
    level = median(point.value for point in aside)
    return apart and all(abs(point.value - level) < 3 * point.u + 0.0003 for point in aside)
