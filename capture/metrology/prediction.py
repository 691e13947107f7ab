"""What is still to come off, foretold: shares, scatters and troubles weighed by how well they fit.

The kinds of trouble weighed beside an honest grind: heat that no probe sees, a wheel that glazes, passes in
the air before the wheel touches. When the readings strain all of these, others are tried: an infeed was
mistyped, a reading is wrong, the dial was read on radius for diameter, or the reverse.
"""

from __future__ import annotations

from math import exp, log, sqrt
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy.special import ndtr

from capture.metrology.passes import Prior, Task
from capture.metrology.spring import (
    FIRST,
    GROWTH,
    LEVEL,
    PLACES,
    REMOVED,
    SECOND,
    TO_COME,
    Array,
    Belief,
    follow,
    share_axis,
)

FAR = 3.5
"""Standard deviations at which a reading is no longer what was foretold; 1 honest reading in 2000."""
FINE, ROUGH = 31, 15
"""Shares on the grid, of the honest grind and of each explanation tried."""
FEW_PLACES = 3
"""Places up to which the fine grid is worth its time; more readings settle the share by themselves."""
MISTYPED = 3
"""Infeeds tried one by one as mistyped."""
LOST = 6.0
"""Standard deviations at which even the best explanation does not explain."""
SUSPECT = 0.01
"""Weight of each explanation tried for a far reading, beforehand: an engineering estimate, no source."""


class Prediction(Struct, frozen=True):
    """What the model makes of all passes so far; means and standard uncertainties, mm on diameter."""

    size: float
    """Mean over the places, cold, as a deviation."""
    u_size: float
    removed: float
    """By the newest pass."""
    u_removed: float
    to_come: float
    """By passes without infeed from here on."""
    u_to_come: float
    next_removal: float
    u_next: float
    final: float
    """`size` less `to_come`."""
    u_final: float
    share: float
    u_share: float
    scatter: float
    """Ratio of the gauge's scatter to that stated."""
    p_next: float
    """Probability that the next pass without infeed takes less than the limit, the wheel touching."""
    p_twice: float
    """The same, of twice the limit."""
    p_rest: float
    """Probability that all that is to come is less than the limit of the rest, the wheel touching."""
    p_idle: float
    """Probability that the newest pass took less than the limit of an idle pass."""
    p_growing: float
    """Probability that heat makes the part larger faster than the wheel makes it smaller."""
    p_heat: float
    p_touching: float
    doubt: str
    """The explanation that the readings call for, or empty."""
    lost: bool
    """Nothing explains the readings."""


class Bounds(Struct, frozen=True, kw_only=True):
    """Lengths that probabilities are asked of."""

    next_removal: float
    rest: float
    idle: float


class Weighed(NamedTuple):
    """All explanations of a grind as one mixture of normal densities."""

    pool: Pool
    doubt: str
    """The explanation that the readings call for, or empty."""
    lost: bool
    """Nothing explains the readings."""


def predict(task: Task, prior: Prior, bounds: Bounds) -> Prediction:
    """Weigh all explanations of *task* and sum them up."""
    return summed(weigh(task, prior), bounds)


def weigh(task: Task, prior: Prior) -> Weighed:
    """Weigh all explanations of *task* by how well they foretold its sizes."""
    honest = _focused(task, prior, FINE if task.places <= FEW_PLACES else ROUGH)
    candidates: list[tuple[float, str, Belief]] = [(log(1.0 - 4 * SUSPECT), "", honest)]
    if _odd(honest):
        candidates += [
            (log(SUSPECT), doubt, _focused(suspect, prior, ROUGH))
            for doubt, suspect in _suspects(task, honest)
        ]
    scores = np.array([weight + belief.evidence for weight, _, belief in candidates])
    weights = np.exp(scores - scores.max())
    weights /= weights.sum()
    best = int(np.argmax(weights))
    lost = max(abs(value) for value in candidates[best][2].surprise) > LOST
    return Weighed(Pool(weights, [belief for _, _, belief in candidates]), candidates[best][1], lost)


def _odd(belief: Belief) -> bool:
    """Whether the readings call for an explanation that an honest grind has not."""
    strained = float(belief.weight @ np.log(belief.scatter)) > log(1.4)
    heated = float(belief.weight @ belief.heat) > 0.5
    return strained or heated or max(map(abs, belief.surprise)) > FAR


def _suspects(task: Task, belief: Belief) -> list[tuple[str, Task]]:
    """Each explanation of odd readings, with the task as it would then have been."""
    found: list[tuple[str, Task]] = []
    for number in _strange(task, belief):
        moves = list(task.moves)
        moves[number - 1] = moves[number - 1]._replace(infeed=None)
        found.append(
            (
                f"the infeed of pass {task.first + number} does not fit the sizes",
                task._replace(moves=tuple(moves)),
            )
        )
    worst = int(np.argmax(np.abs(belief.surprise)))
    groups = list(task.groups)
    groups[worst] = groups[worst]._replace(u=10.0 * task.scale, readings=1, squares=0.0)
    doubt = f"a size after pass {task.first + groups[worst].after} does not fit the others"
    found.append((doubt, task._replace(groups=tuple(groups))))
    for factor, told in ((2.0, "half"), (0.5, "twice")):
        moves = [m._replace(infeed=None if m.infeed is None else m.infeed * factor) for m in task.moves]
        doubt = f"the sizes answer as if the dial told {told} of each infeed"
        found.append((doubt, task._replace(moves=tuple(moves))))
    return found


