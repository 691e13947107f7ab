"""The tightest place of a fit: its clearance by the law of propagation and by simulation, side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from capture.metrology.fit.clearance import (
    Shared,
    StationSize,
    TravelEngagement,
    ordered,
    over_travel,
    weights,
)
from capture.metrology.uncertainty.budget import Contribution, Expanded
from capture.metrology.uncertainty.coverage import coverage_factor
from capture.metrology.uncertainty.monte_carlo import Comparison, Simulated, compare, draw, shortest_interval
from capture.metrology.uncertainty.propagation import Array


class Smallest(Struct, frozen=True):
    """The smallest clearance by the law of propagation and by simulation."""

    stated: Expanded
    simulated: Simulated
    comparison: Comparison


def simulate_smallest(
    bore: Sequence[StationSize],
    shaft: Sequence[StationSize],
    engagement: TravelEngagement,
    *,
    trials: int,
    seed: int,
    shared: Sequence[Shared] = (),
    coverage: float = 0.95,
    digits: int = 1,
) -> Smallest:
    """Simulate the smallest clearance itself, and lay the law of propagation beside it.

    The law follows the one place that is tightest by the estimates. Where several places
    are nearly as tight, the true smallest is a little smaller: the simulation shows by how much.

    Args:
        bore: Stations with their own uncertainties, normal.
        shaft: The same.
        engagement: Where the shaft travels.
        trials: Number of draws (JCGM 101:2008, 7.2); a few ten thousand serve.
        seed: Settles every draw.
        shared: Errors that stations have in common.
        coverage: Probability of both intervals.
        digits: Significant digits of u to which both must agree; two need a million trials or more.
    """
    hole, pin = ordered(bore, "bore"), ordered(shaft, "shaft")
    travel = over_travel(hole, pin, engagement, shared=shared)
    k = coverage_factor(coverage)
    tight = travel.smallest
    stated = Expanded(tight.value, tight.u, None, k, k * tight.u, coverage, "Student t", 0.0)
    generator = np.random.default_rng(seed)
    bores = np.array([draw(_line(each), trials, generator) for each in hole])
    shafts = np.array([draw(_line(each), trials, generator) for each in pin])
    moved = np.zeros(trials)
    for each in shared:
        line = Contribution(each.name, 0.0, each.spread, each.distribution)
        moved += (each.on_bore - each.on_shaft) * draw(line, trials, generator)
    least = np.full(trials, np.inf)
    for place in (place for position in travel.positions for place in position.places):
        gap = _drawn(hole, bores, place.z_bore) - _drawn(pin, shafts, place.z_shaft)
        least = np.minimum(least, gap)
    least = least + moved
    low, high = shortest_interval(least, coverage)
    simulated = Simulated(float(least.mean()), float(least.std(ddof=1)), low, high, coverage, trials)
    return Smallest(stated, simulated, compare(stated, simulated, digits))


def _line(size: StationSize) -> Contribution:
    return Contribution(f"z {size.z:g}", size.value, size.u)


def _drawn(sizes: Sequence[StationSize], draws: Array, z: float) -> Array:
    return np.asarray(sum(w * draws[i] for i, w in weights(sizes, z)), dtype=float)
