"""What is still to come off, predicted: shares, scatters and troubles weighed by how well they fit.

The kinds of trouble weighed beside an honest grind: heat that no probe sees, a wheel that glazes, passes in
the air before the wheel touches. When the readings strain all of these, others are tried: an infeed was
mistyped, a reading is wrong, the dial was read on radius for diameter, or the reverse.
"""

from __future__ import annotations

from math import exp, log
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from scipy.special import ndtr

from capture.metrology.grinding.spring.filter import FIRST, LEVEL, PLACES, REMOVED, TO_COME, Array, Belief
from capture.metrology.grinding.spring.grid_refinement import focused
from capture.metrology.grinding.spring.passes import Prior, Task
from capture.metrology.grinding.spring.posterior import Posterior, rectified
from capture.metrology.grinding.spring.unknown_infeeds import hypotheses
from capture.metrology.message import Message, message

FAR = 3.5
"""Standard deviations at which a reading is no longer as predicted; 1 honest reading in 2000."""
MISTYPED = 3
"""Infeeds tried one by one as mistyped."""
DRESSINGS = 2
"""Passes that fell short of the prediction, round which an unrecorded dressing is looked for."""
SHORT = 2.5
"""Standard deviations above the prediction from which on a size calls for such a dressing."""
LOST = 6.0
"""Standard deviations at which even the best explanation does not explain."""
BACK = (0.7, 2.0)
"""How far a wheel that was dressed and set anew may stand back, in infeeds, that are tried."""
BITES = (1.0, 1.3)
"""Shares of a dressed wheel over those before, that are tried."""
CLEAR = 0.01
"""Chance that anything is still to come under which the wheel stands clear of the part."""
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
    """Weigh all explanations of *task* by how well they predict its sizes."""
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


def weigh_unknown_infeeds(task: Task, prior: Prior) -> Weighed:
    """Weigh when the feeding may have stopped, where the newest infeeds are not known."""
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
    """The size farthest from its prediction, and the one before: a wrong one spoils the next prediction."""
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


class _Figures(NamedTuple):
    """Size, removal, rest, next removal, final size and share, one row each, one column a point."""

    mean: Array
    deviation: Array
    asked: Array
    """Rest, next removal, newest removal and rise a pass, uncut at nothing: what bounds are asked of."""
    u_asked: Array
    left: Array
    """Chance that anything is still to come."""


def summed(weighed: Weighed, bounds: Bounds) -> Prediction:
    """The figures of *weighed*, and the probabilities that *bounds* ask for."""
    pool = weighed.pool.heavy()
    weight, hot, touching = pool.weight, pool.weight * pool.heat, pool.touching.astype(np.float64)
    figures = _figures(pool, touching, bounds)
    smooth = np.hypot(figures.deviation, pool.between(figures.mean))
    found = np.column_stack(pool.spread(figures.mean, figures.deviation, smooth)).tolist()

    def below(figure: int, bound: float) -> Array:
        return np.asarray(ndtr((bound - figures.asked[figure]) / figures.u_asked[figure]))

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
        p_clear=float(weight @ (touching * (figures.left < CLEAR))),
        doubt=weighed.doubt,
        lost=weighed.lost,
    )


def _figures(pool: Posterior, touching: Array, bounds: Bounds) -> _Figures:
    """Each figure and its standard deviation at every point of *pool*."""
    directions = np.zeros((len(pool.weight), 4, pool.mean.shape[1]))
    size, removed, coming, rise = np.moveaxis(directions, 1, 0)
    size[:, LEVEL], size[:, PLACES:] = 1.0, 1.0 / (pool.mean.shape[1] - PLACES)
    removed[:, REMOVED] = 1.0
    coming[:, TO_COME] = 1.0
    rise[:, FIRST], rise[:, TO_COME] = 1.0, -0.9 * pool.share_of_rest
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
    asked = np.vstack([mean[2], pool.share_of_rest * mean[2], mean[1], mean[3]])
    u_asked = np.vstack([deviation[2], pool.share_of_rest * deviation[2], deviation[1], deviation[3]])
    exact = np.zeros_like(pool.share)
    return _Figures(
        np.vstack([mean[0], mean[1], rest, pool.share_of_rest * rest, final, pool.share]),
        np.vstack([deviation[0], deviation[1], u_rest, pool.share_of_rest * u_rest, u_final, exact]),
        asked,
        np.hypot(u_asked, pool.between(asked)),
        above,
    )
