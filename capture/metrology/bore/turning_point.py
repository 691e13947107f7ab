"""Turning point: the diameter at the bottom of one rock of a bore gauge, by a fit to the curve around it.

A gauge tilted by theta reads ``D / cos theta``, to second order ``D + D theta^2 / 2``: the square of
something that passes through nothing once in a half rock. So ``D + q(t)^2`` is fitted, q being a
quarter wave to either side whose middle, height, rhythm and shape may differ a little from rock to
rock. What they may is given as a normal prior, so that few readings in a rock give a large uncertainty
and not a wrong diameter. Gauss-Newton steps on the posterior, whose curvature gives the uncertainty
(Gelman et al., Bayesian Data Analysis, 3rd ed., 4.1); the bias of a fit that is not straight in its
unknowns is taken off (Box, "Bias in nonlinear estimation", J. R. Stat. Soc. B 33 (1971) 171).
"""

from __future__ import annotations

from enum import StrEnum
from math import sqrt

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.bore.rock_curve import TEMPER, RockCurve, Series, fitted

LEAST = 6
"""Readings from turn to turn, both counted, below which a rock shows nothing: 6 unknowns and their priors.

With five, hands that are no waves are read wrong by 1 to 2 µm unseen (simulated; RESULTS.md)."""
FEW = 7
"""Readings up to which the middle may as well lie between two others: every such curve is weighed."""
STARTS = (-0.5, -0.25, 0.25, 0.5)
"""Other beginnings of the search, in readings from the lowest."""
SAME = 0.1
"""Logarithm of the odds within which the curve found first is the best."""
UNLIKELY = 0.01
"""Weight over that of the best curve under which another is left out."""
APART = 0.25
"""Standard uncertainties within which two curves are the same one."""
ENOUGH = 16
"""Readings from which the two turns are left out: noise had a say in which readings they are."""
TOP = 0.88
"""Share of a rock's height over which readings tell of the hand's turn more than of the bore (by trials)."""
FLAT = 0.12
"""Share of a rock's height in which it spends a fifth of its time; one held still spends all of it."""
STRAY = 4.5
"""Standard deviations beyond which one reading is a stray."""
WORST = 4.0
"""Mean square of residuals over that of the noise, above which a curve is no rock."""
SLACK = 0.0006
"""mm; residuals up to this are a rock of odd shape: its uncertainty is larger, its diameter stands."""


class TurningPoint(Struct, frozen=True):
    """The bottom of one rock."""

    at: float
    """Seconds, on the clock of the readings."""
    value: float
    """What the gauge reads upright, mm."""
    u: float
    """Standard uncertainty from noise, rounding and shape of this rock, mm."""
    readings: int
    strays: int
    """Readings left out because they lie off the curve: a knock."""
    squares: float
    """Sum of squares of the residuals, mm²."""
    freedom: float
    """Their degrees of freedom."""
    shaped: float = 0.0
    """Part of `u` by which the readings lie farther off the curve than noise puts them, mm: what the curve
    misses of this hand's shape it misses in all its rocks."""


class RockFault(StrEnum):
    """Why a dip in the readings is no turning point."""

    SPARSE = "too few readings"
    NO_TURN = "no turn"
    NO_FIT = "no fit"
    NO_BOTTOM = "bottom not read"
    BROKEN_CURVE = "broken curve"
    OTHER_CURVE = "not the curve of a rock"
    HELD_STILL = "held still between two knocks"
    STEPPED = "readings before and after differ"


KNOCKS = frozenset({RockFault.BROKEN_CURVE, RockFault.OTHER_CURVE, RockFault.HELD_STILL, RockFault.STEPPED})
"""The faults that a knock of the gauge leaves."""


class NoRock(Struct, frozen=True):
    """A dip in the readings that is no turning point."""

    why: RockFault

    @property
    def sparse(self) -> bool:
        """There were too few readings for a rock this quick."""
        return self.why == RockFault.SPARSE


def evenly(times: Series) -> tuple[Series, float]:
    """When readings were made, from when they arrived, if the gauge keeps an even beat.

    Args:
        times: Arrival, seconds, rising.

    Returns:
        Times on an even beat, lost readings counted, and the standard deviation of the arrivals about it.
    """
    gaps = np.diff(times)
    beat = float(np.median(gaps)) if len(gaps) else 0.0
    if beat <= 0.0:
        return times, 0.0
    # A reading that is late is made up for by the next ones; one that is lost is not.
    over = gaps / beat - 1.0
    for ahead in (1, 2):
        caught = (times[1 + ahead :] - times[: -1 - ahead]) / beat - 1.0 - ahead
        over[: len(caught)] = np.minimum(over[: len(caught)], caught)
    lost = np.where(gaps > 1.6 * beat, np.maximum(np.round(over), 0.0), 0.0)
    count = np.concatenate(([0.0], np.cumsum(1.0 + lost)))
    middle = count - count.mean()
    slope = float(middle @ times / (middle @ middle))
    even = times.mean() + slope * middle
    return even, float(np.std(times - even))


