"""A station reading brought to 20 °C."""

from __future__ import annotations

from msgspec import Struct

from capture.events import Part
from capture.metrology.heat.materials import Expansion, expansion
from capture.metrology.heat.temperature import Temperature, size_at_20
from capture.sheet.job import Job
from capture.state.stations import StationReading, Warmth

TYPICAL_U = 0.6e-6
"""Standard uncertainty of an expansion that a user gave without one, 1/K: the spread between handbooks."""


class Cold(Struct, frozen=True):
    """A size at 20 °C, mm."""

    value: float
    u: float
    """Standard uncertainty with the gauge's and the temperature's together."""
    growth: float
    """How much larger the part was when it was read."""
    u_growth: float
    assumed: bool
    """No probe has spoken for the part: it is taken to be at 20 °C, and every view says so."""


def at_20(reading: StationReading, job: Job) -> Cold:
    """The size at 20 °C of what was read, by the newest word of the part's probe."""
    if reading.warmth is None:
        return Cold(reading.value, reading.u, 0.0, 0.0, assumed=True)
    gauge, t_gauge = _gauge(reading, job)
    corrected = size_at_20(
        reading.value,
        part=expansion_of(job, reading.part),
        t_part=_temperature(reading.warmth),
        gauge=gauge,
        t_gauge=t_gauge,
        u_reading=reading.u,
    )
    heat = (max(corrected.u**2 - reading.u**2, 0.0)) ** 0.5
    return Cold(corrected.size, corrected.u, -corrected.correction, heat, assumed=False)


def expansion_of(job: Job, part: Part) -> Expansion:
    """Expansion of the part: the user's own, the material's, or that of an unknown steel."""
    workpiece = job.workpiece(part)
    if workpiece is not None and workpiece.expansion is not None:
        u = workpiece.u_expansion if workpiece.u_expansion is not None else TYPICAL_U
        return Expansion(alpha=workpiece.expansion, u=u, name=workpiece.material or part)
    return expansion(workpiece.material if workpiece is not None and workpiece.material else "steel")


def gauge_expansion(job: Job, name: str) -> Expansion:
    """Expansion of a gauge or its master: the user's own, or that of gauge-block steel."""
    gauge = job.gauge(name)
    if gauge is not None and gauge.expansion is not None:
        return Expansion(alpha=gauge.expansion, u=TYPICAL_U, name=gauge.name)
    return expansion("gauge block steel")


def _gauge(reading: StationReading, job: Job) -> tuple[Expansion | None, Temperature | None]:
    if reading.gauge_warmth is None:
        return None, None
    return gauge_expansion(job, reading.gauge), _temperature(reading.gauge_warmth)


def _temperature(warmth: Warmth) -> Temperature:
    return Temperature(warmth.value, warmth.u)
