"""Clearance: bore less shaft on diameter, at every place and every position of the travel.

Where the shaft stands is one number, its *offset*: the shaft's own z that stands at
the bore's datum end (z = 0). A place z in the bore then faces z + offset on the shaft.
Between stations both parts are taken as straight; beyond the outermost station nothing
is said. The extremes over a whole travel are found exactly, not by trying positions.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise
from math import hypot, sqrt

from msgspec import Struct

from capture.metrology.form.profile import Profile
from capture.metrology.message import NotPossible, message, place
from capture.metrology.uncertainty.budget import Contribution, Distribution


class StationSize(Struct, frozen=True):
    """Diameter of a part at one station, at one temperature (20 °C unless said), mm."""

    z: float
    value: float
    u: float
    """Standard uncertainty of this station alone, without what others share."""


class Shared(Struct, frozen=True):
    """An error that many stations have in common, such as that of one master or one thermometer."""

    name: str
    spread: float
    """Standard uncertainty, or half-width of a bounded distribution."""
    on_bore: float
    """Change of every bore diameter for one unit of it, mm; 0 where the bore does not see it."""
    on_shaft: float
    """Change of every shaft diameter for one unit of it, mm."""
    distribution: Distribution = "normal"

    @property
    def u(self) -> float:
        """What it adds to the uncertainty of a clearance: only the difference of both sides counts."""
        line = Contribution(self.name, 0.0, self.spread, self.distribution)
        return abs(self.on_bore - self.on_shaft) * line.u


class TravelEngagement(Struct, frozen=True):
    """Where the shaft stands in the bore over its travel, mm."""

    length: float
    """Length of bore that is engaged, from the bore's datum end."""
    start: float
    """Offset at one end of the travel."""
    stop: float
    """Offset at the other; equal to `start` where the shaft does not travel."""


class PlaceClearance(Struct, frozen=True):
    """Clearance at one place, mm; negative where the bore is smaller than the shaft."""

    value: float
    u: float
    z_bore: float
    z_shaft: float
    offset: float


class Position(Struct, frozen=True):
    """All clearances with the shaft standing at one offset."""

    offset: float
    places: tuple[PlaceClearance, ...]
    """At every station of either part that faces a measured place of the other."""
    smallest: PlaceClearance
    largest: PlaceClearance


class Travel(Struct, frozen=True):
    """The fit over the whole travel."""

    positions: tuple[Position, ...]
    """At both ends of the travel and wherever two stations face each other, by offset."""
    smallest: PlaceClearance
    largest: PlaceClearance
    bound: float
    """Smallest bore less largest shaft, wherever they are: no position can be tighter."""
    interferes: bool
    """Whether the bore is anywhere smaller than the shaft."""
    not_measured: float
    """Greatest length of engagement, over all positions, that lies beyond the outermost stations, mm."""
    said: tuple[str, ...]


def sizes_of(part: Profile, *, tight: bool = False) -> tuple[StationSize, ...]:
    """Diameters of a measured part, one a station, without the uncertainty that all share.

    Args:
        part: The profile.
        tight: Take the least diameter of an oval bore and the greatest of an oval shaft, where
            ovality is clear of its uncertainty; otherwise the mean. Odd lobes are in neither.
    """
    away = (-0.5 if part.part == "bore" else 0.5) if tight else 0.0
    found = []
    for each in part.stations:
        oval, u_oval = each.round.ovality, each.round.u_ovality
        if each.round.axis is None or oval is None or u_oval is None:
            oval = u_oval = 0.0
        found.append(StationSize(each.z, each.mean + away * oval, hypot(each.own_u, away * u_oval)))
    return tuple(found)


def at_stations(
    bore: Sequence[StationSize],
    shaft: Sequence[StationSize],
    *,
    offset: float = 0.0,
    shared: Sequence[Shared] = (),
) -> tuple[PlaceClearance, ...]:
    """Clearance wherever a station of either part faces a measured place of the other."""
    return at_position(bore, shaft, offset, shared=shared).places


def at_position(
    bore: Sequence[StationSize],
    shaft: Sequence[StationSize],
    offset: float,
    *,
    length: float | None = None,
    shared: Sequence[Shared] = (),
) -> Position:
    """Clearances with the shaft standing at one offset.

    Args:
        bore: One station or more.
        shaft: One station or more.
        offset: The shaft's z at the bore's datum end, mm.
        length: Length of bore that is engaged, from its datum end; ``None`` for all of it.
        shared: Errors that stations have in common.

    Raises:
        ValueError: stations twice or missing, or no measured place of one part faces one of the other.
    """
    hole, pin = ordered(bore, "bore"), ordered(shaft, "shaft")
    places = _facing(hole, pin, offset, length)
    if not places:
        raise NotPossible(message("fit.apart", offset=place(offset)))
    found = tuple(_clearance(hole, pin, z, offset, shared) for z in places)
    return Position(
        offset,
        found,
        min(found, key=lambda each: each.value),
        max(found, key=lambda each: each.value),
    )


