"""Trials of intervals: thousands of simulated soaks and tapers, and how often what was stated holds.

A soak: 4 to 24 readings over 0.15 to 4 time constants (600 to 9000 s) of a part that is 2 to 30 µm from its
end, standard uncertainty 0.1 to 1 µm. A taper: 2 to 7 stations of a multiple of 10 mm up to 200 mm, slope
0.05 µm/mm (standard deviation), standard uncertainty of a diameter 0.2 to 1 µm. All is drawn from one seed a
round; what the kinds break is in `SOAKS` and `TAPERS`. The true slope is that of the least-squares line
through the true diameters at the stations, which is what `taper` states, where a kind says nothing else.
"""

from __future__ import annotations

from collections.abc import Callable
from math import nan
from typing import TypeAlias

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from capture.metrology.form.taper import line
from capture.metrology.heat.soak import soak

WITHIN = 0.0005
"""mm of what is still to come, within which a part is settled."""
TOLD_TOO_LITTLE = 0.7

SOAKS: dict[str, str] = {
    "matched": "exponential: coolant, a fan",
    "still air": "loses heat as the difference to the power 1.25",
    "mixed": "as the difference to the power 1.15: radiation besides",
    "rounded": "a gauge of 1 µm and 0.3 µm of noise",
    "drifting": "the room drifts by 0.3 µm an hour",
    "told too little": "the uncertainty given is 0.7 of the true one",
}
TAPERS: dict[str, str] = {
    "matched": "a cone",
    "barrel": "up to 3 µm of barrel or hourglass besides",
    "mouth": "a mouth of up to 3 µm and 10 to 40 mm deep, its rim at the last station",
    "barrel, surface": "the same barrels; the true slope is of all the surface between the stations",
    "mouth, surface": "the same mouths; the same",
    "told too little": "the uncertainty given is 0.7 of the true one",
}

Floats: TypeAlias = NDArray[np.float64]


class HeldCount(Struct, frozen=True):
    """How often intervals held the truth."""

    kind: str
    rounds: int
    within: float
    """Share of the truths within 1.96 standard uncertainties."""
    ratio: float
    """Root mean square of the errors in their standard uncertainties, none counted as more than nine."""
    false: float
    """Share of those called settled, or of slopes called real, that were not so or had the other sign."""


def soaks(rounds: int, kind: str = "matched", *, seed: int = 0) -> HeldCount:
    """*rounds* soaks of *kind*.

    Raises:
        ValueError: There is no such kind.
    """
    return _held(rounds, kind, seed, SOAKS, _soak)


def tapers(rounds: int, kind: str = "matched", *, seed: int = 0) -> HeldCount:
    """*rounds* tapers of *kind*.

    Raises:
        ValueError: There is no such kind.
    """
    return _held(rounds, kind, seed, TAPERS, _taper)


class WatchedSoaks(Struct, frozen=True):
    """How well soaks do that are watched until they are called settled."""

    kind: str
    rounds: int
    called: int
    """Settled, by three times as long as it took, or some readings more."""
    early: int
    """Of them, with more than the limit still to come."""
    late: float
    """Median time of the call after the true one, in the time that it truly took."""
    wait: float
    """Median of the waits given, in the true ones, while more than a fifth of the time was still to come."""
    longest: float
    """Of the same, the 90th percentile."""


def watched(rounds: int, kind: str = "matched", *, seed: int = 0) -> WatchedSoaks:
    """*rounds* soaks of *kind*, read 8 to 25 times until they are truly settled, and on until the call.

    Every reading is a look, and the first call ends it. The largest time constant given is 1.1 to 3 times
    that of the part when it is settled.

    Raises:
        ValueError: There is no such kind.
    """
    _known(kind, SOAKS)
    calls: list[tuple[bool, float]] = []
    waits: list[float] = []
    for number in range(rounds):
        called, given = _watch(kind, np.random.default_rng([seed, 7, number]))
        calls += [] if called is None else [called]
        waits += given
    return WatchedSoaks(
        kind=kind,
        rounds=rounds,
        called=len(calls),
        early=sum(early for early, _ in calls),
        late=float(np.median([late for _, late in calls])) if calls else nan,
        wait=float(np.median(waits)) if waits else nan,
        longest=float(np.percentile(waits, 90)) if waits else nan,
    )


_Round = Callable[[str, np.random.Generator], "tuple[float, bool | None]"]


def _held(rounds: int, kind: str, seed: int, kinds: dict[str, str], one: _Round) -> HeldCount:
    _known(kind, kinds)
    all_of = [one(kind, np.random.default_rng([seed, number])) for number in range(rounds)]
    errors = np.clip(np.abs([error for error, _ in all_of]), 0.0, 9.0)
    called = [wrong for _, wrong in all_of if wrong is not None]
    return HeldCount(
        kind=kind,
        rounds=rounds,
        within=float(np.mean(errors <= 1.96)),
        ratio=float(np.sqrt(np.mean(errors**2))),
        false=float(np.mean(called)) if called else 0.0,
    )


def _known(kind: str, kinds: dict[str, str]) -> None:
    if kind not in kinds:
        raise ValueError(f"a kind of trial is one of {', '.join(kinds)}; got {kind}")


