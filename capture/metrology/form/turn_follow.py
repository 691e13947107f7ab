"""Follows a part from turn to turn: from the first turns at a speed to the fit of all readings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from capture.metrology.form.surface import in_mask, on_surface
from capture.metrology.form.turn_columns import TurnReadings
from capture.metrology.form.turned_fit import TurnedFit, fitted
from capture.metrology.uncertainty.propagation import Array

FIRST = 6.0
"""Turns of the first look."""
WINDOW = 9.0
"""Turns of the window in which a fit is carried on."""
GROWS = 0.75
"""Turns by which a fit grows."""
PER_TURN = 56
"""Readings a turn that the search needs: four for each wave of the highest lobe count."""
AS_GOOD = 10.0
"""Difference of the information criterion under which two speeds are not distinguished (Kass and Raftery, J.
Am. Statistical Association 90, 1995, 773: above 10 is very strong)."""
MOST_SLIPS = 4
SLIPPED = 1.6
"""Times the usual mean square of a turn's misfit from which a slip is looked for in it."""
LOBES_FIRST = 15


def averaged(given: TurnReadings, keep: Array, rate: float) -> tuple[TurnReadings, Array]:
    """Means of a few readings, where there are many a turn: the search needs no more than `PER_TURN`."""
    t = given.times
    per = round(len(t) / max(float(t[-1] - t[0]) * rate, 1.0) / PER_TURN)
    if per < 2:
        return given, keep
    n = len(t) // per * per
    fold = [one[:n].reshape(-1, per) for one in (t, given.values, keep)]
    return (
        TurnReadings(fold[0].mean(axis=1), fold[1].mean(axis=1), given.marks, given.u_mark),
        (fold[2].min(axis=1) > 0).astype(float),
    )


def followed(given: TurnReadings, keep: Array, rate: float, resolution: float) -> TurnedFit:
    """The fit of the first turns, carried on in a window to the end, and then of them all."""
    t = given.times
    angle, reach = np.zeros(0), t[0] + FIRST / rate
    while len(angle) < len(t):
        n = int((t <= reach).sum())
        theta = (
            np.concatenate([angle, _going_on(t, angle, n)])
            if len(angle)
            else 2 * np.pi * rate * (t[:n] - t[0])
        )
        begin = int(np.searchsorted(theta, theta[-1] - 2 * np.pi * WINDOW)) if len(angle) else 0
        window = slice(begin, n)
        found = _begun(given, keep, theta, window, rate, resolution, steps=4)
        angle, reach = np.concatenate([angle[:begin], found.theta]), reach + GROWS / rate
    return _begun(given, keep, angle, slice(0, len(t)), _mean_rate(t, angle), resolution, steps=6)


def mended(given: TurnReadings, keep: Array, fit: TurnedFit, resolution: float) -> TurnedFit:
    """The fit with slips put right: where the part was followed on to the next lobe in place of its own."""
    n = np.arange(1, fit.order + 1)
    power = np.hypot(fit.coefficients[0::2], fit.coefficients[1::2])
    lobes = [int(k) for k in n[np.argsort(-(n * power))][:2] if k > 1]
    for _ in range(MOST_SLIPS):
        turn = (fit.theta - fit.theta[0]) / (2 * np.pi)
        misfit = np.clip(np.abs(fit.residuals) / fit.spread, 0, 6) ** 2 * keep
        whole = np.floor(turn).astype(int)
        by_turn = np.bincount(whole, weights=misfit) / np.maximum(np.bincount(whole, weights=keep), 1)
        worst = [int(k) for k in np.argsort(-by_turn)[:2] if by_turn[k] > SLIPPED * np.median(by_turn)]
        tried = [
            _slipped(given, keep, fit, float(at) + 0.5, sign / count, resolution)
            for at in worst
            for count in lobes
            for sign in (1, -1)
        ]
        best = min(tried, key=lambda one: one.information, default=fit)
        if best.information > fit.information - AS_GOOD / 2:
            return fit
        fit = best
    return fit


def polished(
    given: TurnReadings,
    coarse: TurnReadings,
    fit: TurnedFit,
    order: int,
    resolution: float,
    masks: Sequence[tuple[float, float]],
) -> TurnedFit:
    """The last fit, of all readings but those of a masked place, at the full order."""
    rate = float(fit.theta[-1] - fit.theta[0]) / (2 * np.pi * float(coarse.times[-1] - coarse.times[0]))
    base = 2 * np.pi * rate * (given.times - given.times[0])
    theta = _through(coarse.times, fit.theta, given.times)
    on = on_surface(given.values, resolution)
    first = fitted(
        given,
        rate,
        min(order, LOBES_FIRST),
        warp=theta - base,
        steps=6,
        resolution=resolution,
        weights=on,
    )
    keep = np.logical_and(on > 0, np.logical_not(in_mask(first, on)))
    for start, stop in masks:
        keep &= (first.theta - start) % (2 * np.pi) > (stop - start) % (2 * np.pi)
    return fitted(
        given,
        rate,
        order,
        warp=first.theta - base,
        steps=20,
        resolution=resolution,
        weights=keep.astype(float),
        last=True,
    )


def _begun(
    given: TurnReadings,
    keep: Array,
    theta: Array,
    window: slice,
    rate: float,
    resolution: float,
    *,
    steps: int,
) -> TurnedFit:
    """The fit of a stretch of readings, begun at angles for each."""
    t = given.times[window]
    part = TurnReadings(t, given.values[window], given.marks, given.u_mark)
    order = int(np.clip(keep[window].sum() // 5, 3, LOBES_FIRST))
    warp = theta[window] - 2 * np.pi * rate * (t - t[0])
    return fitted(part, rate, order, warp=warp, steps=steps, resolution=resolution, weights=keep[window])


def _mean_rate(t: Array, angle: Array) -> float:
    return float(angle[-1] - angle[0]) / (2 * np.pi * float(t[-1] - t[0]))


def _going_on(t: Array, angle: Array, n: int) -> Array:
    """Angles from the end of a fit on, at its speed of the last turn and a half."""
    last = angle > angle[-1] - 3 * np.pi
    speed = np.polyfit(t[: len(angle)][last], angle[last], 1)[0]
    found: Array = angle[-1] + speed * (t[len(angle) : n] - t[len(angle) - 1])
    return found


def _slipped(
    given: TurnReadings, keep: Array, fit: TurnedFit, at: float, by: float, resolution: float
) -> TurnedFit:
    """The fit begun anew with the part *by* turns further on from turn *at*."""
    t = given.times
    turn = (fit.theta - fit.theta[0]) / (2 * np.pi)
    theta = fit.theta + 2 * np.pi * by / (1 + np.exp(-(turn - at) * 4))
    return _begun(given, keep, theta, slice(0, len(t)), _mean_rate(t, theta), resolution, steps=4)


def _through(times: Array, theta: Array, at: Array) -> Array:
    """Angles at other times, going on straight beyond the ends."""
    found = np.interp(at, times, theta)
    first, last = at < times[0], at > times[-1]
    begin = (theta[1] - theta[0]) / (times[1] - times[0])
    end = (theta[-1] - theta[-2]) / (times[-1] - times[-2])
    found[first] = theta[0] + begin * (at[first] - times[0])
    found[last] = theta[-1] + end * (at[last] - times[-1])
    return found
