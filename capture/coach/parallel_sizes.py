"""The part's slope through a grind, and the sizes as they would be on a part that is parallel."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from msgspec.structs import replace

from capture.coach.table_correction import Followed, Obedience, Slope, Turn, follow
from capture.metrology.form.taper import line
from capture.metrology.gauges.single_reading import with_rounding
from capture.metrology.grinding.outlook import SizeReading
from capture.sheet.job import Grinder, Job
from capture.sheet.measuring_plan import PlannedPlace

HALF = 0.5
"""Share of a pass where nothing is known of it yet."""


def slopes_of(sizes: Sequence[SizeReading], places: Sequence[PlannedPlace]) -> tuple[Slope, ...]:
    """The slope after every pass that was measured at two stations or more."""
    rounds: dict[int, dict[float, list[SizeReading]]] = {}
    for size in sizes:
        z = places[size.place].z
        if z is not None:
            rounds.setdefault(size.after, {}).setdefault(z, []).append(size)
    found = []
    for after, stations in sorted(rounds.items()):
        along = sorted(stations)
        means = [sum(size.value for size in stations[at]) / len(stations[at]) for at in along]
        one = max(
            hypot(*(with_rounding(size.u, size.resolution) for size in stations[at])) / len(stations[at])
            for at in along
        )
        fitted = line(along, means, one)
        if fitted is not None and fitted.u_slope:
            found.append(Slope(after, fitted.slope, fitted.u_slope))
    return tuple(found)


def span_of(places: Sequence[PlannedPlace]) -> float:
    """Between the outermost stations measured, mm."""
    z = [place.z for place in places if place.z is not None]
    return max(z) - min(z) if z else 0.0


def arm_of(grinder: Grinder | None) -> float | None:
    """From the table's pivot to where its movement is read, mm, or None without a swivel on the sheet."""
    return (
        None
        if grinder is None or grinder.swivel is None
        else grinder.swivel.reading_at - grinder.swivel.pivot
    )


def followed(
    sizes: Sequence[SizeReading],
    places: Sequence[PlannedPlace],
    turns: Sequence[Turn],
    passes: int,
    share: float | None,
    job: Job,
) -> Followed | None:
    """Part and table after the newest pass; None without a swivel, or without two stations of one pass."""
    arm, span = arm_of(job.grinder), span_of(places)
    if arm is None or not span:
        return None
    known = Obedience()
    if job.grinder is not None and job.grinder.known is not None and job.grinder.known.obeys is not None:
        known = Obedience(job.grinder.known.obeys, job.grinder.known.u_obeys or known.u)
    slopes = slopes_of(sizes, places)
    return follow(
        slopes, turns, passes, share=min(max(share or HALF, 0.05), 0.95), arm=arm, span=span, known=known
    )


def parallel_sizes(
    sizes: Sequence[SizeReading],
    places: Sequence[PlannedPlace],
    turns: Sequence[Turn],
    share: float | None,
    job: Job,
) -> tuple[SizeReading, ...]:
    """The sizes less the slope times the distance from the pivot, about which the table turns.

    There a turn of the table takes nothing off, so that what is left follows the law of the spring however
    the table is moved. Where it was not moved, the sizes as they are.
    """
    swivel = job.grinder.swivel if job.grinder is not None else None
    if not turns or swivel is None:
        return tuple(sizes)
    slopes: dict[int, float] = {}
    for after in sorted({size.after for size in sizes}):
        until = [size for size in sizes if size.after <= after]
        before = [turn for turn in turns if turn.after < after]
        found = followed(until, places, before, after, share, job)
        slopes[after] = 0.0 if found is None else found.now
    return tuple(
        size if (z := places[size.place].z) is None else _less(size, slopes[size.after] * (z - swivel.pivot))
        for size in sizes
    )


def _less(size: SizeReading, taper: float) -> SizeReading:
    return replace(size, value=size.value - taper)
