"""What has changed over months: a gauge drifts, a wheel loses its bite sooner, a machine warms more."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from capture.shop.history.trends import LongTrend, trend
from capture.shop.tables.monthly import What

ENOUGH: Final[dict[str, float]] = {
    "gauge-drifts": 0.001,
    "wheel-glazes": 0.01,
    "machine-warms": 0.002,
    "share-changes": 0.10,
    "wear-changes": 0.02,
}
"""Change over the whole time from which on it is said, in the quantity's own unit.

As much as a gauge may drift between two masterings (the setting `masters.drift`), a hundredth of its bite a
pass, 2 µm of growth, and twice what share and gain differ by from job to job anyway
(`capture.analysis.grind.machine_memory`); common practice, no source.
"""
ONE_WAY: Final = frozenset({"wheel-glazes", "machine-warms"})
"""Where only more is worth a word."""


class Series(Struct, frozen=True):
    """One quantity of one thing over its jobs."""

    what: What
    of: str
    """The machine, the wheel or the gauge."""
    days: tuple[float, ...]
    """Of each job, since 1970."""
    values: tuple[float, ...]
    jobs: int = 0
    """Behind the values, where these are put together by month; 0 where each is of one job."""


class HistoryFinding(Struct, frozen=True):
    """A change that is sure and large enough to be said."""

    what: What
    of: str
    trend: LongTrend


def findings_of(series: Iterable[Series]) -> list[HistoryFinding]:
    """The changes worth a word, the surest first."""
    found: list[HistoryFinding] = []
    for one in series:
        known = trend(one.days, one.values)
        if known is not None and one.jobs:
            known = replace(known, jobs=one.jobs)
        if known is not None and worth_saying(one.what, known):
            found.append(HistoryFinding(one.what, one.of, known))
    return sorted(found, key=lambda finding: -_plainness(finding))


def worth_saying(what: What, known: LongTrend) -> bool:
    """Whether a change is sure, large enough and of the kind that matters."""
    if not known.sure or abs(known.change) < ENOUGH[what]:
        return False
    return known.slope > 0.0 or what not in ONE_WAY


def _plainness(finding: HistoryFinding) -> float:
    return abs(finding.trend.change) / ENOUGH[finding.what]


def series_of(what: What, rows: Iterable[tuple[str, str, float, float, int]]) -> list[Series]:
    """Series by what they are of, from rows of machine, wheel or gauge, day, value and jobs behind it."""
    gathered: dict[str, tuple[list[float], list[float], list[int]]] = {}
    for machine, thing, day, value, jobs in rows:
        of = f"{machine} / {thing}" if thing else machine
        days, values, counts = gathered.setdefault(of, ([], [], []))
        days.append(float(day))
        values.append(float(value))
        counts.append(jobs)
    return [
        Series(what, of, tuple(days), tuple(values), sum(jobs) if sum(jobs) > len(jobs) else 0)
        for of, (days, values, jobs) in sorted(gathered.items())
    ]