def _strange(task: Task, belief: Belief) -> list[int]:
    """The passes whose infeed is farthest from what came off in that pass and the next."""
    drops = -np.diff(belief.levels)
    scores = []
    for number, move in enumerate(task.moves, 1):
        if move.infeed is not None:
            near = drops[number - 1 : number + 1]
            scores.append((abs(move.infeed - float(near.mean())), number))
    return [number for _, number in sorted(scores)[-MISTYPED:]]


def _focused(task: Task, prior: Prior, count: int) -> Belief:
    """The filter on a grid of shares drawn together until the belief covers enough of its points."""
    axis = share_axis(count)
    belief = follow(task, axis, prior)
    for _ in range(5):
        density = np.bincount(belief.order, belief.weight, len(axis))
        if 1.0 / float(density @ density) > 4.0:
            return belief
        inside = np.flatnonzero(density > 1e-5)
        low, high = max(0, int(inside[0]) - 1), min(len(axis) - 1, int(inside[-1]) + 1)
        axis = np.linspace(axis[low], axis[high], len(axis))
        belief = follow(task, axis, prior)
    return belief


class Pool:
    """Points of several beliefs as one, with weights that sum to 1."""

    def __init__(self, weights: Array, beliefs: list[Belief]) -> None:
        self.weight: Array = np.concatenate([w * b.weight for w, b in zip(weights, beliefs, strict=True)])
        self.share: Array = np.concatenate([b.share for b in beliefs])
        self.scatter: Array = np.concatenate([b.scatter for b in beliefs])
        self.heat: NDArray[np.bool_] = np.concatenate([b.heat for b in beliefs])
        self.touching: NDArray[np.bool_] = np.concatenate([b.touching for b in beliefs])
        self.mean: Array = np.concatenate([b.mean for b in beliefs])
        self.cov: Array = np.concatenate([b.cov for b in beliefs])

    def offsets(self) -> list[float]:
        """Expected size of each place less the mean of the places, mm."""
        places = self.weight @ self.mean[:, PLACES:]
        return [float(place) for place in places - places.mean()]

    def along(self, direction: Array) -> tuple[Array, Array]:
        """Mean and standard deviation of a linear figure at each point; *direction* one row a point."""
        mean = np.einsum("ij,ij->i", self.mean, direction)
        variance = np.einsum("ij,ijk,ik->i", direction, self.cov, direction)
        return mean, np.sqrt(np.maximum(variance, 1e-24))

    def moments(self, direction: Array) -> tuple[float, float]:
        """Mean and standard deviation of a linear figure over all points."""
        mean, deviation = self.along(direction)
        return self.spread(mean, deviation)

    def spread(self, mean: Array, deviation: Array) -> tuple[float, float]:
        """Middle of a mixture of normal densities, and half its central 95 % over 1.96.

        The standard deviation itself would be ruled by explanations of one chance in fifty.
        """
        heavy = self.weight > 1e-7
        weight, mean, deviation = self.weight[heavy], mean[heavy], deviation[heavy]
        centre = float(weight @ mean)
        reach = 10.0 * sqrt(float(weight @ (deviation**2 + (mean - centre) ** 2)))
        chances = np.array([0.025, 0.5, 0.975])[:, None]
        low, high = np.full(3, centre - reach), np.full(3, centre + reach)
        for _ in range(24):
            middle = 0.5 * (low + high)
            under = ndtr((middle[:, None] - mean) / deviation) @ weight < chances[:, 0]
            low, high = np.where(under, middle, low), np.where(under, high, middle)
        least, centre, most = (0.5 * (low + high)).tolist()
        return centre, (most - least) / (2.0 * 1.959964)

    def below(self, direction: Array, bound: float) -> Array:
        """Probability, at each point, that a linear figure is less than *bound*."""
        mean, deviation = self.along(direction)
        return np.asarray(ndtr((bound - mean) / deviation))


def summed(weighed: Weighed, bounds: Bounds) -> Prediction:
    """The figures of *weighed*, and the probabilities that *bounds* ask for."""
    pool = weighed.pool
    states = pool.mean.shape[1]

    def figure(**parts: Array | float) -> Array:
        """A row of factors a point, from the names of states."""
        rows = np.zeros_like(pool.mean)
        for name, factor in parts.items():
            rows[:, _STATES[name]] = factor
        return rows

    size = figure(level=1.0)
    size[:, PLACES:] = 1.0 / (states - PLACES)
    touching = pool.touching.astype(np.float64)
    positive = pool.mean[:, TO_COME] > 0.0
    rest = figure(to_come=touching * positive)
    coming = figure(to_come=touching * positive * pool.share)
    removed = figure(removed=1.0)
    rise = figure(first=1.0, to_come=-0.9 * pool.share)
    weight, hot = pool.weight, pool.weight * pool.heat
    share = pool.spread(pool.share, np.full_like(pool.share, 1e-3))
    return Prediction(
        *pool.moments(size),
        *pool.moments(removed),
        *pool.moments(rest),
        *pool.moments(coming),
        *pool.moments(size - rest),
        *share,
        exp(float(weight @ np.log(pool.scatter))),
        float((weight * touching) @ pool.below(coming, bounds.next_removal)),
        float((weight * touching) @ pool.below(coming, 2.0 * bounds.next_removal)),
        float((weight * touching) @ pool.below(rest, bounds.rest)),
        float(weight @ pool.below(removed, bounds.idle)),
        float(hot @ (1.0 - pool.below(rise, 0.0))),
        float(hot.sum()),
        float(weight @ touching),
        weighed.doubt,
        weighed.lost,
    )


_STATES = {
    "level": LEVEL,
    "to_come": TO_COME,
    "removed": REMOVED,
    "growth": GROWTH,
    "first": FIRST,
    "second": SECOND,
}
