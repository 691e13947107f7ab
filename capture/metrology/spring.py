"""The machine's spring, followed through a grind: what is surely known of it after each pass.

One pass takes the share S of what is still to come off, E (King and Hahn; Malkin and Guo, "Grinding
Technology": residual spring after N passes without infeed E (1-S)^N)::

    X_n = E_(n-1) + g u_n        what could come off once the wheel has moved in by u_n
    r_n = S X_n                  removed by pass n
    E_n = X_n - r_n              still to come

g is what a diameter gets of an infeed: less than 1 by wheel wear and the dial's own error; wheel wear
w makes g = 1/(1+w) and S = K (1+w). With S, the gauge's scatter and the kind of trouble fixed, all else
is linear with normal errors, so a Kalman filter (Kalman, J. Basic Eng. 82 (1960) 35) gives it exactly,
with how well it foretold the readings. It runs for every S and scatter of a grid and every kind of trouble
at once, and Bayes' rule weighs them: nothing to converge, the same answer every time.

Lengths are mm on diameter, sizes are deviations from any reference.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc

from capture.metrology.passes import Group, Move, Prior, Task

Array = NDArray[np.float64]

LEVEL, TO_COME, GAIN, REMOVED, GROWTH, FIRST, SECOND, PLACES = range(8)
"""What the filter follows. FIRST and SECOND are, with a known temperature, the part of the known growth that
its correction missed and the part that presses the part into the wheel; without it, growth a pass and
growth per removal."""


class Belief(NamedTuple):
    """What is known after the newest pass, one entry for each point of the grid."""

    weight: Array
    """Sums to 1."""
    evidence: float
    """Logarithm of the probability density of all readings."""
    share: Array
    """S as it is now."""
    scatter: Array
    """Gauge scatter, standard deviation of one reading without its rounding, as a ratio to that stated."""
    heat: NDArray[np.bool_]
    touching: NDArray[np.bool_]
    mean: Array
    cov: Array
    surprise: tuple[float, ...]
    """Each group's distance from what was foretold, in its standard deviations."""
    levels: tuple[float, ...]
    """Size before the first pass and after each, warm, mean over the grid and less the places' offsets."""
    order: NDArray[np.intp]
    """Where each point stands on the axis of shares."""


SCATTERS: Array = np.array([0.35, 0.6, 1.0, 1.6, 2.6])
SEATING = 5
"""Readings of one place after one pass share its seating: more than these tell nothing more of the mean."""


def share_axis(count: int, low: float = 0.06, high: float = 0.985) -> Array:
    """So many shares for the grid, evenly spaced."""
    return np.linspace(low, high, count)


def follow(task: Task, shares: Array, prior: Prior) -> Belief:
    """Run the filter over *task* on the grid of *shares*; see the module for the model."""
    grid = _Grid(task, shares, prior)
    surprise: list[float] = []
    levels: list[float] = []
    waiting = list(task.groups)
    for number in range(len(task.moves) + 1):
        if number:
            grid.stroke(number, task.moves[number - 1])
        while waiting and waiting[0].after == number:
            surprise.append(grid.reading(waiting.pop(0)))
        levels.append(grid.level())
    return grid.belief(tuple(surprise), tuple(levels))


