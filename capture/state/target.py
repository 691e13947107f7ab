"""The diameter that the shaft must have when cold, from the bore that it must fit."""

from __future__ import annotations

from math import sqrt
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.fit.decision import SpecificationLimits, acceptance
from capture.metrology.gauges.permissible_errors import rectangular
from capture.sheet.job import Job
from capture.state.cold_size import at_20
from capture.state.stations import Stations
from capture.state.strip_target import before_plating, plating_of, strip_size


class Target(Struct, frozen=True):
    """Shaft diameter at 20 °C, mm."""

    aim: float
    """Inside `band` where there is one: the sheet's own, or else the nearest that the gauges can prove."""
    least: float
    """The smallest that leaves no more than the largest clearance."""
    most: float
    """The largest that leaves no less than the least clearance."""
    band: tuple[float, float] | None
    """What the sheet's rule leaves of least to most; None where it leaves nothing."""
    u: float
    """Standard uncertainty of the clearance that the gauges leave by their certificates."""
    bore: float
    u_bore: float
    source: Literal["measured", "sheet", "nominal"]
    """Where the bore's size is from; the nominal size is an assumption, and every view says so."""
    asked: float
    """The aim by the sheet alone."""
    of: Literal["finished", "stripped"] = "finished"
    """Before plating the part is aimed at the diameter to strip to."""


def target(job: Job, stations: Stations) -> Target | None:
    """The target of the stage in hand: before plating the strip diameter, else the finished one.

    None where the sheet has no fit, or where a part is stripped whose plating the sheet does not say.
    """
    finished = finished_target(job, stations)
    if finished is None or not before_plating(stations.stage):
        return finished
    plated = plating_of(job)
    if job.fit is None or plated is None:
        return None if stations.stage is not None and "strip" in stations.stage.lower() else finished
    u = _u_shaft(job)
    found = strip_size(plated, (finished.aim, finished.least, finished.most), job.fit.rule, u)
    if found is None:
        return None
    return replace(
        finished,
        aim=_inside(found.aim, found.band),
        least=found.least,
        most=found.most,
        band=found.band,
        u=u,
        asked=found.aim,
        of="stripped",
    )


def _inside(asked: float, band: tuple[float, float] | None) -> float:
    """The nearest to *asked* that the gauges can prove."""
    return asked if band is None else min(max(asked, band[0]), band[1])


def finished_target(job: Job, stations: Stations) -> Target | None:
    """The finished diameter by the newest measured bore, else the sheet's, else the nominal size."""
    fit = job.fit
    if fit is None:
        return None
    bore, u_bore, source = _bore(job, stations)
    clearance = fit.clearance
    u = sqrt(u_bore**2 + _u_shaft(job) ** 2)
    left = acceptance(fit.rule, u, SpecificationLimits(clearance.least, clearance.most))
    band = None if left.least is None or left.most is None else (bore - left.most, bore - left.least)
    asked = bore - clearance.aim
    return Target(
        aim=_inside(asked, band),
        least=bore - clearance.most,
        most=bore - clearance.least,
        band=band,
        u=u,
        bore=bore,
        u_bore=u_bore,
        source=source,
        asked=asked,
    )


def _bore(job: Job, stations: Stations) -> tuple[float, float, Literal["measured", "sheet", "nominal"]]:
    """The bore's smallest place at 20 °C in its newest stage."""
    readings = [reading for reading in stations.taken if reading.part == "bore"]
    if readings:
        newest = [reading for reading in readings if reading.stage == readings[-1].stage]
        smallest = min((at_20(reading, job) for reading in newest), key=lambda cold: cold.value)
        return smallest.value, smallest.u, "measured"
    if job.fit is None:
        return 0.0, 0.0, "nominal"
    if job.fit.bore is not None:
        return job.fit.bore, job.fit.u_bore, "sheet"
    return job.fit.nominal, 0.0, "nominal"


def _u_shaft(job: Job) -> float:
    """Standard uncertainty that the shaft's gauge leaves by its certificate: limits as a rectangle."""
    gauge = next((g for g in job.gauges if g.measures == "diameter"), None)
    if gauge is None:
        return 0.0
    return rectangular(gauge.limits if gauge.limits is not None else gauge.resolution)
