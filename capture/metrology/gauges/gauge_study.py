"""Gauge studies: bias and linearity, and repeatability and reproducibility with several people.

Methods and constants of AIAG, Measurement Systems Analysis, 4th ed., in the form without
5.15: every figure is a standard deviation. The constants of the range method are not
looked up but worked out for any number of people, parts and trials, then rounded to four
decimals as the printed table has them, so that a sheet worked by hand agrees.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from functools import lru_cache
from math import fsum, hypot, inf, sqrt
from typing import Literal

import numpy as np
from msgspec import Struct
from scipy.special import fdtrc, ndtr, stdtr

from capture.metrology.gauges.repeatability import SampleSummary, sample
from capture.metrology.uncertainty.regression import RegressionLine, straight_line

POOL_ABOVE = 0.25
"""Probability above which the interaction of people and parts is taken as repeatability (AIAG practice)."""


class Trial(Struct, frozen=True):
    """One reading of a study."""

    part: str
    person: str
    value: float


class Study(Struct, frozen=True):
    """Repeatability and reproducibility, all as standard deviations in the unit of the readings."""

    method: Literal["variance", "range"]
    people: int
    parts: int
    trials: int
    EV: float
    """Equipment variation: repeatability."""
    AV: float
    """Appraiser variation: reproducibility, with `interaction` where that is counted."""
    interaction: float | None
    """Of people with parts; ``None`` by ranges, 0 where it was pooled."""
    GRR: float
    PV: float
    """Part variation."""
    TV: float
    """Total variation."""
    percent: float | None
    """GRR in per cent of TV; ``None`` where nothing varies."""
    ndc: int | None
    """Number of distinct categories, ``1.41 PV / GRR`` cut down; ``None`` where GRR is 0."""
    F_interaction: float | None = None
    p_interaction: float | None = None
    mean_range: float | None = None
    """Mean range of a person's trials on a part."""
    range_of_people: float | None = None
    range_of_parts: float | None = None

    def of_tolerance(self, width: float) -> float:
        """Six GRR in per cent of a tolerance."""
        return 600 * self.GRR / width


class Bias(Struct, frozen=True):
    """Bias against one master."""

    reference: float
    readings: SampleSummary
    bias: float
    u: float | None
    """Standard uncertainty of the bias by the readings' scatter; ``None`` for one reading."""
    p: float | None
    """Probability of such a bias, or a larger one, in a gauge that has none."""


class Linearity(Struct, frozen=True):
    """How bias changes with size: a line through every single deviation."""

    biases: tuple[Bias, ...]
    line: RegressionLine
    """Bias against reference; `line.at(size)` is the bias predicted for a size."""
    p_slope: float | None
    """Probability of such a slope in a gauge whose bias is the same at every size."""
    p_intercept: float | None


def bias(reference: float, readings: Sequence[float]) -> Bias:
    """Bias of readings on a master of known size, tested by Student's t (AIAG MSA 4th ed., III.B)."""
    found = sample([each - reference for each in readings])
    p = None
    if found.u:
        p = 2 * float(stdtr(found.n - 1, -abs(found.mean) / found.u))
    return Bias(reference, sample(readings), found.mean, found.u, p)


def linearity(readings: Mapping[float, Sequence[float]]) -> Linearity:
    """Bias at several masters and the line through it (AIAG MSA 4th ed., III.B).

    Args:
        readings: Readings by the size of the master they were taken on; two masters or more.

    Raises:
        ValueError: fewer than two masters, or one without readings.
    """
    biases = tuple(bias(reference, group) for reference, group in sorted(readings.items()))
    x = [reference for reference, group in sorted(readings.items()) for _ in group]
    y = [each - reference for reference, group in sorted(readings.items()) for each in group]
    line = straight_line(x, y)
    return Linearity(
        biases,
        line,
        _two_sided(line.slope, line.u_slope, line.dof),
        _two_sided(line.intercept, line.u_intercept, line.dof),
    )


def by_variance(trials: Sequence[Trial], *, pool_above: float = POOL_ABOVE) -> Study:
    """Repeatability and reproducibility by two-way analysis of variance (AIAG MSA 4th ed., III.B, Table A.3).

    Args:
        trials: Every person reads every part equally often, two times or more.
        pool_above: Probability of the interaction above which it counts as repeatability.

    Raises:
        ValueError: one person, one part, one trial, or a reading too many or too few.
    """
    table = _table(trials)
    k, n, r = table.shape
    away = table - table.mean()
    people, parts, cells = away.mean(axis=(1, 2)), away.mean(axis=(0, 2)), away.mean(axis=2)
    ms_people = n * r * float(people @ people) / (k - 1)
    ms_parts = k * r * float(parts @ parts) / (n - 1)
    ss_both = r * float(np.sum((cells - people[:, None] - parts[None, :]) ** 2))
    ss_within = float(np.sum((away - cells[:, :, None]) ** 2))
    df_both, df_within = (k - 1) * (n - 1), k * n * (r - 1)
    ms_both, ms_within = ss_both / df_both, ss_within / df_within
    ratio = ms_both / ms_within if ms_within > 0 else None
    p = None if ratio is None else float(fdtrc(df_both, df_within, ratio))
    pooled = p is not None and p > pool_above
    if pooled:
        ms_within = ms_both = (ss_both + ss_within) / (df_both + df_within)
    interaction = sqrt(max(ms_both - ms_within, 0.0) / r)
    person = sqrt(max(ms_people - ms_both, 0.0) / (n * r))
    return _study(
        "variance",
        (k, n, r),
        ev=sqrt(ms_within),
        av=hypot(person, interaction),
        pv=sqrt(max(ms_parts - ms_both, 0.0) / (k * r)),
        interaction=interaction,
        F_interaction=ratio,
        p_interaction=p,
    )


