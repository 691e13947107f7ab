"""How long a warm part takes to cool, and where its size goes meanwhile."""

from __future__ import annotations

from collections.abc import Sequence

from capture.metrology.gauges.single_reading import with_rounding
from capture.metrology.grinding.outlook import SizeReading
from capture.metrology.heat.cooling import STEEL, still_air, time_constant
from capture.metrology.heat.soak import Soak, soak

FILM = 750.0
"""Heat transfer coefficient of flooding coolant, W/(m² K): an engineering estimate between 500 and 1000."""
SLOWER = 1.2
"""Times as long as by the formula a part may take to cool in still air: how well it is known (estimate)."""
THINNEST = 1.0
"""mm; a smaller "diameter" comes from a gauge that shows deviations from an unknown zero."""
FEWEST = 3
"""Readings that a trend needs."""
LEAST_SPAN = 60.0
"""Seconds that they span at least."""


def cooling_constant(reference: float, growth: float, *, coolant: bool | None) -> float:
    """Time constant, s, of a part of *reference* mm that is larger by *growth* mm than when cold."""
    diameter = max(reference, THINNEST)
    if coolant:
        return time_constant(STEEL, FILM, diameter * 1e-3)
    kelvin = max(abs(growth) / (diameter * 12e-6), 0.1)
    return still_air(diameter * 1e-3, difference=kelvin).tau


def still_air_constant(reference: float) -> float:
    """Time constant, s, of a part of *reference* mm, a few kelvin warm, without coolant."""
    return still_air(max(reference, THINNEST) * 1e-3, difference=2.0).tau


def _slowest(reference: float, limit: float) -> float:
    """Longest time constant, s, of a part without coolant that is half of *limit* mm larger than when cold.

    Free convection weakens with the temperature difference that drives it: at half the limit a part cools a
    third slower than a few kelvin above the room. A shorter constant calls it settled too early.
    """
    diameter = max(reference, THINNEST)
    kelvin = limit / 2.0 / (diameter * 12e-6)
    return SLOWER * still_air(diameter * 1e-3, difference=kelvin).tau


def size_trend(
    sizes: Sequence[SizeReading], newest: SizeReading, reference: float, within: float
) -> Soak | None:
    """Where the size of one place goes since the newest pass; None where too few readings tell.

    Args:
        sizes: All readings, mm, as deviations from *reference*.
        newest: The one whose pass and place count.
        reference: mm.
        within: mm within which a size counts as settled.
    """
    members = sorted(
        {
            size.t: size
            for size in sizes
            if size.after == newest.after and size.place == newest.place and size.growth is None
        }.items()
    )
    if len(members) < FEWEST or members[-1][0] - members[0][0] < LEAST_SPAN:
        return None
    u = max(with_rounding(size.u, size.resolution) for _, size in members)
    return soak(
        [t for t, _ in members],
        [size.value + reference for _, size in members],
        u=u,
        within=within,
        slowest=_slowest(reference, within),
    )
