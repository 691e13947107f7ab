"""Soak: where a cooling part will end, from the readings so far, and when to measure again.

The size or the temperature of a part that soaks goes to its end as ``v + a exp(-t / tau)``
(:mod:`capture.metrology.heat.cooling`, lumped) where what carries the heat away stays the same. In still air
it carries less as the part comes near the room, as the difference to the power n: then it goes as
``v + a (1 + n t / tau)^(-1 / n)``, tau being the time constant where t is 0. For each n and time constant
that is possible the rest is a straight least-squares line; the answers of all are then weighed by how well
each fits, ``exp(-chi^2 / 2)``. So readings that cannot tell a slow end far away from a fast one near by
give a wide answer, as they should.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, inf
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from capture.metrology.message import Message, message

Verdict: TypeAlias = Literal["settled", "settling", "cannot tell"]
Floats: TypeAlias = NDArray[np.float64]

_GRID = 241
_POWERS = (0.0, 0.12, 0.25)
"""Of the difference: coolant or a fan; still air, half of it radiation; still air alone, laminar (Incropera
and others, Fundamentals of Heat and Mass Transfer, 7th ed., 9.6: Nusselt number as Ra^(1/4); from memory)."""
_ZOOMS = 8
_PLAUSIBLE = 12.0
_HARDLY = 0.01
_POOR_FIT = 3.0
_BEGUN = 0.02
_FASTEST = 1.0 / 20.0
_SOONEST = 60.0


class Soak(Struct, frozen=True):
    """What the readings of a soaking part say; sizes in the unit of the readings."""

    verdict: Verdict
    advice: Message
    """For the person: what it is, and when to measure again."""
    final: float | None = None
    """Predicted end; None with fewer than three readings, or when they follow no cooling curve."""
    u: float | None = None
    """Standard uncertainty of *final*: as wide as the readings leave it, also when they cannot tell."""
    to_come: float | None = None
    """Predicted end minus where the curve is at the last reading."""
    u_to_come: float | None = None
    tau: float | None = None
    """Best time constant, s."""
    wait: float | None = None
    """Seconds after the last reading until what is to come is within the limit: by half of the curves, as
    they are weighed, it is no longer."""
    wait_most: float | None = None
    """The same, for the slowest of the plausible curves and at its upper 95 % bound."""


class _Curves(Struct, frozen=True):
    """The least-squares curve of every time constant and power tried."""

    taus: Floats
    powers: Floats
    chi2: Floats
    finals: Floats
    u_finals: Floats
    to_come: Floats
    u_to_come: Floats


def soak(
    times: Sequence[float],
    values: Sequence[float],
    *,
    u: float,
    within: float,
    slowest: float,
    end: tuple[float, float] | None = None,
) -> Soak:
    """Predict the end of a soak.

    Args:
        times: Seconds, rising.
        values: Sizes (mm) or temperatures (°C) at those times.
        u: Standard uncertainty of one reading, of what varies between readings only.
        within: How near its end the value must be, same unit as the values.
        slowest: Largest time constant that the part can have, s; see
            :func:`capture.metrology.heat.cooling.still_air`.
        end: Where it must end, and its standard uncertainty, if that is known: for a
            part's temperature, the temperature of the room.

    Returns:
        "settled" when what is to come is within the limit at 95 % (2 u) on every plausible curve,
        "settling" with the time to wait, or "cannot tell" with the reason.

    Raises:
        ValueError: times and values do not pair, times do not rise, or a limit is not over 0.
    """
    t, v = _checked(times, values, u, within, slowest)
    if t.size < 3:
        return Soak("cannot tell", message("soak.few", readings=int(t.size)))
    curves, scale = _curves(t, v, u, slowest, end)
    if scale > _POOR_FIT:
        return Soak(
            "cannot tell",
            message("soak.stray", times=scale),
        )
    return _judged(curves, t, within)


def _checked(
    times: Sequence[float], values: Sequence[float], u: float, within: float, slowest: float
) -> tuple[Floats, Floats]:
    t, v = np.asarray(times, dtype=float), np.asarray(values, dtype=float)
    if t.shape != v.shape or t.ndim != 1:
        raise ValueError(f"{t.size} times and {v.size} values: each reading needs both")
    if not (np.all(np.isfinite(t)) and np.all(np.isfinite(v)) and np.all(np.diff(t) > 0)):
        raise ValueError("times of a soak must be finite and rise from reading to reading")
    for name, number in (("u", u), ("within", within), ("slowest", slowest)):
        if not 0.0 < number < inf:
            raise ValueError(f"{name} is {number:g}; it must be over 0")
    return t - (t[-1] if t.size else 0.0), v


def _curves(
    t: Floats, v: Floats, u: float, slowest: float, end: tuple[float, float] | None
) -> tuple[_Curves, float]:
    """Curves near the best one, and by how much the readings stray more than their u."""
    dof = max(1, t.size - 3 + (end is not None))
    taus = np.geomspace(min(float(-t[0]) * _FASTEST, slowest / 2.0), slowest, _GRID)
    scale = 1.0
    for _ in range(_ZOOMS):
        tried = _fit(t, v, u, taus, end)
        best = int(np.argmin(tried.chi2))
        scale = float(np.sqrt(max(1.0, tried.chi2[best] / dof)))
        fits = (tried.chi2 - tried.chi2[best] < _PLAUSIBLE * scale**2).reshape(len(_POWERS), _GRID)
        plausible = np.flatnonzero(fits.any(axis=0))
        if fits.sum() > len(_POWERS) * _GRID // 4:
            break
        taus = np.geomspace(taus[max(0, plausible[0] - 1)], taus[min(_GRID - 1, plausible[-1] + 1)], _GRID)
    return _fit(t, v, u * scale, taus, end), scale


def _fit(t: Floats, v: Floats, u: float, taus: Floats, end: tuple[float, float] | None) -> _Curves:
    """Straight least squares on ``1 - exp(-t / tau)`` or its like, with t = 0 at the last reading.

    In ``v = now + to_come (1 - exp(-t / tau))`` the line's value at 0 is where the curve
    is now and its slope is what is still to come; a known end is one more reading, at 1.
    """
    x = np.vstack([_shape(t[None, :] / taus[:, None], power) for power in _POWERS])
    powers, taus = np.repeat(_POWERS, taus.size), np.tile(taus, len(_POWERS))
    weight = np.ones_like(v)
    if end is not None:
        x = np.hstack([x, np.ones((taus.size, 1))])
        v, weight = np.append(v, end[0]), np.append(weight, (u / end[1]) ** 2)
    # a fast curve dwarfs all but its own beginning: scaled, its sums stay finite
    one = 1.0 / np.max(np.abs(x), axis=1)
    x *= one[:, None]
    weight_sum = weight.sum()
    mean_x, mean_v = x @ weight / weight_sum, float(v @ weight) / weight_sum
    dx, dv = x - mean_x[:, None], v - mean_v
    sxx = dx**2 @ weight
    slope = (dx * dv) @ weight / sxx
    chi2 = ((dv - slope[:, None] * dx) ** 2 @ weight) / u**2
    return _Curves(
        taus=taus,
        powers=powers,
        # A curve that was at no finite difference when the first reading was taken is none.
        chi2=np.where(1.0 + powers * t[0] / taus > _BEGUN, chi2, inf),
        finals=mean_v + slope * (one - mean_x),
        u_finals=u * np.sqrt(1.0 / weight_sum + (one - mean_x) ** 2 / sxx),
        to_come=slope * one,
        u_to_come=u * one / np.sqrt(sxx),
    )


def _shape(t: Floats, power: float) -> Floats:
    """The share of what is to come that has come at *t* time constants after the last reading."""
    if power == 0.0:
        return -np.expm1(-t)
    return 1.0 - np.maximum(1.0 + power * t, _BEGUN) ** (-1.0 / power)


def _until(left: Floats, within: float, curves: _Curves) -> Floats:
    """Seconds until *left* has come down to *within* on each curve."""
    log = np.log(np.maximum(left / within, 1.0))
    powers = np.maximum(curves.powers, 1e-9)
    waits: Floats = curves.taus * np.expm1(powers * log) / powers
    return waits


def _judged(curves: _Curves, t: Floats, within: float) -> Soak:
    best = _simplest(curves)
    weight = np.exp(-(curves.chi2 - curves.chi2[best]) / 2.0)
    weight = weight / weight.sum()
    final, u_final = _weighed(weight, curves.finals, curves.u_finals, best)
    to_come, u_to_come = _weighed(weight, curves.to_come, curves.u_to_come, best)
    tau = float(curves.taus[best])
    waits = _until(np.abs(curves.to_come) + 2.0 * curves.u_to_come, within, curves)
    likely = curves.chi2 - curves.chi2[best] < 4.0
    wait_most = float(np.max(waits[likely]))
    # The best curve's own is one of many: noise that bends it a little makes it several times too long.
    wait = _median(weight, _until(np.abs(curves.to_come), within, curves))
    verdict, advice = _verdict(abs(to_come), u_to_come, within, (wait, wait_most), float(-t[0]))
    return Soak(
        verdict=verdict,
        advice=advice,
        final=final,
        u=u_final,
        to_come=to_come,
        u_to_come=u_to_come,
        tau=tau,
        wait=wait,
        wait_most=wait_most,
    )


def _simplest(curves: _Curves) -> int:
    """The best curve; an exponential where another fits hardly better."""
    best = int(np.argmin(curves.chi2))
    plain = int(np.argmin(np.where(curves.powers == 0.0, curves.chi2, inf)))
    return plain if curves.chi2[plain] <= curves.chi2[best] + _HARDLY else best


def _verdict(
    to_come: float, u: float, within: float, waits: tuple[float, float], span: float
) -> tuple[Verdict, Message]:
    wait, wait_most = waits
    # On every plausible curve, not on the whole of them: the slow ones are few and late.
    if wait_most == 0.0 and to_come + 2.0 * u <= within:
        return "settled", message("soak.settled")
    if 2.0 * u > max(to_come, within):
        return "cannot tell", message("soak.short", minutes=_minutes(max(span / 2.0, _SOONEST)))
    return "settling", message("soak.settling", minutes=_minutes(max(wait or wait_most, _SOONEST)))


def _weighed(weight: Floats, values: Floats, u: Floats, best: int) -> tuple[float, float]:
    """The best curve's value, and the spread of all weighed curves about it."""
    value = float(values[best])
    return value, float(np.sqrt(np.sum(weight * (u**2 + (values - value) ** 2))))


def _median(weight: Floats, values: Floats) -> float:
    """The value to which half of the weight is no larger; the weights sum to 1."""
    order = np.argsort(values)
    return float(values[order][int(np.searchsorted(np.cumsum(weight[order]), 0.5))])


def _minutes(seconds: float) -> int:
    return ceil(seconds / 60.0 - 1e-9)