class _Grid:
    """The filter while it runs; one row for each point of the grid."""

    def __init__(self, task: Task, shares: Array, prior: Prior) -> None:
        self.task, self.prior = task, prior
        cases = task.cases
        case, order, ratio = np.meshgrid(
            np.arange(len(cases)), np.arange(len(shares)), np.arange(len(SCATTERS)), indexing="ij"
        )
        index = case.ravel()
        self.order = order.ravel()
        self.fresh: Array = shares[self.order]
        self.ratio: Array = SCATTERS[ratio.ravel()]
        self.growing: Array = np.array([c.heat for c in cases])[index]
        self.heat: Array = (self.growing > 0.0).astype(np.float64)
        self.scatter: Array = np.hypot(prior.scatter, np.array([c.scatter for c in cases])[index])
        self.glazing: Array = np.array([c.glazing for c in cases])[index]
        self.rate: Array = np.array([c.rate for c in cases])[index]
        self.push: Array = np.array([c.push for c in cases])[index]
        self.u_push: Array = np.array([c.u_push for c in cases])[index]
        self.air: Array = np.array([float(c.air) for c in cases])[index]
        self.share: Array = self.fresh
        self.log: Array = (
            np.log(np.array([c.weight for c in cases]))[index]
            + prior.share_spread * np.log(4.0 * self.fresh * (1.0 - self.fresh))
            - 0.5 * (np.log(self.ratio) / prior.gauge_u) ** 2
        )
        if prior.share_known is not None:
            self.log -= 0.5 * ((self.fresh - prior.share_known) / prior.share_known_u) ** 2
        self.log -= np.log(np.exp(self.log).sum())
        size = PLACES + task.places
        self.mean: Array = np.zeros((len(index), size))
        self.cov: Array = np.zeros((len(index), size, size))
        self._start()

    def _start(self) -> None:
        task, prior, scale = self.task, self.prior, self.task.scale
        mean, variance = self.mean, np.zeros_like(self.mean)
        mean[:, GAIN], variance[:, GAIN] = prior.gain, prior.gain_u**2
        mean[:, TO_COME], variance[:, TO_COME] = 0.75 * scale, (1.75 * scale) ** 2
        if prior.contact is not None and not task.first:
            mean[:, TO_COME], variance[:, TO_COME] = 0.5 * prior.contact, (0.5 * prior.contact) ** 2
        for number in sorted({case.air for case in task.cases if case.air}):
            first = task.moves[number].infeed if number < len(task.moves) else 0.0
            reach = scale if first is None else first
            rows = self.air == number
            mean[rows, TO_COME], variance[rows, TO_COME] = -0.5 * reach, reach**2 / 12.0
        if task.known_temperature:
            variance[:, FIRST] = prior.missed**2
            mean[:, SECOND], variance[:, SECOND] = self.push, self.u_push**2
        else:
            mean[:, FIRST] = task.drift * self.growing
            variance[:, FIRST] = (task.drift * self.rate) ** 2
            mean[:, SECOND], variance[:, SECOND] = self.growing, (0.4 * self.growing) ** 2
        firsts = {group.place: group.mean for group in reversed(task.groups)}
        for place, value in firsts.items():
            mean[:, PLACES + place] = value
        variance[:, PLACES:] = (20.0 * scale) ** 2
        diagonal = np.arange(mean.shape[1])
        self.cov[:, diagonal, diagonal] = variance

    def _add(self, row: int, factor: Array, other: int) -> None:
        """Let state *row* become itself plus *factor* times state *other*."""
        mean, cov = self.mean, self.cov
        mean[:, row] += factor * mean[:, other]
        cov[:, row, :] += factor[:, None] * cov[:, other, :]
        cov[:, :, row] += factor[:, None] * cov[:, :, other]

    def stroke(self, number: int, stroke: Move) -> None:
        """Make one pass."""
        task, prior, mean, cov = self.task, self.prior, self.mean, self.cov
        touching = (self.air < number).astype(np.float64)
        share = self.share = self.fresh * np.exp(-self.glazing * (number - 1))
        if stroke.infeed is None:
            mean[:, TO_COME] += task.scale * touching
            cov[:, TO_COME, TO_COME] += task.scale**2 * touching
        else:
            self._add(TO_COME, stroke.infeed * touching, GAIN)
            cov[:, TO_COME, TO_COME] += (prior.slip * stroke.infeed) ** 2 * touching
        if task.known_temperature and stroke.warming:
            self._add(TO_COME, stroke.warming * touching, SECOND)
        # a wheel drawn back takes nothing off until it has come forward as far
        taken = share * touching * (mean[:, TO_COME] > 0.0)
        expected = taken * mean[:, TO_COME]
        mean[:, REMOVED] = 0.0
        cov[:, REMOVED, :] = 0.0
        cov[:, :, REMOVED] = 0.0
        self._add(REMOVED, taken, TO_COME)
        noise = (self.scatter * expected) ** 2
        cov[:, REMOVED, REMOVED] += noise
        # what a pass leaves behind is still to come, so its scatter goes into both
        minus = np.full_like(taken, -1.0)
        self._add(TO_COME, minus, REMOVED)
        self._add(LEVEL, minus, REMOVED)
        if not task.known_temperature and self.heat.any():
            self._add(GROWTH, self.heat, FIRST)
            self._add(GROWTH, self.heat * expected, SECOND)
            cov[:, FIRST, FIRST] += (0.3 * task.drift * self.rate) ** 2

    def reading(self, group: Group) -> float:
        """Take in the readings of one place; return how far they lay from what was foretold."""
        mean, cov = self.mean, self.cov
        place = PLACES + group.place
        foretold = mean[:, LEVEL] + mean[:, place]
        gain = cov[:, :, LEVEL] + cov[:, :, place]
        if self.task.known_temperature:
            foretold = foretold + group.growth * mean[:, FIRST]
            gain = gain + group.growth * cov[:, :, FIRST]
        else:
            foretold = foretold + mean[:, GROWTH]
            gain = gain + cov[:, :, GROWTH]
        variance = gain[:, LEVEL] + gain[:, place]
        variance = variance + (
            group.growth * gain[:, FIRST] if self.task.known_temperature else gain[:, GROWTH]
        )
        single = (self.ratio * group.u) ** 2
        variance = variance + _mean_variance(single, group)
        miss = group.mean - foretold
        weight = self._weight()
        centre = float(weight @ foretold)
        spread = float(weight @ (variance + (foretold - centre) ** 2)) ** 0.5
        mean += gain * (miss / variance)[:, None]
        cov -= (gain / variance[:, None])[:, :, None] * gain[:, None, :]
        self.log = self.log - 0.5 * (np.log(variance) + miss**2 / variance) + _within(single, group)
        return float((group.mean - centre) / spread)

    def level(self) -> float:
        """Warm size now, less the places' offsets, the mean over the grid."""
        return float(self._weight() @ (self.mean[:, LEVEL] + self.mean[:, GROWTH]))

    def _weight(self) -> Array:
        weight: Array = np.exp(self.log - self.log.max())
        weight /= weight.sum()
        return weight

    def _clear(self) -> NDArray[np.bool_]:
        """Where the wheel surely stands clear of the part."""
        deviation = np.sqrt(np.maximum(self.cov[:, TO_COME, TO_COME], 0.0))
        return np.asarray(self.mean[:, TO_COME] < -3.0 * deviation - 1e-12)

    def belief(self, surprise: tuple[float, ...], levels: tuple[float, ...]) -> Belief:
        """Normalize the weights and hand over."""
        top = float(self.log.max())
        total = float(np.exp(self.log - top).sum())
        # the share that the *next* pass will take
        share = self.fresh * np.exp(-self.glazing * len(self.task.moves))
        return Belief(
            self._weight(),
            top + float(np.log(total * _mass(self.fresh, self.prior))),
            share,
            self.ratio,
            self.heat > 0.0,
            (self.air < max(1, len(self.task.moves))) & ~self._clear(),
            self.mean,
            self.cov,
            surprise,
            levels,
            self.order,
        )


