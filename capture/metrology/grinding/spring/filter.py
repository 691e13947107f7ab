"""The machine's spring, followed through a grind: what is surely known of it after each pass.

One pass takes the share S of what is still to come off, E (King and Hahn; Malkin and Guo, "Grinding
Technology": residual spring after N passes without infeed E (1-S)^N)::

    X_n = E_(n-1) + g u_n        what could come off once the wheel has moved in by u_n
    r_n = S X_n                  removed by pass n
    E_n = X_n - r_n              still to come

g is what a diameter gets of an infeed: less than 1 by wheel wear and the dial's own error; wheel wear
w makes g = 1/(1+w) and S = K (1+w). A thin chip takes more force for its size, so a wheel that stands less
deep takes a smaller share: S = S0 (X/X0)^h, X0 of the order of an infeed (the size effect: Backer, Marshall
and Shaw, Trans. ASME 74 (1952) 61, from memory). What comes off is nearly linear in h, which is small, so h
is followed beside the lengths. With S0, the gauge's scatter and the kind of trouble fixed, all else is linear
with normal errors, so a Kalman filter (Kalman, J. Basic Eng. 82 (1960) 35) gives it, with how well it
predicts the readings. It runs at many points at once, each with its share, scatter, kind of trouble and
hypothesis of what was misread, and Bayes' rule weighs them: nothing to converge, the same answer every time.
Where the points lie best, `grid_refinement` finds.

Lengths are mm on diameter, sizes are deviations from any reference.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from capture.metrology.grinding.spring.grid import MOST, Array, Points, grid, log_ratio, log_share
from capture.metrology.grinding.spring.passes import Prior, Task
from capture.metrology.grinding.spring.removal import Removal, take_off
from capture.metrology.grinding.spring.repeat_readings import mean_variance, within

__all__ = [
    "FIRST",
    "GAIN",
    "GROWTH",
    "LEVEL",
    "PLACES",
    "REMOVED",
    "SECOND",
    "SIZE_EFFECT",
    "TO_COME",
    "Array",
    "Belief",
    "follow",
    "follow_all",
]

LEVEL, TO_COME, GAIN, SIZE_EFFECT, FIRST, SECOND, GROWTH, REMOVED, PLACES = range(9)
"""What the filter follows. LEVEL is the size of the first place, the PLACES differ from it. FIRST and SECOND
are, with a known temperature, the part of the known growth that its correction missed and the part that
presses the part into the wheel; without it, growth a pass and growth per removal. SIZE_EFFECT is h."""


RUBBED = 1.3
"""Heat of a pass over that of what it removes: grains that rub, and growth that is cut off (an estimate)."""
GUESSED = 0.4
"""Standard deviation of an infeed that is guessed from what came off about then, as a share of it."""
SHALLOW = 0.03
"""Depth over that of an infeed below which the share changes no more (an estimate)."""
USUAL = 30.0
"""Seconds a pass where the times are not known (common practice, no source)."""


class Belief(NamedTuple):
    """What is known after the newest pass, one entry for each point."""

    weight: Array
    """Sums to 1."""
    log: Array
    """Logarithm of each weight, before they are made to sum to 1."""
    evidence: float
    """Logarithm of the probability density of all readings."""
    points: Points
    share: Array
    """S of the next pass, if it is as deep as the others."""
    share_of_rest: Array
    """S of the next pass without infeed."""
    heat: NDArray[np.bool_]
    touching: NDArray[np.bool_]
    mean: Array
    """One row a point, one column a state."""
    cov: Array
    surprise: Array
    """Each group's distance from its prediction, in standard deviations of that; one row a hypothesis."""
    levels: tuple[float, ...]
    """Size before the first pass and after each, warm, mean over the points and less the places' offsets."""

    @property
    def scatter(self) -> Array:
        """`Points.ratio`."""
        return self.points.ratio


def follow(task: Task, shares: Array, prior: Prior) -> Belief:
    """Run the filter over *task* on the grid of *shares*; see the module for the model."""
    return follow_all([task], [1.0], grid(shares, len(task.cases)), prior, inf)


def follow_all(
    tasks: Sequence[Task], weights: Sequence[float], points: Points, prior: Prior, hopeless: float
) -> Belief:
    """Run the filter at *points*.

    Args:
        tasks: The same grind under each hypothesis; they differ in infeeds and in the weight of a size.
        weights: Of each hypothesis, beforehand.
        points: Where.
        prior: What is believed beforehand.
        hopeless: Logarithm of the odds against a point from which on it is no longer followed.
    """
    run = _Run(tasks, np.asarray(weights), points, prior)
    waiting = list(range(len(tasks[0].groups)))
    levels: list[float] = []
    for number in range(len(tasks[0].moves) + 1):
        if number:
            run.stroke(number)
        while waiting and tasks[0].groups[waiting[0]].after == number:
            run.reading(waiting.pop(0))
        levels.append(run.level())
        run.forget(hopeless)
    return run.belief(tuple(levels))


