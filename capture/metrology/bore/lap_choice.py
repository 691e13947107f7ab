"""Which lap, grain and stroke for what is left of a bore (common practice, no source).

Between lap and bore stands a layer of grains, so a lap that just fills a bore is two grains smaller:
``d = D - 2 g`` (geometry). It begins at the smallest place and is expanded to the size aimed at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Literal, TypeAlias

from msgspec import Struct

Form: TypeAlias = Literal["straight", "taper", "bell mouth", "barrel", "tight place", "not known"]
"""barrel: larger in the middle; bell mouth: larger at an end."""


class Grain(Struct, frozen=True):
    """Abrasive for a range of what is left."""

    over: float
    """For more than this left, mm on diameter."""
    size: tuple[float, float]
    """Grain, mm."""
    lap: str


GRAINS: tuple[Grain, ...] = (
    Grain(0.020, (0.020, 0.040), "expanding lap of cast iron, charged with loose silicon carbide in oil"),
    Grain(
        0.005, (0.009, 0.015), "expanding lap of cast iron or copper, fine aluminium oxide or silicon carbide"
    ),
    Grain(
        0.001, (0.003, 0.006), "expanding lap of cast iron or brass, fine aluminium oxide or diamond paste"
    ),
    Grain(0.0, (0.001, 0.003), "hard smooth lap, diamond paste or oxide, a few strokes at a time"),
)
BASIS = "common practice, no source"
LAP_LENGTH = (1.5, 2.5)
"""Length of the lap over its diameter: a short one follows the bore, a long one straightens it."""
STEP = 0.002
"""mm on diameter by which an expanding lap is opened at a time, at rest."""


class LapChoice(Struct, frozen=True):
    """The lap for the next strokes; lengths mm."""

    grain: tuple[float, float]
    lap: str
    start: float
    """Diameter at which it just fills the smallest place."""
    end: float
    """Diameter at which it fills the size that is aimed at."""
    step: float
    length: tuple[float, float]
    form: Form
    pattern: str
    """Name of the stroke pattern's sentence."""
    basis: str = BASIS


def choose_lap(stations: Mapping[float, float], goal: float, u: float) -> LapChoice | None:
    """The lap for what is left; None where nothing is, or no station is measured.

    Args:
        stations: Least diameter at each station, mm, by its place.
        goal: Diameter that the tight places are lapped to, mm.
        u: Standard uncertainty of a diameter, mm.
    """
    if not stations:
        return None
    smallest = min(stations.values())
    left = goal - smallest
    if left <= 0.0:
        return None
    grain = next((each for each in GRAINS if left > each.over), GRAINS[-1])
    coarse = grain.size[1]
    form = form_of(stations, u)
    return LapChoice(
        grain=grain.size,
        lap=grain.lap,
        start=smallest - 2.0 * coarse,
        end=goal - 2.0 * coarse,
        step=STEP,
        length=(LAP_LENGTH[0] * goal, LAP_LENGTH[1] * goal),
        form=form,
        pattern=f"stroke.{form.replace(' ', '-')}",
    )


def form_of(stations: Mapping[float, float], u: float) -> Form:
    """The form along a bore by its stations; a difference under three of its uncertainties is none.

    One place that is smaller than both its neighbours is a tight place.
    """
    row = [value for _, value in sorted(stations.items())]
    if len(row) < 3:
        return "not known"
    seen = 3.0 * u * 2.0**0.5
    if max(row) - min(row) <= seen:
        return "straight"
    inner = row[1:-1]
    smallest = min(row)
    tight = [place for place in range(1, len(row) - 1) if row[place] == smallest]
    if len(row) > 3 and any(_lower(row, at, seen) and _others_flat(row, at, seen) for at in tight):
        return "tight place"
    if max(inner) - max(row[0], row[-1]) > seen:
        return "barrel"
    if max(row[0], row[-1]) - max(inner) > seen and not _monotone(row, seen):
        return "bell mouth"
    return "taper"


def _lower(row: Sequence[float], at: int, seen: float) -> bool:
    return row[at - 1] - row[at] > seen and row[at + 1] - row[at] > seen


def _others_flat(row: Sequence[float], tight: int, seen: float) -> bool:
    rest = [value for place, value in enumerate(row) if place != tight]
    return max(rest) - min(rest) <= max(seen, 0.5 * (min(rest) - row[tight]))


def _monotone(row: Sequence[float], seen: float) -> bool:
    steps = [after - before for before, after in pairwise(row)]
    return all(step >= -seen for step in steps) or all(step <= seen for step in steps)