def by_ranges(trials: Sequence[Trial]) -> Study:
    """Repeatability and reproducibility by averages and ranges (AIAG MSA 4th ed., III.B).

    Constants are ``1/d2`` of the trials for EV and ``1/d2*`` of a single range for people and
    parts: K1 = 0.8862 and 0.5908, K2 = 0.7071 and 0.5231, K3 = 0.3146 in the printed table.

    Raises:
        ValueError: as `by_variance`.
    """
    table = _table(trials)
    k, n, r = table.shape
    ranges = np.ptp(table, axis=2)
    mean_range = float(ranges.mean())
    of_people = float(np.ptp(table.mean(axis=(1, 2))))
    of_parts = float(np.ptp(table.mean(axis=(0, 2))))
    ev = mean_range * round(1 / mean_range_factor(r, inf), 4)
    av = sqrt(max((of_people * round(1 / mean_range_factor(k, 1), 4)) ** 2 - ev**2 / (n * r), 0.0))
    return _study(
        "range",
        (k, n, r),
        ev=ev,
        av=av,
        pv=of_parts * round(1 / mean_range_factor(n, 1), 4),
        mean_range=mean_range,
        range_of_people=of_people,
        range_of_parts=of_parts,
    )


@lru_cache(maxsize=64)
def mean_range_factor(size: int, samples: float) -> float:
    """The divisor d2* that makes a standard deviation of a mean range: ``sqrt(d2^2 + d3^2 / samples)``.

    Source: Duncan, Quality Control and Industrial Statistics, Table D3; d2 and d3 are the mean and
    standard deviation of the range of normal readings, by quadrature.

    Args:
        size: Readings in each range, 2 or more.
        samples: Ranges that were averaged; infinite for the plain d2.
    """
    if size < 2 or not samples >= 1:
        raise ValueError(f"a range needs two readings and one sample or more, got {size} and {samples}")
    x = np.linspace(-8.5, 8.5, 1701)
    step = float(x[1] - x[0])
    below = np.asarray(ndtr(x), dtype=float)
    d2 = step * fsum((1 - below**size - (1 - below) ** size).tolist())
    low, high = below[:, None], below[None, :]
    # The integrand is even about its diagonal, where it is 1 - F^n - (1-F)^n: half the square will do.
    square = 1 - high**size - (1 - low) ** size + np.abs(high - low) ** size
    upper = float(np.triu(square, 1).sum() + 0.5 * np.trace(square))
    variance = 2 * step**2 * upper - d2**2
    return sqrt(d2**2 + variance / samples)


def _two_sided(value: float, u: float | None, dof: int) -> float | None:
    return 2 * float(stdtr(dof, -abs(value) / u)) if u else None


def _table(trials: Sequence[Trial]) -> np.ndarray[tuple[int, int, int], np.dtype[np.float64]]:
    """Readings by person, part and trial, as deviations from the first; refuses what is not balanced."""
    cells: dict[tuple[str, str], list[float]] = defaultdict(list)
    for each in trials:
        cells[each.person, each.part].append(each.value - trials[0].value)
    people = list(dict.fromkeys(each.person for each in trials))
    parts = list(dict.fromkeys(each.part for each in trials))
    if len(people) < 2 or len(parts) < 2:
        raise ValueError(
            f"a study needs two people and two parts or more, got {len(people)} and {len(parts)}"
        )
    due = len(cells[people[0], parts[0]])
    for person in people:
        for part in parts:
            got = len(cells[person, part])
            if got != due or due < 2:
                raise ValueError(
                    f"{person} read part {part} {got} times where {max(due, 2)} were due: "
                    "every person reads every part equally often, twice or more"
                )
    flat = [cells[person, part] for person in people for part in parts]
    return np.array(flat, dtype=float).reshape(len(people), len(parts), due)


def _study(
    method: Literal["variance", "range"],
    shape: tuple[int, int, int],
    *,
    ev: float,
    av: float,
    pv: float,
    interaction: float | None = None,
    F_interaction: float | None = None,
    p_interaction: float | None = None,
    mean_range: float | None = None,
    range_of_people: float | None = None,
    range_of_parts: float | None = None,
) -> Study:
    grr = hypot(ev, av)
    tv = hypot(grr, pv)
    return Study(
        method,
        *shape,
        EV=ev,
        AV=av,
        interaction=interaction,
        GRR=grr,
        PV=pv,
        TV=tv,
        percent=100 * grr / tv if tv else None,
        ndc=int(1.41 * pv / grr) if grr else None,
        F_interaction=F_interaction,
        p_interaction=p_interaction,
        mean_range=mean_range,
        range_of_people=range_of_people,
        range_of_parts=range_of_parts,
    )