class _Run:
    """The filter while it runs; the last axis of every array is that of the points."""

    def __init__(self, tasks: Sequence[Task], weights: Array, points: Points, prior: Prior) -> None:
        self.tasks, self.task, self.prior, self.points = tasks, tasks[0], prior, points
        cases = self.task.cases
        self.log: Array = (
            np.log(weights)[points.hypothesis]
            + np.log([case.weight for case in cases])[points.case]
            + log_share(points.share, prior)
            + np.log(points.width)
            + log_ratio(points.ratio, prior)
        )
        self.surprise: Array = np.zeros((len(tasks), len(self.task.groups)))
        # states that are nothing in this grind are not carried along
        warm = [] if self.task.known_temperature else [GROWTH]
        self.states = [
            LEVEL,
            TO_COME,
            GAIN,
            SIZE_EFFECT,
            FIRST,
            SECOND,
            *warm,
            *range(PLACES + 1, PLACES + self.task.places),
        ]
        self._name()
        self.mean, self.cov = self._start()

    def _name(self) -> None:
        """Each point's constants, from its case."""
        points, cases = self.points, self.task.cases
        self.growing: Array = np.array([case.heat for case in cases])[points.case]
        self.heat: Array = (self.growing > 0.0).astype(np.float64)
        self.uneven: Array = np.hypot(self.prior.scatter, [case.scatter for case in cases])[points.case]
        self.glazing: Array = np.array([case.glazing for case in cases])[points.case]
        self.rate: Array = np.array([case.rate for case in cases])[points.case]
        self.unsteady: Array = np.array([case.unsteady for case in cases])[points.case]
        self.push: Array = np.array([case.push for case in cases])[points.case]
        self.cooling: Array = np.array([case.cooling for case in cases])[points.case]
        self.air: Array = np.array([float(case.air) for case in cases])[points.case]
        hypotheses = np.array([(task.dressed or np.inf, task.back, task.bite) for task in self.tasks])
        self.dressed, self.back, self.bite = hypotheses[points.hypothesis].T
        self._noise: dict[tuple[object, ...], tuple[Array, Array]] = {}

    def _start(self) -> tuple[Array, Array]:
        task, prior, scale, cases = self.task, self.prior, self.task.scale, self.task.cases
        states, count = len(self.states), len(self.log)
        mean, variance = np.zeros((states, count)), np.zeros((states, count))
        mean[GAIN], variance[GAIN] = prior.gain, prior.gain_u**2
        mean[SIZE_EFFECT], variance[SIZE_EFFECT] = prior.size_effect, prior.size_effect_u**2
        mean[TO_COME], variance[TO_COME] = 0.75 * scale, scale**2
        if prior.contact is not None and not task.first:
            mean[TO_COME], variance[TO_COME] = 0.5 * prior.contact, (0.5 * prior.contact) ** 2
        for number in sorted({case.air for case in cases if case.air}):
            rows = self.air == number
            first = [one.moves[number].infeed if number < len(one.moves) else 0.0 for one in self.tasks]
            reach = np.array([scale if infeed is None else infeed for infeed in first])[
                self.points.hypothesis[rows]
            ]
            mean[TO_COME, rows], variance[TO_COME, rows] = -0.5 * reach, reach**2 / 12.0
        if task.known_temperature:
            variance[FIRST] = prior.missed**2
            mean[SECOND] = self.push
            variance[SECOND] = np.array([case.u_push for case in cases])[self.points.case] ** 2
        else:
            mean[GROWTH] = self._grown()
            variance[GROWTH] = (0.5 * mean[GROWTH]) ** 2
            mean[FIRST], variance[FIRST] = 1.5 * task.drift * self.growing, (task.drift * self.rate) ** 2
            mean[SECOND], variance[SECOND] = self.growing, (0.4 * self.growing) ** 2
        firsts = {group.place: group.mean for group in reversed(task.groups)}
        for place, value in firsts.items():
            row = self._row(place)
            mean[row], variance[row] = value - firsts[0] * (place > 0), (20.0 * scale) ** 2
        if not task.known_temperature:
            mean[LEVEL] -= mean[GROWTH]
        cov = np.zeros((states, states, count))
        diagonal = np.arange(states)
        cov[diagonal, diagonal] = variance
        return mean, cov

    def _grown(self) -> Array:
        """Growth that is there already, of the passes before the first."""
        fresh = np.where(self.cooling > 0.0, self.task.scale * self.cooling / USUAL, np.inf)
        return np.asarray(RUBBED * self.growing * np.minimum(self.prior.cut, fresh))

    def _row(self, place: int) -> int:
        """The state that makes a place what it is."""
        return self.states.index(PLACES + place) if place else LEVEL

    def stroke(self, number: int) -> None:
        """Make one pass."""
        task, prior, mean, cov = self.task, self.prior, self.mean, self.cov
        touching = (self.air < number).astype(np.float64)
        fed, lost = self._fed(number)
        fed, lost = fed * touching, lost * touching
        # what could come off: E + g u
        usual, spread = (
            (0.0, GUESSED * task.guesses[number - 1]) if task.guesses else (task.scale, task.scale)
        )
        moved = touching * (self.dressed == number)
        standing = mean[TO_COME] + fed * mean[GAIN] + lost * usual - self.back * moved * task.scale
        with_all = cov[TO_COME] + fed * cov[GAIN]
        variance = with_all[TO_COME] + fed * with_all[GAIN]
        variance += (prior.slip * fed) ** 2 + lost * spread**2 + (0.5 * self.back * task.scale) ** 2 * moved
        with_all[TO_COME] = variance
        # a wheel drawn back takes nothing off until it has come forward as far
        deeper = self._deeper(standing)
        share = np.minimum(self._share(number - 1) * np.exp(mean[SIZE_EFFECT] * deeper), MOST)
        taken = share * touching * (standing > 0.0)
        expected = taken * standing
        noise = (self.uneven * expected) ** 2
        one = Removal(taken, standing, slope=expected * deeper, of_slope=SIZE_EFFECT, noise=noise)
        removed, variance = take_off(mean, cov, one, with_all, LEVEL, TO_COME)
        if number == len(task.moves):
            self._append(REMOVED, expected, removed, variance)
        self._warm(number, expected, touching)

    def _deeper(self, standing: Array) -> Array:
        """Logarithm of what stands before the wheel over the length that the share is given for."""
        return np.asarray(np.log(np.clip(standing / self.task.scale, SHALLOW, 1.0 / SHALLOW)))

    def _share(self, made: int) -> Array:
        """Share of the pass after so many, at the depth of `Task.scale`."""
        share = self.points.share * np.exp(-self.glazing * made)
        return np.asarray(np.where(made + 1 < self.dressed, share, np.minimum(share * self.bite, MOST)))

    def _fed(self, number: int) -> tuple[Array, Array]:
        """Infeed of a pass at each point, and 1 where it is not known."""
        infeeds = [task.moves[number - 1].infeed for task in self.tasks]
        guess = self.task.guesses[number - 1] if self.task.guesses else 0.0
        fed = np.array([guess if infeed is None else infeed for infeed in infeeds])[self.points.hypothesis]
        return fed, np.array([float(infeed is None) for infeed in infeeds])[self.points.hypothesis]

    def _append(self, state: int, mean: Array, row: Array, variance: Array) -> None:
        """Follow one more state, last in order."""
        self.states.append(state)
        self.mean = np.vstack([self.mean, mean])
        cov = np.empty((len(self.states), *self.mean.shape))
        cov[:-1, :-1] = self.cov
        cov[-1, :-1] = cov[:-1, -1] = row
        cov[-1, -1] = variance
        self.cov = cov

    def _warm(self, number: int, removal: Array, touching: Array) -> None:
        """Let the part grow, and so press into the wheel what it has not room for."""
        move = self.task.moves[number - 1]
        if self.task.known_temperature:
            if move.warming:
                self._add(TO_COME, [(SECOND, move.warming * touching)])
            return
        if not self.heat.any():
            return
        lost = self._cooled(move.seconds)
        parts = [(FIRST, self.heat), (SECOND, self.heat * removal)]
        parts += [(GROWTH, -lost)] if lost.any() else []
        pressed = self.push * touching
        self._add(TO_COME, [(state, pressed * factor) for state, factor in parts])
        self._add(GROWTH, parts)
        self.cov[FIRST, FIRST] += (self.unsteady * self.task.drift * self.rate) ** 2

    def _cooled(self, seconds: float) -> Array:
        """Part of an unseen growth that is lost until the next pass."""
        constant = np.maximum(self.cooling, 1e-9)
        return np.asarray(np.where(self.cooling > 0.0, 1.0 - np.exp(-(seconds or USUAL) / constant), 0.0))

    def _add(self, row: int, parts: list[tuple[int, Array]]) -> None:
        """Let state *row* become itself plus each of some states times a factor."""
        mean, cov = self.mean, self.cov
        mean[row] += _summed(mean, parts)
        gain = _summed(cov, parts)
        variance = cov[row, row] + 2.0 * gain[row] + _summed(gain, parts)
        gain += cov[row]
        gain[row] = variance
        cov[row] = cov[:, row] = gain

    def reading(self, index: int) -> None:
        """Take in the readings of one place."""
        mean, cov = self.mean, self.cov
        group = self.task.groups[index]
        warm, much = (FIRST, group.growth) if self.task.known_temperature else (GROWTH, 1.0)
        parts: list[tuple[int, float | Array]] = [(LEVEL, 1.0)]
        parts += [(self._row(group.place), 1.0)] if group.place else []
        parts += [(warm, much)] if much else []
        single, likelihood = self._scatter(index)
        predicted, gain = _summed(mean, parts), _summed(cov, parts)
        variance = _summed(gain, parts) + single
        miss = group.mean - predicted
        self._surprised(index, predicted, variance, group.mean)
        step = gain / variance
        mean += step * miss
        for state, part in enumerate(step):
            cov[state] -= part * gain
        self.log = self.log - 0.5 * (np.log(variance) + miss**2 / variance) + likelihood

    def _scatter(self, index: int) -> tuple[Array, Array]:
        """Variance of a group's mean at each point, and the logarithm of the likelihood of what is in it."""
        groups = [task.groups[index] for task in self.tasks]
        key = tuple((g.u, g.readings, g.squares, g.resolution, g.astray) for g in groups)
        if key not in self._noise:
            hypothesis = self.points.hypothesis
            u, readings, squares, step, astray = (
                np.array(column)[hypothesis] for column in zip(*key, strict=True)
            )
            single = (self.points.ratio * u) ** 2
            self._noise[key] = (
                mean_variance(single, readings, step) + astray**2,
                within(single, readings, squares, step),
            )
        return self._noise[key]

    def _surprised(self, index: int, predicted: Array, variance: Array, mean: float) -> None:
        """Note how far a group lay from what each hypothesis predicted."""
        weight, hypothesis, count = self._weight(), self.points.hypothesis, len(self.tasks)
        total = np.maximum(np.bincount(hypothesis, weight, count), 1e-300)
        centre = np.bincount(hypothesis, weight * predicted, count) / total
        spread = (
            np.bincount(hypothesis, weight * (variance + (predicted - centre[hypothesis]) ** 2), count)
            / total
        )
        self.surprise[:, index] = (mean - centre) / np.sqrt(np.maximum(spread, 1e-300))

    def level(self) -> float:
        """Warm size now, less the places' offsets, the mean over the points."""
        warm = self.mean[LEVEL] if self.task.known_temperature else self.mean[LEVEL] + self.mean[GROWTH]
        return float(self._weight() @ warm)

    def forget(self, hopeless: float) -> None:
        """Go on with the points that may still count."""
        rows = self.log > self.log.max() - hopeless
        if rows.sum() < 0.8 * len(rows):
            self.points = self.points.kept(rows)
            self.log, self.mean, self.cov = self.log[rows], self.mean[:, rows], self.cov[:, :, rows]
            self._name()

    def _weight(self) -> Array:
        weight: Array = np.exp(self.log - self.log.max())
        weight /= weight.sum()
        return weight

    def belief(self, levels: tuple[float, ...]) -> Belief:
        """Normalize the weights and hand over."""
        top = float(self.log.max())
        deviation = np.sqrt(np.maximum(self.cov[TO_COME, TO_COME], 0.0))
        passes = len(self.task.moves)
        # a wheel that has cut and now stands clear has left the part; it is not one that has not touched yet
        clear = (self.mean[TO_COME] < -3.0 * deviation - 1e-12) & (not self.task.cut_already)
        full = PLACES + self.task.places
        mean, cov = np.zeros((len(self.log), full)), np.zeros((len(self.log), full, full))
        mean[:, self.states] = self.mean.T
        cov[:, np.array(self.states)[:, None], self.states] = np.moveaxis(self.cov, -1, 0)
        return Belief(
            weight=self._weight(),
            log=self.log,
            evidence=top + float(np.log(np.exp(self.log - top).sum())),
            points=self.points,
            share=self._share(passes),
            share_of_rest=np.minimum(
                self._share(passes) * np.exp(self.mean[SIZE_EFFECT] * self._deeper(self.mean[TO_COME])), MOST
            ),
            heat=self.heat > 0.0,
            touching=np.asarray((self.air < max(1, passes)) & ~clear),
            mean=mean,
            cov=cov,
            surprise=self.surprise,
            levels=levels,
        )


def _summed(rows: Array, parts: Sequence[tuple[int, float | Array]]) -> Array:
    """Some rows, each times a factor, as one."""
    total = rows[parts[0][0]] * parts[0][1]
    for row, factor in parts[1:]:
        total += factor * rows[row]
    return np.asarray(total)
