"""Lobes of a part that turns under a gauge: harmonics, drift and turning in one least squares.

A reading at time t is ``drift(t) + sum a_n cos n theta + b_n sin n theta`` with ``theta = 2 pi f (t - t0) +
w(t)``; w is a cubic spline with one knot a turn, so that it follows a speed that wanders and cannot imitate
a lobe. Gauss and Newton's method on all of it; Tukey's biweight (Beaton and Tukey, Technometrics 16, 1974,
147) lets chips and keyways go; the widths of the priors (speed, lobes) are found from the readings by
evidence (MacKay, Neural Computation 4, 1992, 415). In the last fit no lobe is held to nothing because the
others are: what shrinks a lobe would make its uncertainty too small.

Uncertainties are the largest of the model's, of what differs from turn to turn, and of what stays in one
sector of the part (the sandwich estimate with a turn or a sector as the cluster: edges of keyways and lobes
past the last that is fitted come again in every turn). Where the angle is unsure a lobe is found too small
by its cosine: that is added. Sources from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np
from msgspec import Struct

from capture.metrology.form.turn_columns import (
    TurnColumns,
    TurnReadings,
    slopes,
    spline_slope,
    turn_columns,
    waves,
)
from capture.metrology.uncertainty.propagation import Array

TUKEY = 4.685
"""Scales at which a residual counts for nothing: 95 % as good as least squares for normal noise (from
memory)."""
LEAST_SPREAD = 1e-6
"""mm, below which no reading scatters: keeps scales above zero."""
FREE = 1e3
"""Standard deviation of what has no prior: mm, or radians."""
UNEVEN = 0.05
"""First guess of how unevenly a part turns: radians of second difference a turn (no source)."""
LOOSE = 30.0
"""Radians by which a step may turn the part: keeps one without lobes from any angle."""
HIGH = 15
"""Lobe count past which lobes of a ground part are small (common practice, no source)."""
STANDS_OUT = 6.0
"""Times the usual mean square from which a lobe has a prior of its own."""
LEAST_LOBE = 1e-5
"""mm, the narrowest prior of a lobe."""
LAST_LEAST = 3e-4
"""mm, the same in the last fit, for lobes to `HIGH`: one may be there where others are not (no source)."""
SECTORS = 72
"""Sectors of the part whose residuals are taken to err together (no source)."""
OUTLIER = 0.3
"""mm over which a reading that counts for nothing may lie, in the evidence (no source)."""


class TurnedFit(Struct, frozen=True):
    """Harmonics of a reading over turns."""

    order: int
    coefficients: Array
    """a_1, b_1, a_2, b_2 … mm."""
    covariance: Array
    """Of them, mm²."""
    theta: Array
    """Where the part stood at each reading, radians since the first mark or the first reading."""
    speed: Array
    """Turns a second at each reading."""
    u_period: float
    """Standard uncertainty of the mean period over the mean period."""
    weights: Array
    """0 for a reading that counts for nothing."""
    residuals: Array
    """mm."""
    spread: float
    """Of one reading about the fit, mm."""
    resolved: Array
    """Of each harmonic: what the readings take off the variance that it was given beforehand, as a share."""
    information: float
    """Minus twice the logarithm of the evidence, by which speeds are compared."""

    @property
    def uneven(self) -> float:
        """Standard deviation of the speed over its mean."""
        return float(np.std(self.speed) / abs(np.mean(self.speed)))


class _Step(Struct):
    """Where Gauss and Newton's method stands."""

    warp: Array
    drift: Array
    lobes: Array
    keep: Array
    """Weight of each reading."""
    spread: float
    sizes: Array
    """Widths of the priors of lobes 2 and up, mm."""
    uneven: float
    """Width of the prior of the speed's changes, radians a turn."""
    rest: Array
    columns: Array
    covariance: Array
    information: float = 0.0


def fitted(
    given: TurnReadings,
    rate: float,
    order: int,
    *,
    warp: Array | None = None,
    steps: int = 8,
    resolution: float = 0.0,
    weights: Array | None = None,
    last: bool = False,
) -> TurnedFit:
    """Fit harmonics up to *order* to readings of a part that turns about *rate* times a second.

    Args:
        given: The readings.
        rate: Turns a second to begin with.
        order: Highest harmonic.
        warp: Angle at each reading beyond ``2 pi rate (t - t0)`` to begin with, radians.
        steps: Of Gauss and Newton.
        resolution: Smallest step of the gauge, mm.
        weights: Of the readings; 0 keeps one out for good.
        last: No lobe is held to nothing because the others are.
    """
    fixed = turn_columns(given, rate)
    usable = np.ones(len(given.times)) if weights is None else (weights > 0).astype(float)
    floor = max(resolution / 12**0.5, LEAST_SPREAD)
    now = _begun(given, fixed, order, warp, usable, floor)
    for number in range(steps):
        _solve(now, given, fixed, number)
        _weigh(now, given, fixed, usable, floor)
        if number >= 2:
            _widths(now, fixed, LAST_LEAST if last else LEAST_LOBE)
    return _found(now, given, fixed, rate, resolution)