def _mass(shares: Array, prior: Prior) -> float:
    """Part of the belief beforehand that lies on a grid of *shares*, so that grids can be compared."""
    axis = np.unique(shares)
    half = 0.5 * float(axis[1] - axis[0])
    low, high = np.clip([axis[0] - half, axis[-1] + half], 0.0, 1.0)
    power = prior.share_spread + 1.0
    return float(betainc(power, power, high) - betainc(power, power, low))


def _mean_variance(single: Array, group: Group) -> Array:
    """Variance of a group's mean.

    Rounding to a step q adds q²/12 to one reading (GUM, JCGM 100:2008, F.2.2.1). In a mean it fades only
    as far as the scatter s carries the readings across steps: what stays is its first harmonic, of
    amplitude (q/π) exp(-2π² s²/q²) (Widrow and Kollár, "Quantization Noise", from memory).
    """
    count = min(group.readings, SEATING)
    step = group.resolution
    if not step:
        return single / count
    stuck = np.exp(-4.0 * np.pi**2 * single / step**2)
    return single / count + step**2 / 12.0 * np.maximum(1.0 / count, stuck)


def _within(single: Array, group: Group) -> Array:
    """Logarithm of the likelihood of the scatter inside a group, for its first readings' worth."""
    if group.readings == 1:
        return np.zeros_like(single)
    variance = single + group.resolution**2 / 12.0
    free = min(group.readings, SEATING) - 1
    return -0.5 * free * (np.log(variance) + group.squares / (group.readings - 1) / variance)
