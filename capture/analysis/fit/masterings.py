"""Masterings of a recording: each gauge's error on its master, and a reading between two checks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from math import sqrt

from msgspec import Struct

from capture.metrology.gauges.mastering import MasterCheck, correction, far_from_master, runs
from capture.metrology.message import Message, message
from capture.sheet.job import Job
from capture.state.session import State
from capture.state.stations import StationReading, Zero


class CorrectedReading(Struct, frozen=True):
    """A reading with the gauge's error taken off as both neighbouring checks have it."""

    value: float
    """mm."""
    on_master: bool
    """Whether the gauge was ever on a master in this recording."""
    u_in_force: float = 0.0
    """What the mastering in force put into the reading's own uncertainty when it was taken, mm."""
    u_master: float = 0.0
    u_zero: float = 0.0
    u_drift: float = 0.0
    far: bool = False
    """So far from the master that the gauge's own error comes in."""
    size: float = 0.0
    """Of the master, mm."""
    note: str = ""
    exceeded: Message | None = None
    """Names the run with too much drift that the reading lies in."""


def zeros_of(state: State) -> list[tuple[str, Zero]]:
    """Every mastering of the recording that has a reading, in order, with its gauge."""
    found = [(gauge, zero) for gauge, zero in state.stations.zero_log if zero.n]
    on = state.stations.mastering
    if on is not None and state.stations.zeros[on].n:
        found.append((on, state.stations.zeros[on]))
    return found


def checks_of(state: State) -> dict[str, list[Zero]]:
    """The masterings by gauge."""
    found: dict[str, list[Zero]] = defaultdict(list)
    for gauge, zero in zeros_of(state):
        found[gauge].append(zero)
    return dict(found)


def check(zero: Zero, resolution: float) -> MasterCheck:
    """A mastering as one check: the mean of its readings, and how well they tell it."""
    scatter = sqrt(zero.m2 / (zero.n - 1) / zero.n) if zero.n > 1 else resolution / 2
    # A sweep is the mean of several turning points: it states itself how well it knows the master.
    u_reading = zero.u_sweep if zero.n == 1 and zero.u_sweep else max(scatter, resolution / sqrt(12))
    return MasterCheck(
        at=zero.at.seconds,
        reading=zero.size - zero.mean,
        size=zero.size,
        u_reading=u_reading,
        u_master=zero.u_size,
    )


def mastered(reading: StationReading, job: Job, checks: Mapping[str, Sequence[Zero]]) -> CorrectedReading:
    """The reading with its gauge's error interpolated between the checks before and after it."""
    zeros = checks.get(reading.gauge, ())
    if not zeros:
        return CorrectedReading(reading.value, on_master=False)
    limits = job.settings.masters
    listed = [check(zero, reading.resolution) for zero in zeros]
    found = correction(listed, reading.at.seconds, most_drift=limits.drift)
    if found is None:
        return CorrectedReading(reading.value, on_master=False)
    in_force = next((zero for zero in reversed(zeros) if zero.at <= reading.at), None)
    gauge = job.gauge(reading.gauge)
    if in_force is not None:
        shown = reading.value - in_force.mean
    else:
        shown = reading.value - (gauge.zero if gauge is not None else 0.0)
    value = shown - found.error
    near = min(zeros, key=lambda zero: abs(zero.at.mono - reading.at.mono))
    at = reading.at.seconds
    over = [
        run for run in runs(listed, most_drift=limits.drift) if run.exceeded and run.start <= at <= run.end
    ]
    return CorrectedReading(
        value=value,
        on_master=True,
        u_in_force=in_force.u if in_force is not None else 0.0,
        u_master=found.u_master,
        u_zero=found.u_zero,
        u_drift=found.u_drift,
        far=far_from_master(value, near.size, farthest=limits.farthest),
        size=near.size,
        note=found.note,
        exceeded=message("drift.of", gauge=reading.gauge, run=over[0].said) if over else None,
    )
