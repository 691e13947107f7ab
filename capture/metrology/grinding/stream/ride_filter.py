"""What still stands in the part, by the levels that a gauge on it shows between passes.

A pass takes the share K of what stands (King and Hahn; Malkin and Guo, "Grinding Technology") and warms the
part, by rubbing and by what it takes off; between passes the part cools (Newton). A warm part shrinks where
a pass that took nothing would leave it, and a pass that warms it seems to take too little: size, what stands
and growth are therefore followed together, by a Kalman filter for each of many values of what is not linear
(K, the time constant, the growth for what is taken off), weighed by how well each foretold the levels.
Lengths are mm on diameter, times seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Series = NDArray[np.float64]

SHARES = tuple(0.22 + 0.06 * n for n in range(11))
SHARE, U_SHARE = 0.5, 0.15
"""K of a grinder that nobody has seen yet, mean and standard deviation (an estimate, no source)."""
COOLS = (40.0, 90.0, 200.0)
"""Seconds in which growth is gone but for 1/e, under coolant (an estimate, no source)."""
WARMS = ((0.0, 0.4), (0.03, 0.3), (0.07, 0.2), (0.12, 0.1))
"""Growth for what is taken off, and its chance (an estimate, no source)."""
RUBS, U_RUBS = 0.00012, 0.00012
"""mm of growth by a pass whatever it takes, mean and standard deviation (an estimate, no source)."""
FEEDS, U_FEEDS = 0.002, 0.004
"""mm that a pass of unknown infeed takes off, whatever its share (common practice, no source)."""
LOST, SET = 0.05, 0.0004
"""Share, and mm, by which an entered infeed differs from what the wheel was fed (an estimate)."""
BEFORE = 0.0003
"""mm; standard deviation of the growth before the first pass, and"""
AMONG = 0.001
"""of that before a pass in the middle of a grind (an estimate, no source)."""
UNEVEN = 0.07
"""Standard deviation of what a pass takes, as a share: the bite of a wheel is not the same each time."""
DRIFTS = 3e-10
"""mm² a second by which gauge and machine wander: 1 µm in an hour (common practice, no source)."""
ODD = 3.0
"""Standard deviations from which a level counts the less."""
FARTHEST = 6.0
"""Standard deviations that one level may speak against a value."""


class ShownLevel(NamedTuple):
    """The size that the gauge showed for some seconds."""

    at: float
    """Their middle."""
    value: float
    u: float


class LeveledPass(NamedTuple):
    """One pass between two levels."""

    at: float
    before: ShownLevel
    after: ShownLevel
    rest: bool
    """It had no infeed."""
    infeed: float | None = None
    """mm that was fed, where something else gave it."""
    sure: bool = True
    """The size fell clearly, and when a pass was due; else perhaps no wheel was by."""
    moved: float = 0.0
    """mm; standard deviation of how far the size may have moved without a pass, where that is not sure: the
    part springs back when the wheel leaves it."""


class Standing(NamedTuple):
    """What is known after the newest pass, each with its standard uncertainty."""

    share: tuple[float, float]
    removed: tuple[float, float]
    """By the newest pass."""
    next_removal: tuple[float, float]
    """By one more without infeed."""
    to_come: tuple[float, float]
    """By all without infeed from here on."""
    end: tuple[float, float]
    """What the gauge will show in the end, when the part is cold."""
    growth: tuple[float, float]
    """How much larger than cold the part is now."""


class _Grid(NamedTuple):
    share: Series
    cools: Series
    warms: Series
    weight: Series
    """Logarithm."""


@cache
def _grid() -> _Grid:
    every = list(product(SHARES, COOLS, WARMS))
    share = np.array([one[0] for one in every])
    chance = np.array([one[2][1] for one in every])
    weight = np.log(chance) - 0.5 * ((share - SHARE) / U_SHARE) ** 2
    return _Grid(share, np.array([o[1] for o in every]), np.array([o[2][0] for o in every]), weight)


COLD, STANDS, GROWN, RUB = range(4)


def standing_after(passes: Sequence[LeveledPass], *, from_first: bool) -> Standing:
    """What the newest of *passes* leaves.

    Args:
        passes: In order; there must be one.
        from_first: They begin with the first pass of the grind: the part was cold.

    >>> levels = [ShownLevel(20.0 * n, value, 1e-5) for n, value in enumerate((0.0, -0.002, -0.003, -0.0035))]
    >>> made = [LeveledPass(20.0 * n + 10.0, levels[n], levels[n + 1], n > 0) for n in range(3)]
    >>> found = standing_after(made, from_first=True)
    >>> 0.0001 < found.next_removal[0] < 0.0004
    True
    """
    grid = _grid()
    count = len(grid.share)
    weight = grid.weight.copy()
    mean = np.zeros((count, 4))
    mean[:, COLD], mean[:, RUB] = passes[0].before.value, RUBS
    grown = BEFORE if from_first else AMONG
    spread = np.broadcast_to(
        np.diag([0.02**2, (1e-9 if from_first else FEEDS) ** 2, grown**2, U_RUBS**2]), (count, 4, 4)
    ).copy()
    now = passes[0].before.at
    for one in passes:
        now = _waited(grid, mean, spread, max(one.before.at, now) - now, now)
        weight += _seen(mean, spread, one.before)
        now = _waited(grid, mean, spread, max(one.at - now, 0.0), now)
        until = max(one.after.at - now, 0.0)
        without = (mean.copy(), spread.copy())
        _passed(grid, mean, spread, one)
        _waited(grid, mean, spread, until, now)
        fits = _seen(mean, spread, one.after)
        if not one.sure:
            _waited(grid, *without, until, now)
            without[1][:, COLD, COLD] += one.moved**2
            fits = _either((mean, spread, fits), (*without, _seen(*without, one.after)))
        weight += fits
        now += until
    return _mixed(grid, weight, mean, spread)


def _waited(grid: _Grid, mean: Series, spread: Series, seconds: float, now: float) -> float:
    """The part cools, and the gauge wanders."""
    kept = np.exp(-seconds / grid.cools)
    mean[:, GROWN] *= kept
    spread[:, GROWN, :] *= kept[:, None]
    spread[:, :, GROWN] *= kept[:, None]
    spread[:, COLD, COLD] += DRIFTS * seconds
    return now + seconds


def _passed(grid: _Grid, mean: Series, spread: Series, one: LeveledPass) -> None:
    """The wheel goes by: it is fed, takes its share, and warms the part."""
    if one.infeed is not None:
        mean[:, STANDS] += one.infeed
        spread[:, STANDS, STANDS] += (LOST * one.infeed) ** 2 + SET**2
    elif not one.rest:
        mean[:, STANDS] += FEEDS / grid.share
        spread[:, STANDS, STANDS] += (U_FEEDS / grid.share) ** 2
    bite = (UNEVEN * grid.share * np.maximum(mean[:, STANDS], 0.0)) ** 2
    move = np.zeros((len(grid.share), 4, 4))
    move[:] = np.eye(4)
    move[:, COLD, STANDS] = -grid.share
    move[:, STANDS, STANDS] = 1.0 - grid.share
    move[:, GROWN, STANDS] = grid.warms * grid.share
    move[:, GROWN, RUB] = 1.0
    mean[:] = np.einsum("gij,gj->gi", move, mean)
    way = np.stack([-np.ones_like(bite), -np.ones_like(bite), grid.warms, np.zeros_like(bite)], axis=1)
    spread[:] = move @ spread @ move.transpose(0, 2, 1) + bite[:, None, None] * way[:, :, None] * way[:, None]


def _seen(mean: Series, spread: Series, level: ShownLevel) -> Series:
    """Takes a level in; the logarithm of how well each value foretold it."""
    off = level.value - mean[:, COLD] - mean[:, GROWN]
    along = spread[:, :, COLD] + spread[:, :, GROWN]
    variance = along[:, COLD] + along[:, GROWN] + level.u**2
    odd = float(np.min(off**2 / variance)) ** 0.5
    variance = variance + level.u**2 * (max(1.0, (odd / ODD) ** 2) - 1.0)
    gain = along / variance[:, None]
    mean += gain * off[:, None]
    spread -= gain[:, :, None] * along[:, None, :]
    square = off**2 / variance
    return np.asarray(-0.5 * (np.minimum(square, FARTHEST**2) + np.log(variance)))


def _either(passed: tuple[Series, Series, Series], without: tuple[Series, Series, Series]) -> Series:
    """Takes both into the first of two that are as likely, whether a wheel was by; how well they foretold."""
    (mean, spread, fits), (other, other_spread, other_fits) = passed, without
    both = np.logaddexp(fits, other_fits)
    chance = np.exp(fits - both)[:, None]
    middle = chance * mean + (1.0 - chance) * other
    a, b = mean - middle, other - middle
    spread[:] = chance[:, :, None] * (spread + a[:, :, None] * a[:, None, :]) + (1.0 - chance)[:, :, None] * (
        other_spread + b[:, :, None] * b[:, None, :]
    )
    mean[:] = middle
    return np.asarray(both - np.log(2.0))


def _mixed(grid: _Grid, weight: Series, mean: Series, spread: Series) -> Standing:
    """Means and standard uncertainties over all values."""
    chance = np.exp(weight - weight.max())
    chance /= chance.sum()

    def over(values: Series, variances: Series) -> tuple[float, float]:
        middle = float(chance @ values)
        return middle, float(chance @ (variances + (values - middle) ** 2)) ** 0.5

    stands, u_stands = mean[:, STANDS], spread[:, STANDS, STANDS]
    gone = grid.share / (1.0 - grid.share)
    left = spread[:, COLD, COLD] + u_stands - 2.0 * spread[:, COLD, STANDS]
    uneven = (UNEVEN * grid.share * stands) ** 2
    return Standing(
        share=over(grid.share, np.zeros_like(stands)),
        removed=over(gone * stands, gone**2 * u_stands),
        next_removal=over(grid.share * stands, grid.share**2 * u_stands + uneven),
        to_come=over(stands, u_stands),
        end=over(mean[:, COLD] - stands, left),
        growth=over(mean[:, GROWN], spread[:, GROWN, GROWN]),
    )
