"""The indicator on the swivel table: how far the table was moved since its last movement was written down."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Instant, Reading
from capture.sheet.job import Gauge
from capture.state.stations import step_of

REST = 1_500_000_000
"""Nanoseconds that an indicator stands still before the table counts as set (common practice, no source)."""
STILL = 1.5
"""Steps of the indicator within which it stands still, and beyond which the table was moved."""


class Turning(Struct, frozen=True):
    """Where the table stands, mm where its movement is read, with the indicator's own sign."""

    now: float | None = None
    last_turn: float | None = None
    """Where it stood when its last movement was written down."""
    still: float | None = None
    """Where it has come to rest, or is just passing."""
    since: int = 0
    """When it came there, on the monotonic clock."""
    rests: bool = False
    """Whether it has stood still for `REST`."""
    resolution: float = 0.0
    """Smallest step that the indicator shows, mm."""


def step(state: Turning, gauge: Gauge, reading: Reading, at: Instant) -> Turning:
    """After one reading of the table's indicator."""
    now = -reading.value if gauge.sign == "-" else reading.value
    resolution = step_of(gauge, reading)
    stays = state.still is not None and abs(now - state.still) <= STILL * resolution
    return Turning(
        now=now,
        last_turn=now if state.last_turn is None else state.last_turn,
        still=state.still if stays else now,
        since=state.since if stays else at.mono,
        rests=stays and at.mono - state.since >= REST,
        resolution=resolution,
    )


def written(state: Turning) -> Turning:
    """A movement was written down: what comes is the next one."""
    return replace(state, last_turn=state.now)


def moved(state: Turning) -> float | None:
    """How far the table was moved since then, mm; None if it was not, or no indicator has spoken."""
    if state.now is None or state.last_turn is None:
        return None
    distance = state.now - state.last_turn
    return round(distance, 6) if abs(distance) > STILL * state.resolution else None
