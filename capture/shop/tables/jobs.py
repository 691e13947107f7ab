"""What a recording shows as a whole: one row of the table of jobs, and one for each of its gauges."""

from __future__ import annotations

from math import log, sqrt
from statistics import median
from typing import Final

from msgspec import Struct

from capture.analysis.grind.machine_memory import shown
from capture.events import Dress, Flag, Pass
from capture.shop.tables.rows import clean
from capture.state.grinding.passes import PassRow
from capture.state.session import State

FEWEST: Final = 2
"""Passes in a third of those whose share is judged, from which on its fall is worked out."""


class JobRow(Struct, frozen=True):
    """A recording in one row; lengths in mm, None where it does not show it."""

    events: int
    passes: int
    verdict: str
    """The last verdict on the grinding; empty where there was none."""
    size: float | None
    """The last size of the shaft at 20 °C that was judged."""
    u_size: float | None
    share: float | None
    """What one pass of the fresh wheel took of what was still to come."""
    u_share: float | None
    gain: float | None
    """What a diameter got of an infeed; less than 1 by wheel wear and the dial."""
    u_gain: float | None
    scatter: float | None
    """Standard deviation of one reading."""
    growth: float | None
    """How much the part grew by heat while it was ground, where a probe saw it."""
    fresh_passes: int | None
    """Passes of a fresh wheel until it took next to nothing; else the most that one made."""
    glazed: bool | None
    """Whether a wheel took next to nothing."""
    bite_loss: float | None
    """By how much of itself the share of a pass became less from each pass to the next."""


class GaugeSummary(Struct, frozen=True):
    """A gauge of one recording."""

    gauge: str
    measures: str
    readings: int
    garbled: int
    downs: int
    correction: float | None
    """What its readings needed added, as its last mastering showed."""
    u_correction: float | None


def job_row(state: State) -> JobRow:
    """The row of a recording by its state at the end."""
    rows = list(state.grind.passes)
    outlook = next((row.outlook for row in reversed(rows) if row.outlook is not None), None)
    known = shown(state)
    flag = state.raised.get("verdict")
    fresh, glazed = _fresh(state)
    return JobRow(
        state.seq + 1,
        len(rows),
        clean(flag.fact.what) if flag is not None and isinstance(flag.fact, Flag) else "",
        None if outlook is None else outlook.size,
        None if outlook is None else outlook.u_size,
        None if known is None else known.share,
        None if known is None else known.u_share,
        None if known is None else known.gain,
        None if known is None else known.u_gain,
        None if known is None else known.scatter,
        _growth(rows),
        fresh,
        glazed,
        _bite_loss(rows),
    )


def gauge_rows(state: State) -> list[GaugeSummary]:
    """A row for each gauge of the sheet that sent anything."""
    found = []
    for gauge in state.job.gauges:
        health, zero = state.health.get(gauge.name), state.stations.zeros.get(gauge.name)
        if health is None:
            continue
        correction = u = None
        if zero is not None and zero.n:
            correction = zero.mean
            spread = sqrt(zero.m2 / (zero.n - 1) / zero.n) if zero.n > 1 else gauge.repeatability or 0.0
            u = sqrt(zero.u_size**2 + (zero.u_sweep or spread) ** 2)
        counts = (health.readings, health.garbled, health.downs)
        found.append(GaugeSummary(clean(gauge.name), gauge.measures, *counts, correction, u))
    return found


def _growth(rows: list[PassRow]) -> float | None:
    seen = [row.growth for row in rows if row.evidence is not None and not row.assumed]
    return max(seen) - seen[0] if seen else None


def _bite_loss(rows: list[PassRow]) -> float | None:
    """Fall of the logarithm of the share a pass, by the medians of the first and last third of the passes."""
    shares = [
        (row.number, row.outlook.share) for row in rows if row.outlook is not None and row.outlook.share
    ]
    third = len(shares) // 3
    if third < FEWEST:
        return None
    early, late = shares[:third], shares[-third:]
    apart = median(number for number, _ in late) - median(number for number, _ in early)
    return log(median(share for _, share in early) / median(share for _, share in late)) / apart


def _fresh(state: State) -> tuple[int | None, bool | None]:
    """Passes that a fresh wheel made until it stalled, or the most that one made without."""
    made, dressed, longest = 0, 0, 0
    flags = (event for event in state.flags if isinstance(event.fact, Flag) and event.fact.what == "stalled")
    first = next((event.seq for event in flags), None)
    for entry in state.history:
        if first is not None and entry.event.seq > first:
            return made - dressed, True
        if entry.event.seq in state.aside:
            continue
        if isinstance(entry.event.fact, Pass):
            made += 1
        elif isinstance(entry.event.fact, Dress):
            dressed = made
        longest = max(longest, made - dressed)
    if first is not None:
        return made - dressed, True
    return (longest, False) if made else (None, None)
