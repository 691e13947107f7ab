"""What is still to come off, foretold: shares, scatters and troubles weighed by how well they fit.

The kinds of trouble weighed beside an honest grind: heat that no probe sees, a wheel that glazes, passes in
the air before the wheel touches. When the readings strain all of these, others are tried: an infeed was
mistyped, a reading is wrong, the dial was read on radius for diameter, or the reverse.
"""

from __future__ import annotations

from math import exp, log, pi, sqrt
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from scipy.special import ndtr

from capture.metrology.grinding.spring.filter import FIRST, LEVEL, PLACES, REMOVED, TO_COME, Array, Belief
from capture.metrology.grinding.spring.grid_refinement import focused
from capture.metrology.grinding.spring.normal_mixture import WIDE, middle, reach
from capture.metrology.grinding.spring.passes import Prior, Task
from capture.metrology.grinding.spring.untold import hypotheses
from capture.metrology.message import Message, message

FAR = 3.5
"""Standard deviations at which a reading is no longer what was foretold; 1 honest reading in 2000."""
MISTYPED = 3
"""Infeeds tried one by one as mistyped."""
DRESSINGS = 2
"""Passes that fell short of what was foretold, round which a dressing that nobody told is looked for."""
SHORT = 2.5
"""Standard deviations above what was foretold from which on a size calls for such a dressing."""
LOST = 6.0
"""Standard deviations at which even the best explanation does not explain."""
BACK = (0.7, 2.0)
"""How far a wheel that was dressed and set anew may stand back, in infeeds, that are tried."""
BITES = (1.0, 1.3)
"""Shares of a dressed wheel over those before, that are tried."""
CLEAR = 0.01
"""Chance that anything is still to come under which the wheel stands clear of the part."""
LIGHT = 1e-6
"""Weight under which a point is left out of the figures."""
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
    """That the wheel has touched the part; it may stand clear of it again."""
    p_clear: float
    """That it has touched the part and stands clear of it: the part has shrunk away."""
    doubt: Message | None
    """The explanation that the readings call for, if any."""
    lost: bool
    """Nothing explains the readings."""


class Bounds(Struct, frozen=True, kw_only=True):
    """Lengths that probabilities are asked of."""

    next_removal: float
    rest: float
    idle: float
    seen: float
    """What the gauge shows of one pass at least."""


class Weighed(NamedTuple):
    """All explanations of a grind as one mixture of normal densities."""

    pool: Posterior
    doubt: Message | None
    """The explanation that the readings call for, if any."""
    lost: bool
    """Nothing explains the readings."""
    odd: int | None = None
    """The pass whose infeed they call in question."""
    misread: int | None = None
    """The pass whose sizes they call in question."""


DIAL_HALF = "doubt.dial-half"
DIAL_TWICE = "doubt.dial-twice"
"""Names of the doubts whether the dial is graduated in what the sheet says."""


def weigh(task: Task, prior: Prior) -> Weighed:
    """Weigh all explanations of *task* by how well they foretold its sizes."""
    belief = focused([task], [1.0], prior)
    doubt: Message | None = None
    surprise, odd, misread = belief.surprise[0], None, None
    surely = sum(case.weight for case in task.cases if case.heat) > 0.5
    if _odd(belief, surely=surely):
        suspects = _suspects(task, belief)
        tasks = [task, *(suspect for _, suspect in suspects)]
        weights = [1.0 - len(suspects) * SUSPECT, *(SUSPECT for _ in suspects)]
        belief = focused(tasks, weights, prior, belief.points)
        best = int(np.argmax(np.bincount(belief.points.hypothesis, belief.weight, len(tasks))))
        doubt, surprise = (None, *(doubt for doubt, _ in suspects))[best], belief.surprise[best]
        both = zip(task.moves, tasks[best].moves, strict=True)
        slips = (n for n, (was, now) in enumerate(both, task.first + 1) if was.infeed != now.infeed is None)
        odd = next(slips, None)
        odd = task.first + tasks[best].dressed if tasks[best].dressed else odd
        misread = next((task.first + group.after for group in tasks[best].groups if group.astray), None)
    return Weighed(Posterior(belief), doubt, float(np.abs(surprise).max()) > LOST, odd, misread)


def weigh_untold(task: Task, prior: Prior) -> Weighed:
    """Weigh when the feeding may have stopped, where the newest infeeds are not told."""
    tasks, weights = hypotheses(task, prior)
    belief = focused(tasks, weights, prior)
    best = int(np.argmax(np.bincount(belief.points.hypothesis, belief.weight, len(tasks))))
    return Weighed(Posterior(belief), None, float(np.abs(belief.surprise[best]).max()) > LOST, None, None)


def _odd(belief: Belief, *, surely: bool) -> bool:
    """Whether the readings call for an explanation that an honest grind has not; heat is one, unless sure."""
    strained = float(belief.weight @ np.log(belief.scatter)) > log(1.4)
    heated = not surely and float(belief.weight @ belief.heat) > 0.5
    return strained or heated or float(np.abs(belief.surprise[0]).max()) > FAR


