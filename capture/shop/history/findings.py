"""What has changed over months: a gauge drifts, a wheel loses its bite sooner, a machine warms more."""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt
from statistics import median
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
"""Change over the whole time from which on it is reported, in the quantity's own unit.

As much as a gauge may drift between two masterings (the setting `masters.drift`), a hundredth of its bite a
pass, 2 µm of growth, and twice what share and gain differ by from job to job anyway
(`capture.analysis.grind.machine_memory`); common practice, no source.
"""
ONE_WAY: Final = frozenset({"wheel-glazes", "machine-warms"})
"""Where only an increase is worth reporting."""

WANDER: Final = 0.4
"""Share of `ENOUGH` by which lots of wheels, a calibration or the season shift a steady thing, as a standard
deviation (common practice, no source)."""
LOT: Final = 6.0
"""Months that such a shift lasts (common practice, no source)."""
SIGMAS: Final = 3.0
"""Times the uncertainty that a change must be: a shop looks at hundreds of things at once."""
ENOUGH_ALIKE: Final = 8
"""Series of one kind from which on their own spread shows how far steady things wander."""
SIGMAS_OF_99: Final = 2.576
"""Half the width of a 99 % interval of a normal distribution."""
MAD: Final = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""


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
    """A change that is sure and large enough to be reported."""

    what: What
    of: str
    trend: LongTrend


class JudgedChanges(Struct, frozen=True):
    """The changes worth reporting, and those that would be if they were watched for longer."""

    found: list[HistoryFinding]
    """The largest first, against what matters."""
    undecided: list[HistoryFinding]
    """Sure by the jobs, and no more than lots of wheels, calibrations and seasons shift in as many months."""


def judged_changes(series: Iterable[Series]) -> JudgedChanges:
    """What has changed, and what cannot yet be distinguished from shifts that come and go.

    The jobs of one series show their own scatter, and no lot, calibration or season that lasts as long as
    they do. A line through n independent shifts of standard deviation w, spread evenly over a time, ends
    ``w sqrt(12 / n)`` away from where it begins (least squares; n = 1 + months / `LOT`); or as far as series
    of the same kind lie apart, where there are enough of them and that is less.
    """
    known = [(one, found) for one in series if (found := trend(one.days, one.values)) is not None]
    alike: dict[What, list[float]] = {}
    for one, found in known:
        alike.setdefault(one.what, []).append(abs(found.change))
    sure: list[HistoryFinding] = []
    undecided: list[HistoryFinding] = []
    for one, found in known:
        if not worth_saying(one.what, found):
            continue
        changes = alike[one.what]
        wander = WANDER * ENOUGH[one.what] * sqrt(12.0 / (1.0 + found.months / LOT))
        if len(changes) >= ENOUGH_ALIKE:
            wander = min(wander, MAD * median(changes))
        by_jobs = (found.high - found.low) * found.months / 2.0 / SIGMAS_OF_99
        plain = abs(found.change) > SIGMAS * max(by_jobs, wander)
        half = SIGMAS_OF_99 * wander / found.months
        known_so = replace(
            found,
            jobs=one.jobs or found.jobs,
            low=min(found.low, found.slope - half),
            high=max(found.high, found.slope + half),
        )
        (sure if plain else undecided).append(HistoryFinding(one.what, one.of, known_so))
    return JudgedChanges(*(sorted(each, key=lambda one: -_plainness(one)) for each in (sure, undecided)))


def findings_of(series: Iterable[Series]) -> list[HistoryFinding]:
    """The changes worth reporting, the largest first."""
    return judged_changes(series).found


def worth_saying(what: What, known: LongTrend) -> bool:
    """Whether a change is sure by its jobs, large enough and of the kind that matters."""
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