def over_travel(
    bore: Sequence[StationSize],
    shaft: Sequence[StationSize],
    engagement: TravelEngagement,
    *,
    shared: Sequence[Shared] = (),
) -> Travel:
    """Smallest and largest clearance over the whole travel, and where.

    Clearance is straight in place and in offset between stations, so its extremes lie
    where two stations face each other or at an end of the travel or of the engagement.

    Raises:
        ValueError: as `at_position`; or an engagement without length.
    """
    if not engagement.length > 0:
        raise ValueError(f"the engaged length must be more than zero, got {engagement.length}")
    hole, pin = ordered(bore, "bore"), ordered(shaft, "shaft")
    offsets = _offsets(hole, pin, engagement)
    facing = [offset for offset in offsets if _facing(hole, pin, offset, engagement.length)]
    if not facing:
        raise ValueError("at no position of the travel does a measured place of the shaft stand in the bore")
    positions = tuple(
        at_position(hole, pin, offset, length=engagement.length, shared=shared) for offset in facing
    )
    smallest = min((each.smallest for each in positions), key=lambda each: each.value)
    largest = max((each.largest for each in positions), key=lambda each: each.value)
    missing = max(_unmeasured(hole, pin, offset, engagement.length) for offset in offsets)
    return Travel(
        positions=positions,
        smallest=smallest,
        largest=largest,
        bound=min(each.value for each in hole) - max(each.value for each in pin),
        interferes=smallest.value < 0,
        not_measured=missing,
        said=_remarks(smallest, missing),
    )


def ordered(sizes: Sequence[StationSize], part: str) -> tuple[StationSize, ...]:
    """Stations in their order along the part; a ValueError where there are none or two at one place."""
    stations = tuple(sorted(sizes, key=lambda each: each.z))
    if not stations:
        raise ValueError(f"clearance needs one station of the {part} or more, got none")
    for first, second in pairwise(stations):
        if first.z == second.z:
            raise NotPossible(message("fit.twice", part=part, z=place(first.z)))
    return stations


def weights(sizes: Sequence[StationSize], z: float) -> tuple[tuple[int, float], ...]:
    """Which stations make the size at z, and how much of each: the part is straight between two."""
    i = bisect_right([each.z for each in sizes], z) - 1
    if i in {-1, len(sizes) - 1} or sizes[i].z == z:
        return ((max(i, 0), 1.0),)
    part = (z - sizes[i].z) / (sizes[i + 1].z - sizes[i].z)
    return ((i, 1 - part), (i + 1, part))


def _at(sizes: Sequence[StationSize], z: float) -> tuple[float, float]:
    shares = weights(sizes, z)
    first = sizes[shares[0][0]].value
    value = first + sum(w * (sizes[i].value - first) for i, w in shares)
    return value, sqrt(sum((w * sizes[i].u) ** 2 for i, w in shares))


def _clearance(
    bore: Sequence[StationSize],
    shaft: Sequence[StationSize],
    z: float,
    offset: float,
    shared: Sequence[Shared],
) -> PlaceClearance:
    # The place came from a station of either part: rounding must not carry it a hair past that station.
    near = next((each.z for each in shaft if abs(each.z - (z + offset)) < 1e-9), z + offset)
    z_shaft = min(max(near, shaft[0].z), shaft[-1].z)
    (hole, u_hole), (pin, u_pin) = _at(bore, z), _at(shaft, z_shaft)
    return PlaceClearance(hole - pin, hypot(u_hole, u_pin, *(each.u for each in shared)), z, z_shaft, offset)


def _window(
    bore: Sequence[StationSize], shaft: Sequence[StationSize], offset: float, length: float | None
) -> tuple[float, float]:
    """From where to where along the bore both parts are measured and engaged."""
    low, high = max(bore[0].z, shaft[0].z - offset), min(bore[-1].z, shaft[-1].z - offset)
    return (low, high) if length is None else (max(low, 0.0), min(high, length))


def _facing(
    bore: Sequence[StationSize], shaft: Sequence[StationSize], offset: float, length: float | None
) -> list[float]:
    low, high = _window(bore, shaft, offset, length)
    if low > high + 1e-9:
        return []
    inside = {each.z for each in bore} | {low, high}
    for each in shaft:
        z = each.z - offset
        if not any(abs(z - known) < 1e-9 for known in inside):
            inside.add(z)
    return sorted(z for z in inside if low - 1e-9 <= z <= high + 1e-9)


def _offsets(
    bore: Sequence[StationSize], shaft: Sequence[StationSize], engagement: TravelEngagement
) -> list[float]:
    low, high = sorted((engagement.start, engagement.stop))
    ends = {each.z for each in bore} | {0.0, engagement.length}
    meeting = {pin.z - z for z in ends for pin in shaft}
    return sorted({low, high} | {offset for offset in meeting if low < offset < high})


def _unmeasured(
    bore: Sequence[StationSize], shaft: Sequence[StationSize], offset: float, length: float
) -> float:
    low, high = _window(bore, shaft, offset, length)
    return max(length - max(high - low, 0.0), 0.0)


def _remarks(smallest: PlaceClearance, missing: float) -> tuple[str, ...]:
    remarks = []
    if smallest.value < 0:
        remarks.append(
            "the bore is smaller than the shaft: they do not go together by hand, and must not be forced"
        )
    if missing > 1e-9:
        remarks.append(
            "part of the engaged length lies beyond the outermost stations: nothing is known there"
        )
    return tuple(remarks)