def _suspects(task: Task, belief: Belief) -> list[tuple[Message, Task]]:
    """Each explanation of odd readings, with the task as it would then have been."""
    found: list[tuple[Message, Task]] = []
    for number in _strange(task, belief):
        moves = list(task.moves)
        moves[number - 1] = moves[number - 1]._replace(infeed=None)
        found.append(
            (
                message("doubt.infeed", number=task.first + number),
                task._replace(moves=tuple(moves)),
            )
        )
    for number in _fell_short(task, belief):
        doubt = message("doubt.dressed", number=task.first + number)
        found += [
            (doubt, task._replace(dressed=number, back=back, bite=bite)) for back in BACK for bite in BITES
        ]
    for index in _far(task, belief):
        groups = list(task.groups)
        groups[index] = groups[index]._replace(astray=10.0 * task.scale)
        doubt = message("doubt.size", number=task.first + groups[index].after)
        found.append((doubt, task._replace(groups=tuple(groups))))
    for factor, name in ((2.0, DIAL_HALF), (0.5, DIAL_TWICE)):
        moves = [m._replace(infeed=None if m.infeed is None else m.infeed * factor) for m in task.moves]
        found.append((message(name), task._replace(moves=tuple(moves))))
    return found


def _far(task: Task, belief: Belief) -> list[int]:
    """The size farthest from what was foretold, and the one before: a wrong one spoils what it foretells."""
    worst = int(np.argmax(np.abs(belief.surprise[0])))
    place = task.groups[worst].place
    before = [index for index in range(worst) if task.groups[index].place == place]
    return [*before[1:][-1:], worst]


def _fell_short(task: Task, belief: Belief) -> list[int]:
    """Passes that left the part larger than predicted, and those just before: the wheel stood back."""
    surprise = belief.surprise[0]
    most = [
        task.groups[index].after
        for index in np.argsort(surprise)[::-1][:DRESSINGS]
        if surprise[index] > SHORT
    ]
    return sorted({max(2, number - before) for number in most if number > 1 for before in (0, 1)})


def _strange(task: Task, belief: Belief) -> list[int]:
    """The passes whose infeed is farthest from what came off in that pass and the next."""
    drops = -np.diff(belief.levels)
    scores = []
    for number, move in enumerate(task.moves, 1):
        if move.infeed is not None:
            near = drops[number - 1 : number + 1]
            scores.append((abs(move.infeed - float(near.mean())), number))
    return [number for _, number in sorted(scores)[-MISTYPED:]]


class Posterior:
    """Points of a belief, with weights that sum to 1, and what can be asked of them."""

    def __init__(self, belief: Belief) -> None:
        self._belief = belief
        self.points, self.weight = belief.points, belief.weight
        self.share, self.scatter = belief.share, belief.points.ratio
        self.heat, self.touching = belief.heat, belief.touching
        self.mean, self.cov = belief.mean, belief.cov

    def heavy(self) -> Posterior:
        """Without the points that carry next to nothing."""
        rows = self.weight > LIGHT
        one = self._belief
        return Posterior(
            one._replace(
                weight=one.weight[rows] / one.weight[rows].sum(),
                log=one.log[rows],
                points=one.points.kept(rows),
                share=one.share[rows],
                heat=one.heat[rows],
                touching=one.touching[rows],
                mean=one.mean[rows],
                cov=one.cov[rows],
            )
        )

    def offsets(self) -> list[float]:
        """Expected size of each place less the mean of the places, mm."""
        places = self.weight @ self.mean[:, PLACES:]
        return [float(place) for place in places - places.mean()]

    def along(self, directions: Array) -> tuple[Array, Array]:
        """Means and standard deviations of linear figures at each point.

        Args:
            directions: Factors of the states: one layer a point, one row a figure.

        Returns:
            Both one column a point, one row a figure.
        """
        mean = np.einsum("ifj,ij->fi", directions, self.mean)
        variance = np.einsum("ifj,ifj->fi", directions @ self.cov, directions)
        return mean, np.sqrt(np.maximum(variance, 1e-24))

    def spread(self, mean: Array, deviation: Array, smooth: Array) -> tuple[Array, Array]:
        """Middle of mixtures of normal densities, and what holds 95 % round it over 1.96; one row a figure.

        The standard deviation itself would be ruled by explanations of one chance in fifty.

        Args:
            mean: At each point.
            deviation: At each point, of its share alone.
            smooth: At each point, of all its cell.
        """
        centre = middle(self.weight, mean, smooth)
        far = reach(self.weight, mean - centre[:, None], smooth)
        # an even grid sums squares exactly, so what the smoothing adds is known
        apart = (mean - (mean @ self.weight)[:, None]) ** 2
        added = np.sqrt(((deviation**2 + apart) @ self.weight) / ((smooth**2 + apart) @ self.weight))
        return centre, added * far / WIDE

    def between(self, mean: Array) -> Array:
        """What a figure varies by over the width of a point's cell: the filter knows only its middle."""
        order = np.lexsort((self.points.share, self.points.ratio, self.points.case, self.points.hypothesis))
        share, ratio = self.points.share[order], self.points.ratio[order]
        near = (np.diff(ratio) == 0.0) & (np.diff(share) > 0.0)
        steps = np.where(near, np.abs(np.diff(mean[:, order])), 0.0)
        beside = np.zeros((2, *mean.shape))
        beside[0, :, order[:-1]] = beside[1, :, order[1:]] = steps.T
        return np.asarray(np.maximum(beside.max(axis=0) / sqrt(12.0), 1e-12))


