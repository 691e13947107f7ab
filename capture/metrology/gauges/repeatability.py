"""Repeatability: how far readings of one thing scatter, and how far groups of readings differ.

Everything is worked on deviations from the first reading with exact summation, so
that microns on a large diameter lose nothing (NIST StRD NumAcc and SmLs data sets).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt

from msgspec import Struct
from scipy.special import fdtrc


class SampleSummary(Struct, frozen=True):
    """Readings of one thing, summed up."""

    n: int
    mean: float
    sd: float | None
    """Standard deviation of one reading; ``None`` for a single reading."""
    u: float | None
    """Standard uncertainty of the mean (GUM 4.2.3)."""
    range: float


class Anova(Struct, frozen=True):
    """One-way analysis of variance: within groups and between them."""

    groups: int
    n: int
    mean: float
    ss_between: float
    ss_within: float
    df_between: int
    df_within: int
    F: float | None
    """``None`` where there is no scatter within groups at all."""
    p: float | None
    """Probability of such an F, or a larger one, when the groups do not differ."""
    s_within: float
    """Repeatability: standard deviation of one reading within a group."""
    s_between: float
    """Standard deviation of what differs between groups; 0 where the scatter within explains it."""
    u: float
    """Standard uncertainty of the overall mean, groups taken as the independent draws (GUM H.5.2)."""


def sample(readings: Sequence[float]) -> SampleSummary:
    """Mean, standard deviation and uncertainty of the mean.

    >>> sample([10000001, 10000003, 10000002]).sd
    1.0
    """
    if not readings:
        raise ValueError("a sample needs one reading or more, got none")
    first, n = readings[0], len(readings)
    away = [each - first for each in readings]
    shift = fsum(away) / n
    sd = None
    if n > 1:
        rest = [each - shift for each in away]
        sd = sqrt(max(fsum(each * each for each in rest) - fsum(rest) ** 2 / n, 0.0) / (n - 1))
    return SampleSummary(
        n, fsum(readings) / n, sd, None if sd is None else sd / sqrt(n), max(readings) - min(readings)
    )


def pooled_sd(sds: Sequence[float], counts: Sequence[int]) -> float:
    """One standard deviation from several samples, weighted by their degrees of freedom (GUM 4.2.4, H.3.6).

    Args:
        sds: Standard deviation of each sample.
        counts: Readings in each, two or more.
    """
    if not sds or len(sds) != len(counts) or min(counts) < 2:
        raise ValueError("pooling needs a standard deviation and a count of two or more for each sample")
    return sqrt(fsum((n - 1) * s * s for s, n in zip(sds, counts, strict=True)) / fsum(n - 1 for n in counts))


def one_way(groups: Sequence[Sequence[float]]) -> Anova:
    """Analysis of variance of groups of readings, which may differ in size.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3.

    Raises:
        ValueError: fewer than two groups, an empty one, or no group with two readings.
    """
    if len(groups) < 2 or not all(groups) or max(map(len, groups)) < 2:
        raise ValueError(
            "an analysis of variance needs two groups or more, none empty, one with two readings"
        )
    first = groups[0][0]
    away = [[each - first for each in group] for group in groups]
    means = [fsum(group) / len(group) for group in away]
    within = fsum((each - m) ** 2 for group, m in zip(away, means, strict=True) for each in group)
    return _anova(first, means, [len(group) for group in groups], within)


def one_way_of_summaries(means: Sequence[float], sds: Sequence[float], readings: int) -> Anova:
    """The same from the mean and standard deviation of each group, all of equal size (GUM H.5.2)."""
    if len(means) < 2 or len(means) != len(sds) or readings < 2:
        raise ValueError(
            "needs two groups or more, each with its mean and standard deviation of two readings"
        )
    first = means[0]
    within = fsum((readings - 1) * s * s for s in sds)
    return _anova(first, [each - first for each in means], [readings] * len(means), within)


def _anova(first: float, means: Sequence[float], counts: Sequence[int], within: float) -> Anova:
    n, k = sum(counts), len(counts)
    grand = fsum(c * m for c, m in zip(counts, means, strict=True)) / n
    between = fsum(c * (m - grand) ** 2 for c, m in zip(counts, means, strict=True))
    df_b, df_w = k - 1, n - k
    ms_b, ms_w = between / df_b, within / df_w
    ratio = ms_b / ms_w if ms_w > 0 else None
    each = (n - fsum(c * c for c in counts) / n) / df_b
    return Anova(
        groups=k,
        n=n,
        mean=first + grand,
        ss_between=between,
        ss_within=within,
        df_between=df_b,
        df_within=df_w,
        F=ratio,
        p=None if ratio is None else float(fdtrc(df_b, df_w, ratio)),
        s_within=sqrt(ms_w),
        s_between=sqrt(max(ms_b - ms_w, 0.0) / each),
        u=sqrt(ms_b / n),
    )
