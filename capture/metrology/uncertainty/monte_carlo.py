"""Monte Carlo: a budget drawn many times over, for results that a straight-line law gets wrong.

Propagation of distributions after JCGM 101:2008 (GUM Supplement 1). Every draw comes
from the seed that is passed in, so the same call gives the same answer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil, floor, log10, sqrt
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from capture.metrology.uncertainty.budget import Contribution, Correlation, Expanded
from capture.metrology.uncertainty.propagation import Array

Model: TypeAlias = Callable[..., Array]
"""Takes one array a quantity, all of one length, and gives an array of results of that length."""


class Simulated(Struct, frozen=True):
    """What the drawn results say."""

    value: float
    """Their mean."""
    u: float
    """Their standard deviation."""
    low: float
    high: float
    """Ends of the shortest interval that holds `coverage` of them."""
    coverage: float
    trials: int
    settled: bool = True
    """False when an adaptive run stopped at its limit before its figures were steady."""


class Comparison(Struct, frozen=True):
    """The law of propagation beside the simulation (JCGM 101:2008, 8.1)."""

    low: float
    """Lower end by the law less lower end by simulation."""
    high: float
    """The same of the upper ends."""
    u: float
    """Standard uncertainty by the law less that by simulation."""
    tolerance: float
    """Half a unit in the last significant digit of u."""
    agree: bool
    said: str


def draw(line: Contribution, trials: int, generator: np.random.Generator) -> Array:
    """Values of one quantity, drawn from its distribution (JCGM 101:2008, 6.4)."""
    a, b = line.spread, line.shape
    match line.distribution:
        case "normal":
            away = a * generator.standard_normal(trials)
        case "t":
            away = a * generator.standard_t(line.dof, trials)
        case "rectangular":
            away = generator.uniform(-a, a, trials)
        case "triangular":
            away = a / 2 * (generator.uniform(-1, 1, trials) + generator.uniform(-1, 1, trials))
        case "arcsine":
            away = a * np.sin(2 * np.pi * generator.random(trials))
        case "trapezoid":
            first, second = generator.uniform(-1, 1, trials), generator.uniform(-1, 1, trials)
            away = a / 2 * ((1 + b) * first + (1 - b) * second)
        case "curved-trapezoid":
            away = generator.uniform(a - b, a + b, trials) * generator.uniform(-1, 1, trials)
    return np.asarray(line.value + away, dtype=float)


def simulate(
    model: Model,
    lines: Sequence[Contribution],
    *,
    trials: int,
    seed: int,
    coverage: float = 0.95,
    correlations: Sequence[Correlation] = (),
) -> Simulated:
    """Propagate distributions through a model with a fixed number of trials (JCGM 101:2008, 7).

    Args:
        model: Takes one array for each line, in order.
        lines: The quantities; their sensitivities are not used.
        trials: Number of draws; ``100 / (1 - coverage)`` or more.
        seed: Settles every draw.
        coverage: Probability of the interval, more than 0 and less than 1.
        correlations: Pairs of normal lines that err together.
    """
    _enough(trials, coverage)
    results = _results(model, lines, trials, np.random.default_rng(seed), correlations)
    low, high = shortest_interval(results, coverage)
    return Simulated(float(results.mean()), float(results.std(ddof=1)), low, high, coverage, trials)


def simulate_until_steady(
    model: Model,
    lines: Sequence[Contribution],
    *,
    seed: int,
    coverage: float = 0.95,
    digits: int = 2,
    most_trials: int = 2_000_000,
    correlations: Sequence[Correlation] = (),
) -> Simulated:
    """Propagate distributions in blocks until value, u and both ends are steady (JCGM 101:2008, 7.9).

    Args:
        model: Takes one array for each line, in order.
        lines: The quantities; their sensitivities are not used.
        seed: Settles every draw.
        coverage: Probability of the interval, more than 0 and less than 1.
        digits: Significant digits of u that must stand still.
        most_trials: Where to stop at the latest; the answer then says that it has not settled.
        correlations: Pairs of normal lines that err together.
    """
    block = max(ceil(100 / (1 - coverage)), 10_000)
    generator = np.random.default_rng(seed)
    drawn: list[Array] = []
    figures: list[tuple[float, float, float, float]] = []
    while True:
        results = _results(model, lines, block, generator, correlations)
        drawn.append(results)
        figures.append(
            (float(results.mean()), float(results.std(ddof=1)), *shortest_interval(results, coverage))
        )
        u = float(np.concatenate(drawn).std(ddof=1))
        spread = (
            np.std(figures, axis=0, ddof=1) / sqrt(len(figures)) if len(figures) > 1 else np.array([np.inf])
        )
        settled = bool(np.all(2 * spread < numerical_tolerance(u, digits)))
        if settled or (len(drawn) + 1) * block > most_trials:
            break
    together = np.concatenate(drawn)
    low, high = shortest_interval(together, coverage)
    return Simulated(
        float(together.mean()), float(together.std(ddof=1)), low, high, coverage, len(together), settled
    )


def shortest_interval(results: Array, coverage: float) -> tuple[float, float]:
    """The shortest interval that holds a fraction of the results (JCGM 101:2008, 5.3.4, 7.7)."""
    ordered = np.sort(results)
    width = min(floor(coverage * len(ordered) + 0.5), len(ordered) - 1)
    lengths = ordered[width:] - ordered[: len(ordered) - width]
    start = int(np.argmin(lengths))
    return float(ordered[start]), float(ordered[start + width])


def numerical_tolerance(u: float, digits: int = 2) -> float:
    """Half a unit in the last of the significant digits of u (JCGM 101:2008, 7.9.2); 0 when u is 0."""
    if u <= 0:
        return 0.0
    return float(0.5 * 10.0 ** (floor(log10(u)) - digits + 1))


def compare(stated: Expanded, simulated: Simulated, digits: int = 2) -> Comparison:
    """Lay the law of propagation beside the simulation and say whether it may be used (JCGM 101:2008, 8.1).

    Args:
        stated: The result by the law, for the same coverage.
        simulated: The result by simulation.
        digits: Significant digits of u that must agree.
    """
    low, high = stated.low - simulated.low, stated.high - simulated.high
    tolerance = numerical_tolerance(stated.u, digits)
    agree = abs(low) <= tolerance and abs(high) <= tolerance
    said = (
        "the law of propagation and the simulation agree"
        if agree
        else "the law of propagation and the simulation differ: state the simulation's interval"
    )
    return Comparison(low, high, stated.u - simulated.u, tolerance, agree, said)


def _enough(trials: int, coverage: float) -> None:
    if not 0 < coverage < 1:
        raise ValueError(f"coverage must lie between 0 and 1, got {coverage}")
    least = ceil(100 / (1 - coverage))
    if trials < least:
        raise ValueError(f"{trials} trials are too few for {coverage:.0%} coverage: {least} or more are due")


def _results(
    model: Model,
    lines: Sequence[Contribution],
    trials: int,
    generator: np.random.Generator,
    correlations: Sequence[Correlation],
) -> Array:
    columns = {line.name: draw(line, trials, generator) for line in lines}
    if correlations:
        columns |= _together(lines, trials, generator, correlations)
    results = np.asarray(model(*columns.values()), dtype=float)
    if results.shape != (trials,):
        raise ValueError(f"the model gave results of shape {results.shape} where ({trials},) was due")
    return results


def _together(
    lines: Sequence[Contribution],
    trials: int,
    generator: np.random.Generator,
    correlations: Sequence[Correlation],
) -> dict[str, Array]:
    """Draws of the normal lines that err together (JCGM 101:2008, 6.4.8)."""
    known = {line.name: line for line in lines}
    names = sorted({name for pair in correlations for name in (pair.first, pair.second)})
    for name in names:
        if name not in known or known[name].distribution != "normal":
            raise ValueError(f"{name!r} is correlated, so it must be one of the lines and normal")
    r = np.eye(len(names))
    for pair in correlations:
        i, j = names.index(pair.first), names.index(pair.second)
        r[i, j] = r[j, i] = pair.r
    values, vectors = np.linalg.eigh(r)
    if values[0] < -1e-9:
        raise ValueError("these correlations cannot all be true at once: check their signs and sizes")
    root = vectors * np.sqrt(np.clip(values, 0, None))
    z = generator.standard_normal((trials, len(names))) @ root.T
    return {name: known[name].value + known[name].spread * z[:, i] for i, name in enumerate(names)}
