"""Finds how a part turns: from marks, about a given speed, or from the readings alone.

The first turns are fitted at many speeds and the best is followed, a turn and a half at a time, to the end. A
speed that fits as well as the best, and makes another number of lobes of it, is reported and not hidden.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from capture.metrology.form.surface import on_surface, while_turning
from capture.metrology.form.turn_columns import TurnReadings, waves
from capture.metrology.form.turn_follow import (
    AS_GOOD,
    FIRST,
    LOBES_FIRST,
    averaged,
    followed,
    mended,
    polished,
)
from capture.metrology.form.turned_fit import TurnedFit, fitted
from capture.metrology.uncertainty.propagation import Array

APART = 0.02
"""Share by which two speeds must differ to be two."""
MAY_MEND = 400.0
"""Of the information criterion: a speed worse than the best by more is not looked into."""
SECTORS = 36
REPEATS = 2.5
"""Times their scatter from one to the next that readings may scatter about the lobes (no source)."""
BEYOND = 1.3
"""Times the range of the readings of the surface that the fitted lobes may span (no source)."""
LEAST_COUNTED = 0.5
"""Share of the readings that must count: two keyways under three contacts leave more (no source)."""
CANDIDATES = 6
"""Speeds that are followed to the end."""
WITHIN = 0.12
"""Share by which the speed may differ from the one that was given (common practice: a belt slips, a dial is
coarse)."""
U_SPEED = 0.03
"""Standard uncertainty of a given speed, as a share of it (common practice, no source)."""
SLOWEST_TURNS = 3.0
"""Turns that readings must hold at the least where no speed was given."""
FASTEST = 5.0
"""Turns a second; no work turns faster under an indicator (common practice, no source)."""


class NoTurn(ValueError):
    """The readings do not show how the part turns; the text says why and what to do."""


class FoundTurn(Struct, frozen=True):
    """How the part turned, and the harmonics of its reading."""

    fit: TurnedFit
    also: tuple[float, ...]
    """Other speeds, turns a second, that the readings do not rule out."""
    used: slice
    """The readings that were used: those before the part began to turn are left out."""


def find_turn(
    given: TurnReadings,
    *,
    speed: float | None = None,
    order: int = LOBES_FIRST,
    resolution: float = 0.0,
    masks: Sequence[tuple[float, float]] = (),
) -> FoundTurn:
    """The turning of the part under the gauge, and its harmonics.

    Args:
        given: Readings over several turns, with or without marks.
        speed: About how many turns a second, where somebody knows.
        order: Highest harmonic of the answer.
        resolution: Smallest step of the gauge, mm.
        masks: From where to where a reading is of no surface, radians from the mark.

    Raises:
        NoTurn: too few readings or turns, or nothing in them repeats.
    """
    if len(given.times) < 24:
        raise NoTurn(f"{len(given.times)} readings came, due 24 or more over at least three turns")
    used = while_turning(given)
    given = _part(given, used)
    keep = on_surface(given.values, resolution)
    marked = len(given.marks) >= 3
    rates = [_from_marks(given.marks)] if marked else _searched(given, keep, speed, resolution)
    coarse, kept = averaged(given, keep, max(rates))
    tried = [followed(coarse, kept, rate, resolution) for rate in rates]
    scores = [one.information + _unlikely(one, speed) + _scattered(one, kept) for one in tried]
    likely = [k for k in np.argsort(scores) if scores[k] < min(scores) + MAY_MEND]
    for k in likely[:2]:
        tried[k] = mended(coarse, kept, tried[k], resolution)
        scores[k] = tried[k].information + _unlikely(tried[k], speed) + _scattered(tried[k], kept)
    best = int(np.argmin(scores))
    also = [
        _rate(one)
        for one, score in zip(tried, scores, strict=True)
        if score < scores[best] + AS_GOOD and abs(_rate(one) / _rate(tried[best]) - 1) > APART
    ]
    _repeats(given, keep, tried[best], resolution)
    top = _order(given, order)
    fit = polished(given, coarse, tried[best], top, resolution, masks)
    _repeats(given, on_surface(given.values, resolution), fit, resolution)
    _stays_within(given, fit)
    return FoundTurn(fit, _apart(also), used)


def _part(given: TurnReadings, used: slice) -> TurnReadings:
    return TurnReadings(given.times[used], given.values[used], given.marks, given.u_mark)


def _from_marks(marks: Array) -> float:
    """Turns a second by the marks; one that was missed makes an interval of two turns."""
    gaps = np.diff(np.sort(marks))
    one = float(np.median(gaps))
    turns = np.maximum(np.round(gaps / one), 1)
    return float(turns.sum() / gaps.sum())


def _searched(given: TurnReadings, keep: Array, speed: float | None, resolution: float) -> list[float]:
    """The speeds that fit the first turns best, at most `CANDIDATES`, each apart from the others."""
    if speed is not None:
        guessed = [float(speed * (1 + fine)) for fine in np.arange(-WITHIN, WITHIN + 1e-9, 0.004)]
    else:
        guessed = _guesses(given, keep)
    coarse, kept = averaged(given, keep, max(guessed, default=1.0))
    looked = {rate: _first_look(coarse, kept, rate, resolution) for rate in guessed}
    scores = {
        rate: score + (0.0 if speed is None else ((rate / speed - 1) / U_SPEED) ** 2)
        for rate, score in looked.items()
        if score is not None
    }
    if not scores:
        raise NoTurn(
            "the readings do not hold three turns at any speed that fits: record more turns, or say the speed"
        )
    return list(_apart(sorted(scores, key=lambda rate: scores[rate])))[:CANDIDATES]


def _guesses(given: TurnReadings, keep: Array) -> list[float]:
    """Speeds worth a look: the peaks of the periodogram (Lomb and Scargle), and their whole parts."""
    t, y = given.times, given.values
    good = keep > 0
    span = float(t[-1] - t[0])
    rates = np.arange(SLOWEST_TURNS / span, min(len(t) / span / 2, FASTEST * LOBES_FIRST), 0.2 / span)
    from scipy.signal import find_peaks, lombscargle  # noqa: PLC0415 - slow to load, and few sessions need it

    power = lombscargle(t[good], y[good] - y[good].mean(), 2 * np.pi * rates, floating_mean=True)
    peaks, _ = find_peaks(np.concatenate([[0.0], power, [0.0]]))
    strong = sorted(peaks - 1, key=lambda k: -power[k])[:4]
    least = SLOWEST_TURNS / span
    return sorted(
        {
            float(rates[k] / n * (1 + fine))
            for k in strong
            for n in range(1, LOBES_FIRST + 1)
            for fine in (-0.008, 0.0, 0.008)
            if least <= rates[k] / n <= FASTEST
        }
    )


def _first_look(given: TurnReadings, keep: Array, rate: float, resolution: float) -> float | None:
    """The information criterion of the first turns at a rate; None where too few readings are in them."""
    t = given.times
    first = t <= t[0] + FIRST / rate
    n = int(keep[first].sum())
    if n < 24 or (t[-1] - t[0]) * rate < SLOWEST_TURNS:
        return None
    order = int(np.clip(n // 5, 3, LOBES_FIRST))
    part = TurnReadings(t[first], given.values[first], np.zeros(0))
    found = fitted(part, rate, order, steps=4, resolution=resolution, weights=keep[first])
    return found.information


def _unlikely(fit: TurnedFit, speed: float | None) -> float:
    """What a speed away from the one that was given costs."""
    if speed is None:
        return 0.0
    away = _rate(fit) / speed - 1
    return (away / U_SPEED) ** 2 if abs(away) < 1.25 * WITHIN else 1e9


def _repeats(given: TurnReadings, keep: Array, fit: TurnedFit, resolution: float) -> None:
    """Refuse readings that scatter about the lobes far more than from one to the next.

    The scatter from one to the next is that of second differences, over the root of six; where there are few
    readings a turn the surface itself is in it, and nothing is refused.
    """
    on = keep > 0
    bends = np.diff(given.values, 2)[on[:-2] & on[1:-1] & on[2:]]
    if len(bends) < 24:
        return
    own = max(1.4826 * float(np.median(np.abs(bends))) / 6**0.5, 0.4 * resolution)
    if fit.spread > REPEATS * own:
        raise NoTurn(
            "the readings do not repeat from turn to turn: let it turn more steadily, or give the mark of "
            "each turn"
        )


def _stays_within(given: TurnReadings, fit: TurnedFit) -> None:
    """Refuse lobes that most readings do not show, or that go far beyond all readings of the surface."""
    on = fit.weights > 0
    if on.mean() < LEAST_COUNTED:
        raise NoTurn(
            f"{100 * (1 - on.mean()):.0f} % of the readings fit nothing that comes again: let it turn more "
            "steadily, mask the keyways, or give the mark of each turn"
        )
    surface = given.values[on]
    around = waves(np.linspace(0.0, 2 * np.pi, 360, endpoint=False), fit.order) @ fit.coefficients
    if float(np.ptp(around)) > BEYOND * float(np.ptp(surface)):
        raise NoTurn(
            "the lobes that fit go further than any reading of the surface: read more angles, with a turn "
            "that the gauge's rate does not divide, or give the mark of each turn"
        )


def _scattered(fit: TurnedFit, keep: Array) -> float:
    """Minus twice the logarithm of how much likelier keyways make the places of what is off the surface.

    A keyway comes by at one place of the part, chips at any: each stretch of readings off the surface counts
    once.
    """
    begins = np.flatnonzero((keep[1:] <= 0) & (keep[:-1] > 0)) + 1
    if len(begins) < 4:
        return 0.0
    places = np.floor((fit.theta[begins] % (2 * np.pi)) / (2 * np.pi) * SECTORS).astype(int) % SECTORS
    counts = np.bincount(places, minlength=SECTORS)
    here = counts[counts > 0]
    gain = float((here * np.log(here * SECTORS / len(begins))).sum())
    return -2 * gain + len(here) * float(np.log(len(begins)))


def _rate(fit: TurnedFit) -> float:
    return float(np.mean(fit.speed))


def _apart(rates: list[float]) -> tuple[float, ...]:
    found: list[float] = []
    for rate in rates:
        if all(abs(rate / one - 1) > APART for one in found):
            found.append(rate)
    return tuple(found)


def _order(given: TurnReadings, order: int) -> int:
    """Harmonics beyond those asked for, where there are readings enough: what they hold is not to alias."""
    return int(np.clip(len(given.times) // 8, min(order, 4), 2 * order))
