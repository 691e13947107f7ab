"""The infeed gauge on the saddle: how far the wheel has been fed since the last size was taken."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Reading
from capture.sheet.job import Gauge, Job
from capture.state.stations import step_of


class Infeed(Struct, frozen=True):
    """Where the wheel head stands, in the gauge's own habit (radius or diameter), mm; + is into the part."""

    now: float | None = None
    at_take: float | None = None
    """Where it stood when the last size was taken."""
    deepest: float | None = None
    """The furthest in that it has been since then."""
    shallowest: float | None = None
    """The furthest back."""
    resolution: float = 0.0


def step(state: Infeed, gauge: Gauge, reading: Reading) -> Infeed:
    """After one reading of the infeed gauge."""
    now = -reading.value if gauge.sign == "-" else reading.value
    return Infeed(
        now=now,
        at_take=now if state.at_take is None else state.at_take,
        deepest=now if state.deepest is None else max(state.deepest, now),
        shallowest=now if state.shallowest is None else min(state.shallowest, now),
        resolution=step_of(gauge, reading),
    )


def rested(state: Infeed) -> Infeed:
    """A size was taken: what is fed from here on belongs to the next pass."""
    return replace(state, at_take=state.now, deepest=state.now, shallowest=state.now)


def fed(state: Infeed, job: Job) -> float | None:
    """Infeed since the last size, mm on diameter; None where no gauge has spoken."""
    if state.now is None or state.at_take is None:
        return None
    factor = 2.0 if job.grinder is not None and job.grinder.dial == "radius" else 1.0
    return (state.now - state.at_take) * factor


def moved(state: Infeed) -> bool:
    """Whether the head has moved since the last size: fed, or taken back and brought in again."""
    if state.deepest is None or state.shallowest is None:
        return False
    return state.deepest - state.shallowest > 1.5 * state.resolution
