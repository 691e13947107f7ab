"""Trials of ten years of a shop: what truly drifts, glazes or warms is found, and what only wanders is not.

Sixteen machines of a shop over ten years, 15 to 120 jobs a year each, fewer in summer, none over the
holidays. Of each quantity one thing in four changes; the rest stay as they are, and have what shops have:

- A gauge's correction: adjusted at each yearly calibration (0.3 µm), with the room's temperature over the
  year (0.3 µm), a wander of its own with a memory of 60 days (0.2 µm), and 0.3 µm of setting. A worn one
  loses 0.4 to 1.5 µm a year.
- A wheel's loss of bite: the diamond wears over four months and is turned (0.004 a pass), lots of wheels
  differ (0.003), jobs by 0.004. One that glazes sooner rises by 0.02 to 0.06 over its years.
- A machine's growth: 1 µm over the year with the room, longer parts more (by a factor of 0.6 to 1.6), 0.7 µm
  a job. One that warms more does so from some year on, by 0.8 to 3 µm a year.
- Share and gain: lots of wheels differ by 0.05 and 0.008, jobs by 0.05 and 0.01; worn bearings take 0.2 to
  0.4 and 0.04 to 0.1 over the years.

One job in fifty is wild by ten times the scatter. Everything is drawn from one seed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, get_args

import numpy as np
from msgspec import Struct

from capture.shop.history.findings import Series, findings_of
from capture.shop.tables.monthly import What

YEAR: Final = 365.25
YEARS: Final = 10
MACHINES: Final = 16
Array = np.ndarray


class YearsFigures(Struct, frozen=True):
    """What some shops came to, by quantity: how many there were, and of how many a change was reported."""

    changed: dict[str, tuple[int, int]]
    steady: dict[str, tuple[int, int]]


def _days(draw: np.random.Generator) -> Array:
    """Days of a machine's jobs: fewer in summer, none over the holidays."""
    count = int(draw.uniform(15, 120) * YEARS)
    days = np.sort(draw.uniform(0, YEARS * YEAR, 2 * count))
    of_year = np.mod(days, YEAR)
    busy = 0.75 + 0.25 * np.cos(2 * np.pi * of_year / YEAR)
    keep = (draw.uniform(size=len(days)) < busy * count / len(days) / 0.75) & (of_year < 355)
    return np.asarray(days[keep])


def _season(days: Array) -> Array:
    """1 in the middle of summer, -1 in winter."""
    return np.asarray(-np.cos(2 * np.pi * days / YEAR))


def _lots(days: Array, months: float, sd: float, draw: np.random.Generator) -> Array:
    """An offset for each lot, which lasts so many months."""
    lot = (days / (months * YEAR / 12)).astype(int)
    return np.asarray(draw.normal(0, sd, int(lot.max()) + 1)[lot])


def _wander(days: Array, memory: float, sd: float, draw: np.random.Generator) -> Array:
    out, last, before = np.empty(len(days)), draw.normal(0, sd), days[0]
    for number, day in enumerate(days):
        kept = np.exp(-(day - before) / memory)
        last = kept * last + draw.normal(0, sd * np.sqrt(1 - kept**2))
        out[number], before = last, day
    return out


def _gauge(days: Array, draw: np.random.Generator, *, changed: bool) -> Array:
    worn = draw.uniform(0.4e-3, 1.5e-3) * draw.choice([-1, 1]) * days / YEAR if changed else 0.0
    usual = _lots(days, 12, 0.3e-3, draw) + 0.3e-3 * draw.uniform(-1, 1) * _season(days)
    return np.asarray(worn + usual + _wander(days, 60, 0.2e-3, draw) + draw.normal(0, 0.3e-3, len(days)))


def _bite(days: Array, draw: np.random.Generator, *, changed: bool) -> Array:
    sooner = draw.uniform(0.02, 0.06) * days / days[-1] if changed else 0.0
    diamond = 0.004 * np.mod(days / (YEAR / 3) + draw.uniform(), 1.0)
    return np.asarray(
        0.01 + sooner + diamond + _lots(days, 5, 0.003, draw) + draw.normal(0, 0.004, len(days))
    )


def _growth(days: Array, draw: np.random.Generator, *, changed: bool) -> Array:
    since = draw.uniform(2, 7) * YEAR
    more = draw.uniform(0.8e-3, 3e-3) * np.maximum(days - since, 0) / YEAR if changed else 0.0
    part = draw.uniform(0.6, 1.6, len(days))
    return np.asarray(part * (0.003 + 1e-3 * _season(days) + more) + draw.normal(0, 0.7e-3, len(days)))


def _bearing(lot: float, job: float, least: float, most: float) -> Callable[..., Array]:
    def drawn(days: Array, draw: np.random.Generator, *, changed: bool) -> Array:
        worn = draw.uniform(least, most) * draw.choice([-1, 1]) * days / days[-1] if changed else 0.0
        return np.asarray(0.5 + worn + _lots(days, 4, lot, draw) + draw.normal(0, job, len(days)))

    return drawn


DRAWN: Final[dict[str, Callable[..., Array]]] = {
    "gauge-drifts": _gauge,
    "wheel-glazes": _bite,
    "machine-warms": _growth,
    "share-changes": _bearing(0.05, 0.05, 0.2, 0.4),
    "wear-changes": _bearing(0.008, 0.01, 0.04, 0.1),
}


def shop_of(seed: int, years: float = YEARS) -> tuple[list[Series], set[tuple[str, str]]]:
    """The last *years* of ten of a shop, and what of it truly changes."""
    draw = np.random.default_rng([seed, 19])
    series: list[Series] = []
    true: set[tuple[str, str]] = set()
    whats: tuple[What, ...] = get_args(What)
    for what in whats:
        for machine in range(MACHINES):
            changed = machine % 4 == 0
            days = _days(draw)
            values = DRAWN[what](days, draw, changed=changed)
            wild = draw.uniform(size=len(days)) < 0.02
            values = values + wild * draw.normal(0, 10 * np.std(np.diff(values)), len(days))
            kept = days >= (YEARS - years) * YEAR
            of = f"thing {machine}"
            series.append(Series(what, of, tuple(days[kept]), tuple(values[kept])))
            if changed:
                true.add((what, of))
    return series, true


def figures(shops: int, *, seed: int = 70_000, years: float = YEARS) -> YearsFigures:
    """What is reported of so many shops."""
    changed = {what: [0, 0] for what in DRAWN}
    steady = {what: [0, 0] for what in DRAWN}
    for number in range(shops):
        series, true = shop_of(seed + number, years)
        said = {(one.what, one.of) for one in findings_of(series)}
        for one in series:
            counted = (changed if (one.what, one.of) in true else steady)[one.what]
            counted[0] += 1
            counted[1] += (one.what, one.of) in said
    return YearsFigures(
        {what: (n, found) for what, (n, found) in changed.items()},
        {what: (n, found) for what, (n, found) in steady.items()},
    )
