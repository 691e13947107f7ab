"""What is wrong with gauges that ride on the part: off it, silent, not set, in another's place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from capture.events import Event, Flag, Instant
from capture.sheet.job import Gauge, Job
from capture.state.stream.ride_gauge import Rides

LIFTED = 10
"""Seconds off the part after which it is said."""
STOPPED = 3.0
"""Seconds without a word in the middle of a pass after which it is said."""


def flags(rides: Rides, job: Job, raised: Mapping[str, Event], at: Instant) -> Iterator[Flag]:
    """What is wrong with gauges that ride; named once each time that it comes."""
    for name, one in rides.items():
        gauge, stream = job.gauge(name), one.stream
        if gauge is None:
            continue
        said = raised.get(f"ride-lifted:{name}")
        off = one.off_since
        if off is not None and (at.mono - off.mono) / 1e9 > LIFTED and (said is None or said.at < off):
            yield Flag("ride-lifted", 0, (stream.last_seq,), {"came": LIFTED}, gauge=name)
        if one.differs is not None:
            said = raised.get(f"ride-differs:{name}")
            if said is None or said.seq < one.checked:
                yield Flag(
                    "ride-differs",
                    0,
                    (one.checked,),
                    {"apart": one.differs},
                    {"unit": job.units},
                    gauge=name,
                )
        if stream.phase == "cutting" and stream.times:
            last = Instant(int(stream.times[-1] * 1e9), 0)
            said = raised.get(f"ride-stopped:{name}")
            if at.seconds - last.seconds > STOPPED and (said is None or said.at.mono < last.mono):
                yield Flag("ride-stopped", 0, (stream.last_seq,), {"came": STOPPED}, gauge=name)
        if stream.count == 1 and not one.sets and f"ride-unset:{name}" not in raised:
            yield Flag("ride-unset", 0, (stream.last_seq,), gauge=name)
        twin = _twin(name, gauge, rides, job)
        if twin is not None and f"ride-twice:{name}" not in raised:
            yield Flag("ride-twice", 0, (), {}, {"other": twin}, gauge=name)


def _twin(name: str, gauge: Gauge, rides: Rides, job: Job) -> str | None:
    """Another gauge before it on the sheet that is said to ride at the same place."""
    for other in job.gauges:
        if other.name == name:
            return None
        if other.rides is not None and other.rides == gauge.rides and other.name in rides:
            return other.name
    return None
