"""Decisions: whether a size conforms, by a named rule, and the band that uncertainty leaves.

Conformance probability and risks after JCGM 106:2012; the rules are simple acceptance
and acceptance guarded by U (ILAC-G8:09/2019) and acceptance at 95 % conformance
probability (default of ISO 14253-1:2017, read in secondary text).
"""

from __future__ import annotations

from itertools import pairwise
from math import inf, isfinite, sqrt
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct
from scipy.special import ndtr, ndtri

from capture.metrology.uncertainty.propagation import Array

Rule: TypeAlias = Literal["simple", "guarded", "guarded-U"]
"""Simple: inside the limits. Guarded: at least 95 % likely inside. Guarded-U: inside by U = 2 u."""

PROVEN = 0.95
"""Conformance probability that the guarded rule asks for (ISO 14253-1:2017 default)."""


class SpecificationLimits(Struct, frozen=True):
    """What is allowed; either side may be open.

    Raises:
        ValueError: no limit at all, or least not under most.
    """

    least: float | None
    most: float | None

    def __post_init__(self) -> None:
        if self.least is None and self.most is None:
            raise ValueError("limits need a least or a most, got neither")
        if self.least is not None and self.most is not None and not self.least < self.most:
            raise ValueError(f"the least must be under the most, got {self.least} and {self.most}")

    @property
    def low(self) -> float:
        """The least, or minus infinity."""
        return -inf if self.least is None else self.least

    @property
    def high(self) -> float:
        """The most, or infinity."""
        return inf if self.most is None else self.most


class Acceptance(Struct, frozen=True):
    """The band that is left for readings after guarding."""

    rule: Rule
    u: float
    guard: float | None
    """How far each end moved inward; ``None`` where no band is left."""
    least: float | None
    most: float | None
    left: bool
    """False: no reading at all could prove conformity with this uncertainty."""
    capability: float | None
    """Cm = T / (4 u) (JCGM 106:2012, 7.6.3); ``None`` with one open side or u = 0."""
    said: str


class Decision(Struct, frozen=True):
    """One result judged."""

    rule: Rule
    value: float
    u: float
    probability: float
    """Conformance probability."""
    answer: Literal["conforms", "does not conform", "not proven"]
    acceptance: Acceptance
    said: str


class Risks(Struct, frozen=True):
    """What a rule costs over many parts of one process (JCGM 106:2012, 9.5)."""

    conforming: float
    """Fraction of parts inside the limits."""
    consumer: float
    """Fraction accepted although outside."""
    producer: float
    """Fraction rejected although inside."""


def conformance(value: float, u: float, limits: SpecificationLimits) -> float:
    """Probability that the true size lies inside the limits (JCGM 106:2012, 7.2 to 7.4).

    >>> round(conformance(13.6, 1.8, SpecificationLimits(12.5, 16.3)), 2)
    0.66
    """
    _known(u)
    if u == 0:
        return float(limits.low <= value <= limits.high)
    low, high = (limits.low - value) / u, (limits.high - value) / u
    # The difference is taken in the smaller tail, so that far outside it does not round to zero too soon.
    return float(ndtr(high) - ndtr(low) if low < 0 else ndtr(-low) - ndtr(-high))


def acceptance(rule: Rule, u: float, limits: SpecificationLimits, *, k: float = 2.0) -> Acceptance:
    """The band that the rule leaves, to be shown before grinding starts.

    Args:
        rule: How conformity is decided.
        u: Standard uncertainty of the result that will be judged.
        limits: What is allowed.
        k: Coverage factor of the U of ``guarded-U``.

    With both limits close to each other against u, the guarded rule looks at both
    at once: its guard is then more than the 1.645 u of one limit.
    """
    _known(u)
    guard = _guard(rule, u, limits, k)
    width = limits.high - limits.low
    capability = width / (4 * u) if isfinite(width) and u > 0 else None
    if guard is None or 2 * guard > width:
        said = "no band left: this gauge cannot prove this fit"
        return Acceptance(rule, u, None, None, None, left=False, capability=capability, said=said)
    least = None if limits.least is None else limits.least + guard
    most = None if limits.most is None else limits.most - guard
    said = (
        "the whole band is left" if guard == 0 else "readings inside the band that is left prove conformity"
    )
    return Acceptance(rule, u, guard, least, most, left=True, capability=capability, said=said)


def decide(rule: Rule, value: float, u: float, limits: SpecificationLimits, *, k: float = 2.0) -> Decision:
    """Judge one result.

    Guarded rules know three answers: conformity is proven inside the band that is left,
    non-conformity is proven as far outside the limits, and between the two nothing is.
    """
    band = acceptance(rule, u, limits, k=k)
    probability = conformance(value, u, limits)
    if band.left and _inside(value, band.least, band.most):
        return Decision(rule, value, u, probability, "conforms", band, "inside the band that is left")
    if rule == "simple" or _surely_outside(rule, value, u, limits, k):
        said = "outside the limits" if rule == "simple" else "outside the limits by more than the guard"
        return Decision(rule, value, u, probability, "does not conform", band, said)
    said = "too near a limit for this uncertainty" if band.left else band.said
    return Decision(rule, value, u, probability, "not proven", band, said)