def _begun(
    given: TurnReadings, fixed: TurnColumns, order: int, warp: Array | None, usable: Array, floor: float
) -> _Step:
    y = given.values
    begin: Array = np.zeros(fixed.splines.shape[1], dtype=np.float64)
    if warp is not None:
        begin[:] = np.linalg.lstsq(fixed.splines, warp, rcond=None)[0]
    away = 1.4826 * float(np.median(np.abs(y - np.median(y))))
    size = float(np.clip(0.7413 * np.subtract(*np.quantile(y, [0.75, 0.25])), 1e-4, 0.02))
    nothing = np.zeros(0)
    return _Step(
        warp=begin,
        drift=np.zeros(fixed.drifts.shape[1]),
        lobes=np.zeros(2 * order),
        keep=usable.copy(),
        spread=max(away, floor),
        sizes=np.where(np.arange(2, order + 1) > HIGH, size / 10, size),
        uneven=UNEVEN,
        rest=nothing,
        columns=nothing,
        covariance=nothing,
    )


def _solve(now: _Step, given: TurnReadings, fixed: TurnColumns, number: int) -> None:
    """One step: drift, lobes and turning by linear least squares about the angles as they are."""
    around = waves(fixed.base + fixed.splines @ now.warp, len(now.lobes) // 2)
    slope = around @ slopes(now.lobes)
    now.columns = np.hstack([fixed.drifts, around, slope[:, None] * fixed.splines])
    target = given.values + slope * (fixed.splines @ now.warp)
    priors = np.concatenate([np.full(len(now.drift) + 2, FREE), np.repeat(now.sizes, 2)])
    bend = np.diff(np.eye(len(now.warp)), 2, axis=0)
    held, due = fixed.held(now.warp)
    lines = [
        now.columns * np.sqrt(now.keep)[:, None] / now.spread,
        np.hstack([np.diag(1 / priors), np.zeros((len(priors), len(now.warp)))]),
        np.hstack([np.zeros((len(bend), len(priors))), bend / now.uneven]),
        np.hstack([np.zeros((len(held), len(priors))), held]),
        np.hstack([np.zeros((len(now.warp), len(priors))), np.eye(len(now.warp)) / LOOSE]),
    ]
    zeros = (np.zeros(len(priors)), np.zeros(len(bend)))
    goal = np.concatenate([target * np.sqrt(now.keep) / now.spread, *zeros, due, now.warp / LOOSE])
    stacked = np.vstack(lines)
    normal = stacked.T @ stacked
    now.covariance = np.linalg.inv(normal)
    solved = now.covariance @ (stacked.T @ goal)
    now.drift, now.lobes = solved[: len(now.drift)], solved[len(now.drift) : len(priors)]
    if number:  # before the first step no lobe is known, and nothing of the turning either
        now.warp = solved[len(priors) :]
    misfit = float(((stacked @ solved - goal) ** 2).sum())
    known = priors < FREE
    now.information = misfit + float(np.linalg.slogdet(normal)[1])
    now.information += 2 * float(np.log(priors[known]).sum()) + 2 * len(bend) * np.log(now.uneven)


def _weigh(now: _Step, given: TurnReadings, fixed: TurnColumns, usable: Array, floor: float) -> None:
    """What is left over, how much it scatters, and which readings count."""
    order = len(now.lobes) // 2
    theta = fixed.base + fixed.splines @ now.warp
    now.rest = given.values - fixed.drifts @ now.drift - waves(theta, order) @ now.lobes
    scale = max(1.4826 * float(np.median(np.abs(now.rest[usable > 0]))), floor)
    now.keep = usable * np.clip(1 - (now.rest / scale / TUKEY) ** 2, 0.0, None) ** 2
    counted = float(now.keep.sum())
    spare = max(counted - 0.5 * (len(now.lobes) + len(now.drift)), 0.3 * counted, 1.0)
    now.spread = max(float(np.sqrt((now.keep * now.rest**2).sum() / spare)), floor)


def _widths(now: _Step, fixed: TurnColumns, least: float) -> None:
    """The widths of the priors that the readings themselves bring, for lobes to `HIGH` not under *least*.

    One width for lobes to `HIGH` and one for those above, by their medians (of a chi-square of two degrees,
    ln 2 of its mean), but a lobe that stands out has its own.
    """
    first = fixed.drifts.shape[1]
    last = first + len(now.lobes)
    second = now.lobes[2:] ** 2 + np.diag(now.covariance)[first + 2 : last]
    power = second.reshape(-1, 2).mean(axis=1)
    found = np.empty_like(power)
    high = np.arange(2, len(power) + 2) > HIGH
    for group in (~high, high):
        if group.any():
            usual = max(float(np.median(power[group])) / np.log(2), LEAST_LOBE**2)
            found[group] = np.where(power[group] > STANDS_OUT * usual, power[group], usual)
    now.sizes = np.clip(np.sqrt(found), np.where(high, LEAST_LOBE, least), 0.1)
    bend = np.diff(np.eye(len(now.warp)), 2, axis=0)
    if len(bend):
        spare = np.einsum("ij,jk,ik->i", bend, now.covariance[last:, last:], bend)
        now.uneven = float(np.clip(np.sqrt(((bend @ now.warp) ** 2 + spare).mean()), 1e-4, 0.5))


def _found(now: _Step, given: TurnReadings, fixed: TurnColumns, rate: float, resolution: float) -> TurnedFit:
    first = fixed.drifts.shape[1]
    last = first + len(now.lobes)
    t = given.times
    theta = fixed.base + fixed.splines @ now.warp
    inner = now.covariance[first:last, first:last]
    turn = np.floor((theta - theta[0]) / (2 * pi)).astype(int)
    sector = np.floor((theta % (2 * pi)) / (2 * pi) * SECTORS).astype(int) % SECTORS
    apart = [_clustered(now, one)[first:last, first:last] for one in (turn, sector)]
    ends = fixed.splines[-1] - fixed.splines[0]
    u_turned = float(np.sqrt(max(ends @ now.covariance[last:, last:] @ ends, 0.0)))
    n, lost = float(now.keep.sum()), float((now.keep <= 0).sum())
    return TurnedFit(
        order=len(now.lobes) // 2,
        coefficients=now.lobes,
        covariance=_larger(inner, apart) + _undithered(now, resolution) + _smeared(now, fixed, last),
        theta=theta,
        speed=rate + spline_slope(t, t[0], t[-1], now.warp) / (2 * pi),
        u_period=u_turned / max(float(theta[-1] - theta[0]), 1e-9),
        weights=now.keep,
        residuals=now.rest,
        spread=now.spread,
        resolved=1.0 - np.diag(inner).reshape(-1, 2).mean(axis=1) / np.concatenate([[FREE], now.sizes]) ** 2,
        information=now.information + 2 * n * np.log(now.spread) + 2 * lost * np.log(OUTLIER),
    )


def _clustered(now: _Step, cluster: Array) -> Array:
    """The covariance by what differs from cluster to cluster; zeros with fewer than four.

    The fit takes from the residuals of few clusters what its own columns can follow; that is given back.
    """
    numbers = np.unique(cluster[now.keep > 0])
    many, columns = len(numbers), len(now.lobes)
    if many < 4:
        return np.zeros_like(now.covariance)
    pulled = now.columns * (now.keep * now.rest / now.spread**2)[:, None]
    pulls = np.array([pulled[cluster == k].sum(axis=0) for k in numbers])
    spread = now.covariance @ (pulls.T @ pulls) @ now.covariance
    found: Array = spread * (many / max(many - columns, 0.5 * many))
    return found


def _smeared(now: _Step, fixed: TurnColumns, last: int) -> Array:
    """What an unsure angle takes off each lobe: 1 - cos of it, n times as far round for n lobes."""
    away = fixed.splines - np.average(fixed.splines, axis=0, weights=np.maximum(now.keep, 1e-12))
    unsure = float(np.einsum("ij,jk,ik->i", away, now.covariance[last:, last:], away).mean())
    n = np.repeat(np.arange(1, len(now.lobes) // 2 + 1), 2)
    lost = np.repeat(np.hypot(now.lobes[0::2], now.lobes[1::2]), 2) * np.minimum(0.5 * n**2 * unsure, 1.0)
    found: Array = np.diag(lost**2)
    return found


def _larger(model: Array, others: Sequence[Array]) -> Array:
    """The model's covariance, each harmonic of it widened to the largest of the *others*."""
    own = np.diag(model).reshape(-1, 2).sum(axis=1)
    most = np.max([np.diag(one).reshape(-1, 2).sum(axis=1) for one in others], axis=0)
    wider = np.repeat(np.sqrt(np.maximum(most / np.maximum(own, 1e-30), 1.0)), 2)
    found: Array = model * np.outer(wider, wider)
    return found


def _undithered(now: _Step, resolution: float) -> Array:
    """What rounding adds where no scatter smears a gauge's steps: a fifth of a step (no source)."""
    quiet = now.spread < 0.4 * resolution
    found: Array = np.eye(len(now.lobes)) * (0.2 * resolution if quiet else 0.0) ** 2
    return found
