"""Decay: what is still to come when a size or a temperature settles exponentially.

Closed forms of plunge grinding are those of the first-order model (King and Hahn;
Malkin and Guo, Grinding Technology; Hashimoto, Inventions 5, 2020, 46):
force ``Fn = kc a``, depth a revolution ``a = r' / nw``, deflection ``Fn / ke``,
hence ``tau r'' + r' = x'`` with ``tau = kc / (ke nw)``.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import exp, isfinite, log, sqrt

import numpy as np
from msgspec import Struct
from scipy.special import chdtrc, fdtrc

from capture.metrology.uncertainty.least_squares import FittedModel, least_squares
from capture.metrology.uncertainty.propagation import Array

_CHANCE = 0.001
"""Probability under which a decay is clear of scatter; small, as many time constants are tried."""


class Estimate(Struct, frozen=True):
    """A value and its standard uncertainty."""

    value: float
    u: float


class Decay(Struct, frozen=True):
    """``d = end + size exp(-(t - began) / tau)`` fitted to readings, or why it could not be."""

    converged: bool
    why: str
    began: float
    """Time of the first reading, s: `size` is what was still to come then."""
    end: Estimate | None
    """Where the readings are going, in their unit."""
    size: Estimate | None
    tau: Estimate | None
    """Time constant, s."""
    s: float | None
    """Residual standard deviation."""
    dof: int
    residuals: tuple[float, ...] = ()
    covariance: tuple[tuple[float, ...], ...] | None = None
    """Of end, size and tau, in that order."""

    def to_come(self, t: float) -> Estimate | None:
        """What still comes off (or on, if negative) after time *t*; ``None`` without a fit."""
        if self.size is None or self.tau is None or self.covariance is None:
            return None
        since = t - self.began
        left = exp(-since / self.tau.value)
        gradient = np.array([0.0, left, self.size.value * left * since / self.tau.value**2])
        return Estimate(self.size.value * left, _spread(gradient, self.covariance))

    def at(self, t: float) -> Estimate | None:
        """The fitted curve at time *t*; ``None`` without a fit."""
        coming = self.to_come(t)
        if coming is None or self.end is None or self.size is None or self.tau is None:
            return None
        since = t - self.began
        left = exp(-since / self.tau.value)
        gradient = np.array([1.0, left, self.size.value * left * since / self.tau.value**2])
        return Estimate(self.end.value + coming.value, _spread(gradient, self.covariance))


class ThreeReadings(Struct, frozen=True):
    """What three equally spaced readings foretell."""

    why: str
    end: float | None
    """``None`` where the readings do not settle."""
    tau: float | None
    u_end: float | None
    """From the uncertainty of the readings; ``None`` where that was not given."""
    usable: bool
    """False where there is no end, or it is no better known than the last reading is near it."""


def fit_decay(t: Sequence[float], d: Sequence[float], *, u: float | None = None) -> Decay:
    """Fit one exponential decay to readings.

    Args:
        t: Times of the readings, s, rising; four different ones or more.
        d: Readings, any unit.
        u: Standard uncertainty of one reading; without it, that follows from the scatter.

    The start comes from a search over time constants from a fifth of the shortest gap to
    twenty times the whole span, so no guess is asked for. There is no answer where the
    best time constant lies at either end of the search, or where what decays is not clear
    of the scatter (against one steady size, by F or, with `u`, by chi-square; and twice its
    own uncertainty): each is said, and no number is given.
    """
    if len(t) != len(d):
        raise ValueError(f"{len(t)} times and {len(d)} readings: each reading needs its time")
    if any(later <= earlier for earlier, later in pairwise(t)):
        raise ValueError("times must rise from reading to reading")
    if len(t) < 4:
        return _none(t, len(t) - 3, f"{len(t)} readings are too few for a decay: four or more are due")
    since = np.asarray(t, dtype=float) - t[0]
    away = np.asarray(d, dtype=float) - d[-1]
    if not away.any():
        return _none(t, len(t) - 3, "all readings are alike: nothing decays")
    start = _start(since, away)
    if start is None:
        return _none(t, len(t) - 3, "no decay shows: the readings are straight, or settled at once")
    fit = least_squares(_curve, since.tolist(), away.tolist(), start, u=u)
    flat = float(np.sum((away - away.mean()) ** 2))
    return _decay(fit, t, d[-1], _chance(fit, flat, u))


def three_readings(d0: float, d1: float, d2: float, dt: float, *, u: float | None = None) -> ThreeReadings:
    """End and time constant from three readings at equal intervals (Aitken's extrapolation).

    Args:
        d0: First reading, any unit; deviations from nominal keep their digits best.
        d1: Second.
        d2: Third.
        dt: Interval, s.
        u: Standard uncertainty of each reading, independent of the others.

    >>> round(three_readings(18.0, 12.09796, 8.518192, 1.0).end, 3)
    3.0
    """
    if not dt > 0:
        raise ValueError(f"the interval must be more than zero, got {dt}")
    first, second = d0 - d1, d1 - d2
    if first == 0 or not 0 < second / first < 1:
        return ThreeReadings("these three readings do not settle", None, None, None, usable=False)
    bend = first - second
    end, tau = d2 - second * second / bend, dt / log(first / second)
    if u is None:
        return ThreeReadings("settling; how surely is not known", end, tau, None, usable=True)
    by = (second**2 / bend**2, -2 * first * second / bend**2, first**2 / bend**2)
    u_end = u * sqrt(sum(each * each for each in by))
    usable = u_end < abs(d2 - end)
    why = "settling" if usable else "too near the end for three readings: fit more of them"
    return ThreeReadings(why, end, tau, u_end, usable=usable)


def time_constant(cutting: float, machine: float, revolutions: float) -> float:
    """Time constant of a plunge, s: ``kc / (ke nw)``.

    Args:
        cutting: Cutting stiffness kc, N per metre of depth a revolution.
        machine: Stiffness ke of machine, wheel and work together, N/m.
        revolutions: Work speed nw, revolutions a second.
    """
    for name, value in (("cutting", cutting), ("machine", machine), ("work speed", revolutions)):
        if not (isfinite(value) and value > 0):
            raise ValueError(f"{name} must be more than zero, got {value}")
    return cutting / (machine * revolutions)


def lag(rate: float, tau: float, t: float) -> float:
    """How far the work lags behind the dial after infeed for *t* seconds: ``rate tau (1 - exp(-t/tau))``."""
    return -rate * tau * float(np.expm1(-t / tau))


def left_after(size: float, tau: float, t: float) -> float:
    """What is left of *size* after sparking out for *t* seconds: ``size exp(-t/tau)``."""
    return size * exp(-t / tau)


def time_to(fraction: float, tau: float) -> float:
    """Seconds until a fraction of what stood at first is left; 5 % takes three time constants."""
    return tau * -log(_fraction(fraction))


def passes_to(fraction: float, removed: float) -> float:
    """Passes without infeed until a fraction is left, when each removes a share of what stands.

    Source: geometric decay ``(1 - K)^N``, ``K = ke / (ke + kc)``; derived.

    Args:
        fraction: What is left over what stood at first, between 0 and 1.
        removed: K, between 0 and 1.
    """
    return log(_fraction(fraction)) / float(np.log1p(-_fraction(removed)))


def passes_constant(removed: float) -> float:
    """Time constant in passes when each removes a share K of what stands: ``-1 / ln(1 - K)``."""
    return -1 / float(np.log1p(-_fraction(removed)))


def left_after_passes(size: float, removed: float, passes: float) -> float:
    """What is left of *size* after passes without infeed, each removing a share K of what stands."""
    return size * exp(passes * float(np.log1p(-_fraction(removed))))


def _fraction(value: float) -> float:
    if not 0 < value < 1:
        raise ValueError(f"a fraction must lie between 0 and 1, got {value}")
    return value


def _curve(t: Array, p: Array) -> Array:
    return np.asarray(p[0] + p[1] * np.exp(-t / p[2]))


def _start(t: Array, d: Array) -> tuple[float, float, float] | None:
    """Best of many time constants, or ``None`` when it is the first or the last of them."""
    trials = np.geomspace(np.diff(t).min() / 5, t[-1] * 20, 200)
    best, found = np.inf, None
    for i, tau in enumerate(trials):
        model = np.column_stack([np.ones_like(t), np.exp(-t / tau)])
        linear = np.linalg.lstsq(model, d, rcond=None)[0]
        rss = float(np.sum((d - model @ linear) ** 2))
        if rss < best:
            best, found = rss, (i, (float(linear[0]), float(linear[1]), float(tau)))
    if found is None or found[0] in {0, len(trials) - 1}:
        return None
    return found[1]


def _chance(fit: FittedModel, flat: float, u: float | None) -> float:
    """Probability that readings of something steady would fit a decay so much better than one size."""
    if fit.rss is None:
        return 1.0
    gained = max(flat - fit.rss, 0.0)
    if u is not None:
        return float(chdtrc(2, gained / u**2))
    return float(fdtrc(2, fit.dof, gained / 2 / (fit.rss / fit.dof))) if fit.rss > 0 else 0.0


def _decay(fit: FittedModel, t: Sequence[float], shift: float, chance: float) -> Decay:
    if fit.parameters is None or fit.u is None or fit.covariance is None:
        return _none(t, fit.dof, fit.why)
    end, size, tau = fit.parameters
    if chance > _CHANCE or abs(size) <= 2 * fit.u[1] or tau <= 0:
        return _none(t, fit.dof, "what decays is not clear of the scatter of the readings")
    return Decay(
        converged=True,
        why=fit.why,
        began=t[0],
        end=Estimate(shift + end, fit.u[0]),
        size=Estimate(size, fit.u[1]),
        tau=Estimate(tau, fit.u[2]),
        s=fit.s,
        dof=fit.dof,
        residuals=fit.residuals,
        covariance=fit.covariance,
    )


def _none(t: Sequence[float], dof: int, why: str) -> Decay:
    return Decay(False, why, t[0] if t else 0.0, None, None, None, None, max(dof, 0))


def _spread(gradient: Array, covariance: tuple[tuple[float, ...], ...] | None) -> float:
    variance = float(gradient @ np.asarray(covariance, dtype=float) @ gradient)
    return sqrt(max(variance, 0.0))