def rectified(mean: Array, deviation: Array) -> tuple[Array, Array, Array]:
    """Mean and standard deviation of max(X, 0) for normal X, and the chance that X is more than 0.

    The covariance of max(X, 0) with any figure is that of X times the chance (Stein, Ann. Statist. 9 (1981)
    1135).

    >>> [round(float(figure), 4) for figure in rectified(np.array(0.0), np.array(1.0))]
    [0.3989, 0.5838, 0.5]
    """
    apart = mean / deviation
    above = np.asarray(ndtr(apart))
    bell = np.exp(-0.5 * apart**2) / sqrt(2.0 * pi)
    centre = mean * above + deviation * bell
    variance = (mean**2 + deviation**2) * above + mean * deviation * bell - centre**2
    return centre, np.sqrt(np.maximum(variance, 0.0)), above


def summed(weighed: Weighed, bounds: Bounds) -> Prediction:
    """The figures of *weighed*, and the probabilities that *bounds* ask for."""
    pool = weighed.pool.heavy()
    weight, hot, touching = pool.weight, pool.weight * pool.heat, pool.touching.astype(np.float64)
    directions = np.zeros((len(weight), 4, pool.mean.shape[1]))
    size, removed, coming, rise = np.moveaxis(directions, 1, 0)
    size[:, LEVEL], size[:, PLACES:] = 1.0, 1.0 / (pool.mean.shape[1] - PLACES)
    removed[:, REMOVED] = 1.0
    coming[:, TO_COME] = 1.0
    rise[:, FIRST], rise[:, TO_COME] = 1.0, -0.9 * pool.share
    mean, deviation = pool.along(directions)
    with_size = np.einsum("ij,ij->i", (size[:, None, :] @ pool.cov)[:, 0], coming)
    # had more than that come off a part that the wheel is thought clear of, the gauge would have shown it
    deviation[2] = np.where(mean[2] < 0.0, np.minimum(deviation[2], bounds.seen), deviation[2])
    rest, u_rest, above = rectified(mean[2], deviation[2])
    rest, u_rest = touching * rest, touching * u_rest
    final = mean[0] - rest
    v_final = deviation[0] ** 2 + u_rest**2 - 2.0 * touching * above * with_size
    u_final = np.sqrt(np.maximum(v_final, 1e-24))
    # what is asked of a bound above nothing needs no cut at nothing
    asked = np.vstack([mean[2], pool.share * mean[2], mean[1], mean[3]])
    u_asked = np.vstack([deviation[2], pool.share * deviation[2], deviation[1], deviation[3]])
    u_asked = np.hypot(u_asked, pool.between(asked))
    mean = np.vstack([mean[0], mean[1], rest, pool.share * rest, final, pool.share])
    nothing = np.zeros_like(pool.share)
    deviation = np.vstack([deviation[0], deviation[1], u_rest, pool.share * u_rest, u_final, nothing])
    smooth = np.hypot(deviation, pool.between(mean))
    found = np.column_stack(pool.spread(mean, deviation, smooth)).tolist()

    def below(figure: int, bound: float) -> Array:
        return np.asarray(ndtr((bound - asked[figure]) / u_asked[figure]))

    return Prediction(
        size=found[0][0],
        u_size=found[0][1],
        removed=found[1][0],
        u_removed=found[1][1],
        to_come=found[2][0],
        u_to_come=found[2][1],
        next_removal=found[3][0],
        u_next=found[3][1],
        final=found[4][0],
        u_final=found[4][1],
        share=found[5][0],
        u_share=found[5][1],
        scatter=exp(float(weight @ np.log(pool.scatter))),
        p_next=float((weight * touching) @ below(1, bounds.next_removal)),
        p_twice=float((weight * touching) @ below(1, 2.0 * bounds.next_removal)),
        p_rest=float((weight * touching) @ below(0, bounds.rest)),
        p_idle=float(weight @ below(2, bounds.idle)),
        p_growing=float(hot @ (1.0 - below(3, 0.0))),
        p_heat=float(hot.sum()),
        p_touching=float(weight @ touching),
        p_clear=float(weight @ (touching * (above < CLEAR))),
        doubt=weighed.doubt,
        lost=weighed.lost,
    )