def one_limit_guard(rule: Rule, k: float = 2.0) -> float:
    """Guard band in units of u where only one limit matters: 0, 1.645 or k."""
    return {"simple": 0.0, "guarded": float(ndtri(PROVEN)), "guarded-U": k}[rule]


def false_acceptance(rule: Rule, k: float = 2.0) -> float:
    """Greatest probability that an accepted result is outside its limit: 50 %, 5 % or under 2.5 %."""
    return float(ndtr(-one_limit_guard(rule, k)))


def largest_u(rule: Rule, limits: SpecificationLimits, *, band: float, k: float = 2.0) -> float | None:
    """The largest uncertainty that leaves a band of a given width between two limits.

    Args:
        rule: How conformity is decided.
        limits: Both sides given.
        band: Width of the band that must be left, zero or more, in the unit of the limits.
        k: Coverage factor of the U of ``guarded-U``.

    Returns:
        The uncertainty; ``None`` when `band` is wider than the limits; infinity for the simple rule.
    """
    width = limits.high - limits.low
    if not isfinite(width):
        raise ValueError("the band between limits needs both a least and a most")
    if not 0 <= band <= width:
        return None
    if rule == "simple":
        return inf
    if rule == "guarded-U":
        return (width - band) / (2 * k)
    low, high = 0.0, width
    for _ in range(100):
        u = (low + high) / 2
        edge = conformance(limits.low + (width - band) / 2, u, limits)
        low, high = (u, high) if edge >= PROVEN else (low, u)
    return low


def risks(
    mean: float, sd: float, u: float, limits: SpecificationLimits, accepted: SpecificationLimits
) -> Risks:
    """Consumer's and producer's risk of accepting parts inside a band (JCGM 106:2012, 9.5).

    Args:
        mean: Mean of the parts that the process makes.
        sd: Standard deviation of those parts, more than zero.
        u: Standard uncertainty of the measurement, more than zero.
        limits: What is allowed.
        accepted: The band inside which readings are accepted.
    """
    if not (sd > 0 and u > 0):
        raise ValueError(f"risks need a spread of parts and an uncertainty above zero, got {sd} and {u}")
    ends = mean - 9 * sd, mean + 9 * sd
    edges = sorted({*ends, *(each for each in (limits.low, limits.high) if ends[0] < each < ends[1])})
    taken_good = taken_bad = good = 0.0
    for low, high in pairwise(edges):
        x, weight = _panels(low, high, min(sd, u) / 2)
        made = weight * np.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * sqrt(2 * np.pi))
        taken = float(made @ (ndtr((accepted.high - x) / u) - ndtr((accepted.low - x) / u)))
        if limits.low <= (low + high) / 2 <= limits.high:
            taken_good, good = taken_good + taken, good + float(made.sum())
        else:
            taken_bad += taken
    return Risks(good, taken_bad, good - taken_good)


def _panels(low: float, high: float, longest: float) -> tuple[Array, Array]:
    """Points and weights of Gauss and Legendre over panels no longer than *longest*."""
    count = min(max(int((high - low) / longest) + 1, 4), 20_000)
    edges = np.linspace(low, high, count + 1)
    nodes, weights = np.polynomial.legendre.leggauss(8)
    half = np.diff(edges)[:, None] / 2
    return (edges[:-1, None] + half * (1 + nodes)).ravel(), (half * weights).ravel()


def _known(u: float) -> None:
    if not (isfinite(u) and u >= 0):
        raise ValueError(f"an uncertainty must be zero or more and finite, got {u}")


def _inside(value: float, least: float | None, most: float | None) -> bool:
    return (least is None or value >= least) and (most is None or value <= most)


def _surely_outside(rule: Rule, value: float, u: float, limits: SpecificationLimits, k: float) -> bool:
    guard = one_limit_guard(rule, k) * u
    return value < limits.low - guard or value > limits.high + guard


def _guard(rule: Rule, u: float, limits: SpecificationLimits, k: float) -> float | None:
    one = one_limit_guard(rule, k) * u
    width = limits.high - limits.low
    if rule != "guarded" or not isfinite(width) or u == 0:
        return one
    if conformance((limits.low + limits.high) / 2, u, limits) < PROVEN:
        return None
    low, high = 0.0, width / 2
    for _ in range(100):
        middle = (low + high) / 2
        enough = conformance(limits.low + middle, u, limits) >= PROVEN
        low, high = (low, middle) if enough else (middle, high)
    return high
