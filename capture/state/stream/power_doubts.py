"""What is wrong with gauges of power: it stops in a pass, never moves, or shows what no drive does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from capture.events import Event, Flag, Instant
from capture.sheet.job import Gauge, Job
from capture.state.stations import StationReading, Stations
from capture.state.stream.power_gauge import LOST, PowerGauge, Powers

STOPPED, STILL, SCALE = "power-stopped", "power-still", "power-scale"
MOST_SHARE = 200.0
"""% of what a drive is rated at, beyond which it shows something else (common practice, no source)."""
MOST_WATTS = 1e6
"""No grinder's spindle takes a megawatt (common practice, no source)."""
BELOW = 0.05
"""Share of the largest power under nothing that a drive may show (common practice, no source)."""
CLEARLY = 0.002
"""mm by which a part must have become smaller for the wheel to have cut (common practice, no source)."""


def flags(
    powers: Powers, job: Job, raised: Mapping[str, Event], at: Instant, stations: Stations
) -> Iterator[Flag]:
    """What is wrong with gauges of power; named once each time that it comes."""
    for name, one in powers.items():
        gauge = job.gauge(name)
        if gauge is None:
            continue
        last = one.bumps.last
        said = raised.get(f"{STOPPED}:{name}")
        stopped = one.may_cut and last is not None and at.seconds - last > LOST
        if stopped and (said is None or said.at.seconds < (last or 0.0)):
            yield Flag(STOPPED, 0, (), {"came": LOST}, gauge=name)
        if f"{SCALE}:{name}" not in raised and (off := _off_scale(one, gauge)) is not None:
            yield Flag(SCALE, 0, (), {"value": off}, {"unit": gauge.unit}, gauge=name)
        if f"{STILL}:{name}" not in raised and (smaller := _smaller(one, stations)) is not None:
            yield Flag(STILL, 0, (smaller.seq,), gauge=name)


def _off_scale(one: PowerGauge, gauge: Gauge) -> float | None:
    """What it showed that no drive takes."""
    low, high = one.lowest, one.highest
    if low is None or high is None or one.bumps.noise is None:
        return None
    if high > (MOST_SHARE if gauge.unit == "%" else MOST_WATTS):
        return high
    return low if low < -BELOW * max(high, 0.0) and low < -1.0 else None


def _smaller(one: PowerGauge, stations: Stations) -> StationReading | None:
    """The size that shows that the wheel has cut while the power stood still."""
    if one.passes.count or one.may_cut or one.bumps.noise is None:
        return None
    newest = next((each for each in reversed(stations.taken) if each.part == "shaft"), None)
    if newest is None:
        return None
    same = [
        each
        for each in stations.taken
        if each.part == "shaft" and each.place == newest.place and each.stage == newest.stage
    ]
    return newest if same[0].value - newest.value > CLEARLY else None