def turning_point(times: Series, values: Series, *, noise: float, late: float = 0.0) -> TurningPoint | NoRock:
    """The turning point in the readings from one turn of the hand to the next.

    Args:
        times: Seconds.
        values: mm; falling from the first to a least and rising to the last, but for noise.
        noise: Standard deviation of one reading, its rounding included, mm.
        late: Standard deviation of `times`, seconds.
    """
    if len(values) < LEAST:
        return NoRock(RockFault.SPARSE)
    low = int(values.argmin())
    if low in {0, len(values) - 1}:
        return NoRock(RockFault.NO_TURN)
    if len(values) >= ENOUGH and 1 < low < len(values) - 2:
        times, values, low = times[1:-1], values[1:-1], low - 1
    times, values, low = _lower(times, values, low)
    times, values, low = _unturned(times, values, low)
    kept = np.ones(len(values), dtype=bool)
    strays = 0
    while True:
        fit = fitted(times[kept], values[kept], times[low], noise, late)
        if fit is None:
            return NoRock(RockFault.NO_FIT)
        if fit.chi2 <= WORST * max(fit.freedom, 1.0) or (strays + 1) * 6 > len(values):
            break
        if fit.worst <= STRAY:
            break
        kept[np.flatnonzero(kept)[fit.worst_at]] = False
        strays += 1
        if kept.sum() < LEAST:
            return NoRock(RockFault.BROKEN_CURVE)
    found = _judged(fit, values[kept], strays, noise)
    if kept.sum() > FEW or strays:
        return found
    return _weighed(found, fit, times, values, low, noise, late)


def _lower(times: Series, values: Series, low: int) -> tuple[Series, Series, int]:
    """Cut off what one side rises above twice the other: there the gauge does more than rock."""
    left, right = values[: low + 1].max() - values[low], values[low:].max() - values[low]
    top = values[low] + 2.0 * min(left, right)
    if max(left, right) <= 2.0 * min(left, right):
        return times, values, low
    above = values > top
    first = int(np.flatnonzero(above[:low]).max(initial=-1)) + 1
    last = int(np.flatnonzero(above[low:]).min(initial=len(values) - low)) + low
    if last - first < max(LEAST, 8):
        return times, values, low
    return times[first:last], values[first:last], low - first


def _unturned(times: Series, values: Series, low: int) -> tuple[Series, Series, int]:
    """Without the tops of a rock of many readings: a hand rests there as long as it likes."""
    top = values[low] + TOP * min(values[0] - values[low], values[-1] - values[low])
    first = int(np.flatnonzero(values[:low] > top).max(initial=-1)) + 1
    last = int(np.flatnonzero(values[low:] > top).min(initial=len(values) - low)) + low
    if last - first < ENOUGH:
        return times, values, low
    return times[first:last], values[first:last], low - first


def _weighed(
    first: TurningPoint | NoRock,
    fit: RockCurve,
    times: Series,
    values: Series,
    low: int,
    noise: float,
    late: float,
) -> TurningPoint | NoRock:
    """The mean of every curve that few readings leave possible, by how probable each is.

    A reading near the bottom may lie on either side of it, so that the posterior has several maxima;
    their mixture's mean and variance are stated (Gelman et al., as above, 13.3).
    """
    modes = [(fit, first)] if isinstance(first, TurningPoint) else []
    for start in STARTS:
        beside = times[low + (1 if start > 0 else -1)] - times[low]
        other = fitted(times, values, times[low] + abs(start) * beside, noise, late)
        found = NoRock(RockFault.NO_FIT) if other is None else _judged(other, values, 0, noise)
        if other is not None and isinstance(found, TurningPoint):
            modes.append((other, found))
    if not modes:
        return first
    # Searches that end at one curve end a nanometre apart: the first of them stands for it.
    modes.sort(key=lambda mode: -mode[0].likely - SAME * (mode[0] is fit))
    apart: list[tuple[RockCurve, TurningPoint]] = []
    for mode in modes:
        u = mode[1].u
        if all(abs(mode[1].value - one.value) > APART * max(u, one.u) for _, one in apart):
            apart.append(mode)
    best = apart[0][1]
    weights = np.exp([TEMPER * (mode.likely - apart[0][0].likely) for mode, _ in apart])
    weights[weights < UNLIKELY] = 0.0
    weights /= weights.sum()
    away = np.array([one.value - best.value for _, one in apart])
    mean = float(weights @ away)
    within = np.array([one.u for _, one in apart])
    u = sqrt(float(weights @ (within**2 + (away - mean) ** 2)))
    return replace(best, value=best.value + mean, u=u)


def _judged(fit: RockCurve, values: Series, strays: int, noise: float) -> TurningPoint | NoRock:
    freedom = max(fit.freedom, 0.3)
    ratio = fit.chi2 / freedom
    allowed = max(WORST, (SLACK / noise) ** 2) * (1.0 + 3.0 / freedom)
    if ratio > allowed:
        return NoRock(RockFault.OTHER_CURVE)
    if not fit.lowest - 0.35 * fit.height - 4.0 * noise <= fit.value <= fit.lowest + 4.0 * noise:
        return NoRock(RockFault.NO_BOTTOM)
    bottom = fit.value + FLAT * fit.lower
    if (values <= bottom).sum() > len(values) / 2:
        return NoRock(RockFault.HELD_STILL)
    # One or two degrees of freedom say little about the shape; many say much.
    worse = max(0.85, (2.0 + fit.chi2) / (2.0 + fit.freedom))
    return TurningPoint(
        at=fit.at,
        value=fit.value,
        u=fit.u * sqrt(worse),
        readings=len(values),
        strays=strays,
        squares=fit.squares,
        freedom=fit.freedom,
        shaped=fit.u * sqrt(max(worse - 1.0, 0.0)),
    )