class _Part(Struct, frozen=True):
    """A part on its way to 55 mm, and the gauge that reads it."""

    tau: float
    above: float
    power: float
    u: float
    u_given: float
    """The uncertainty given to the arithmetic."""
    drift: float
    """Of the room, mm a second."""
    rounded: bool

    def left(self, t: Floats) -> Floats:
        """What is still to come at *t*."""
        if not self.power:
            return self.above * np.exp(-t / self.tau)
        return self.above * (1.0 + self.power * t / self.tau) ** (-1.0 / self.power)

    def settled(self) -> float:
        """When what is still to come is within the limit."""
        log = np.log(abs(self.above) / WITHIN)
        return float(self.tau * (np.expm1(self.power * log) / self.power if self.power else log))

    def slowed(self, t: float) -> float:
        """The time constant at *t*."""
        return self.tau + self.power * t

    def read(self, t: Floats, since: float, random: np.random.Generator) -> Floats:
        """Readings at *t*, of a room that is at its temperature at *since*."""
        values = 55.0 + self.left(t) + self.drift * (t - since) + random.normal(0.0, self.u, t.shape)
        return np.round(values * 1000.0) / 1000.0 if self.rounded else values


def _part(kind: str, random: np.random.Generator) -> _Part:
    tau = float(np.exp(random.uniform(np.log(600.0), np.log(9000.0))))
    above = random.choice((-1, 1)) * float(np.exp(random.uniform(np.log(0.002), np.log(0.03))))
    rounded = kind == "rounded"
    u = 0.0003 if rounded else float(np.exp(random.uniform(np.log(0.0001), np.log(0.001))))
    given = u * (TOLD_TOO_LITTLE if kind == "told too little" else 1.0)
    return _Part(
        tau=tau,
        above=above,
        power={"still air": 0.25, "mixed": 0.15}.get(kind, 0.0),
        u=u,
        u_given=float(np.hypot(u, 0.001 / 12**0.5)) if rounded else given,
        drift=random.normal(0.0, 0.0003) / 3600.0 if kind == "drifting" else 0.0,
        rounded=rounded,
    )


def _watch(kind: str, random: np.random.Generator) -> tuple[tuple[bool, float] | None, list[float]]:
    """Whether it was called too early and how late, if it was called; the waits given, in the true ones."""
    part = _part(kind, random)
    due = part.settled()
    gap = max(60.0, due / float(random.uniform(8.0, 25.0)))
    slowest = part.slowed(due) * float(random.uniform(1.1, 3.0))
    t = np.cumsum(gap * random.uniform(0.6, 1.4, int(3.0 * due / gap) + 10))
    values = part.read(t, 0.0, random)
    waits: list[float] = []
    for count in range(3, len(t) + 1):
        now = float(t[count - 1])
        found = soak(
            t[:count].tolist(), values[:count].tolist(), u=part.u_given, within=WITHIN, slowest=slowest
        )
        if found.verdict == "settled":
            return (now < due, (now - due) / due), waits
        if found.verdict == "settling" and found.wait is not None and due - now > 0.2 * due:
            waits.append(found.wait / (due - now))
    return None, waits


def _soak(kind: str, random: np.random.Generator) -> tuple[float, bool | None]:
    """Error of the end in its standard uncertainty, and whether it was settled wrongly, if at all."""
    part = _part(kind, random)
    span = part.tau * float(np.exp(random.uniform(np.log(0.15), np.log(4.0))))
    t = np.concatenate(([0.0], np.sort(random.uniform(0.0, span, int(random.integers(2, 23)))), [span]))
    values = part.read(t, span, random)
    slowest = part.slowed(span) * float(random.uniform(1.1, 3.0))
    found = soak(t.tolist(), values.tolist(), u=part.u_given, within=WITHIN, slowest=slowest)
    wrong = bool(span < part.settled()) if found.verdict == "settled" else None
    if found.final is None or found.u is None:
        return 0.0, wrong
    return (found.final - 55.0) / found.u, wrong


def _taper(kind: str, random: np.random.Generator) -> tuple[float, bool | None]:
    """Error of the slope in its standard uncertainty, and whether it was taken the wrong way, if at all."""
    count = int(random.integers(2, 8))
    z = np.sort(random.choice(np.arange(0.0, 201.0, 10.0), count, replace=False))
    slope, u = float(random.normal(0.0, 5e-5)), float(np.exp(random.uniform(np.log(2e-4), np.log(1e-3))))
    # Fine enough that its least-squares line is that of all the surface between the stations.
    along = np.linspace(z[0], z[-1], 1001) if kind in ("barrel, surface", "mouth, surface") else z
    given = u * (TOLD_TOO_LITTLE if kind == "told too little" else 1.0)
    bent = _bent(kind.partition(",")[0], random, float(z[-1]))
    diameters = 50.0 + slope * z + bent(z) + random.normal(0.0, u, count)
    found = line(z.tolist(), diameters.tolist(), given)
    if found is None or found.u_slope is None:
        raise ValueError("two stations or more with an uncertainty always have a slope")
    true = slope + float(np.polyfit(along, bent(along), 1)[0])
    real = abs(found.slope) > 2.0 * found.u_slope
    return (found.slope - true) / found.u_slope, bool(found.slope * true < 0.0) if real else None


def _bent(kind: str, random: np.random.Generator, end: float) -> Callable[[Floats], Floats]:
    """What the part's diameter has besides its taper, at stations whose last is at *end*."""
    if kind == "barrel":
        middle = random.uniform(-0.003, 0.003)
        return lambda z: middle * (1.0 - (z / 100.0 - 1.0) ** 2)
    if kind == "mouth":
        wide, deep = random.uniform(0.0, 0.003), random.uniform(10.0, 40.0)
        return lambda z: wide * np.clip(1.0 - (end - z) / deep, 0.0, None) ** 2
    return np.zeros_like
