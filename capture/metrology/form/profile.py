"""Profiles: what station readings say of a bore or a shaft along its length and round it.

Taper is slope times span, on diameter; ISO 12180-1:2011 calls half of that the local
cylinder taper. Barrel, hourglass and bell mouth are departures from the least-squares
line; that a bell mouth takes less than a fifth of the length is common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import hypot, sqrt
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from capture.events import Part
from capture.metrology.form.lobes import Ovality, ovality
from capture.metrology.message import Message, message
from capture.metrology.uncertainty.propagation import Array
from capture.metrology.uncertainty.regression import straight_line

Shape: TypeAlias = Literal["straight", "barrel", "hourglass"]
End: TypeAlias = Literal["datum end", "far end"]

CLEAR = 2.0
"""How many of its standard uncertainties a finding must be, to be called one (k = 2)."""

MOUTH = 0.2
"""Part of the length at either end within which a bell mouth lies; common practice, no source."""


class Diameter(Struct, frozen=True):
    """One reading at a place, mm; several at one place and angle are averaged."""

    z: float
    """Place along the part, mm from its datum end."""
    angle: float | None
    """Direction, degrees; ``None`` is not known."""
    value: float
    u: float
    """Standard uncertainty of this reading alone, without what all readings share."""


class StationProfile(Struct, frozen=True):
    """What is known at one place along a part."""

    z: float
    mean: float
    u: float
    """Standard uncertainty of the mean, with what all readings share."""
    own_u: float
    """The same without."""
    n: int
    round: Ovality


class ExtremeDiameter(Struct, frozen=True):
    """The smallest or the largest diameter and where it is."""

    z: float
    angle: float | None
    value: float
    u: float
    or_at: tuple[float, ...]
    """Other places that are no different, by what the readings can tell."""


class Taper(Struct, frozen=True):
    """The least-squares line of mean diameter along the part."""

    slope: float
    """mm of diameter for each mm of length; positive: larger away from the datum end."""
    u_slope: float
    span: float
    """From the first station to the last, mm."""
    taper: float
    """Slope times span: change on diameter, mm."""
    u_taper: float
    iso_local: float
    """Half the size of that: local cylinder taper of ISO 12180-1:2011, mm."""
    clear: bool
    """Whether taper stands clear of its uncertainty; below that, do not chase it."""
    residuals: tuple[float, ...]
    """Mean less line at each station: what swivelling the table cannot correct."""
    s: float | None
    """Standard deviation of the residuals; ``None`` with two stations."""


class Axial(Struct, frozen=True):
    """The form along the part once the slope is taken out."""

    shape: Shape
    """Of the whole length, or of what lies between bell mouths."""
    crown: float
    """Height of the middle over the chord of the ends, on diameter, mm: positive for a barrel."""
    u_crown: float
    bell_mouths: tuple[End, ...] | None
    """Ends of a bore that open out; ``None`` where too few stations, or a shaft, leave it open."""


class Profile(Struct, frozen=True):
    """A part as its readings show it."""

    part: Part
    stations: tuple[StationProfile, ...]
    smallest: ExtremeDiameter
    largest: ExtremeDiameter
    taper: Taper | None
    axial: Axial | None
    said: tuple[Message, ...]
    """What can not be said from these readings, and why."""


def profile(part: Part, readings: Sequence[Diameter], *, shared_u: float = 0.0) -> Profile:
    """Work out a part's profile.

    Args:
        part: ``bore`` or ``shaft``.
        readings: Diameters at 20 °C, mm.
        shared_u: Standard uncertainty that all readings have in common (master, thermometer), mm.
            It is in every size but cancels in taper, shape and ovality.

    Raises:
        ValueError: no readings, or an uncertainty below zero.
    """
    if not readings:
        raise ValueError(f"a profile of the {part} needs one reading or more, got none")
    if shared_u < 0 or any(each.u < 0 for each in readings):
        raise ValueError("an uncertainty must be zero or more")
    places = _averaged(readings)
    stations = _stations(places, shared_u)
    return Profile(
        part=part,
        stations=stations,
        smallest=_extreme(places, shared_u, 1),
        largest=_extreme(places, shared_u, -1),
        taper=_taper(stations),
        axial=_axial(part, stations),
        said=_unsaid(part, stations),
    )


def _averaged(readings: Sequence[Diameter]) -> tuple[Diameter, ...]:
    same: dict[tuple[float, float | None], list[Diameter]] = defaultdict(list)
    for each in readings:
        same[each.z, None if each.angle is None else each.angle % 180].append(each)
    return tuple(
        Diameter(
            z,
            group[0].angle,
            group[0].value + sum(each.value - group[0].value for each in group) / len(group),
            sqrt(sum(each.u**2 for each in group)) / len(group),
        )
        for (z, _), group in sorted(same.items(), key=lambda item: (item[0][0], item[0][1] or 0.0))
    )


def _stations(places: Sequence[Diameter], shared_u: float) -> tuple[StationProfile, ...]:
    by_z: dict[float, list[Diameter]] = defaultdict(list)
    for each in places:
        by_z[each.z].append(each)
    found = []
    for z, group in sorted(by_z.items()):
        shape = ovality(
            [each.angle or 0.0 for each in group],
            [each.value for each in group],
            [each.u for each in group],
        )
        own = shape.u_mean
        found.append(StationProfile(z, shape.mean, hypot(own, shared_u), own, len(group), shape))
    return tuple(found)


def _extreme(places: Sequence[Diameter], shared_u: float, sign: int) -> ExtremeDiameter:
    best = min(places, key=lambda each: sign * each.value)
    rivals = {
        each.z
        for each in places
        if each.z != best.z and abs(each.value - best.value) <= CLEAR * hypot(each.u, best.u)
    }
    return ExtremeDiameter(best.z, best.angle, best.value, hypot(best.u, shared_u), tuple(sorted(rivals)))


def _taper(stations: Sequence[StationProfile]) -> Taper | None:
    if len(stations) < 2:
        return None
    z, d = [each.z for each in stations], [each.mean for each in stations]
    own = _known_u(stations)
    line = straight_line(z, d, own)
    # Weights of u give s in units of u; people want the residuals in mm.
    s = sqrt(sum(e * e for e in line.residuals) / line.dof) if line.dof else None
    span = z[-1] - z[0]
    u_slope = line.u_slope or 0.0
    return Taper(
        slope=line.slope,
        u_slope=u_slope,
        span=span,
        taper=line.slope * span,
        u_taper=u_slope * span,
        iso_local=abs(line.slope) * span / 2,
        clear=abs(line.slope) > CLEAR * u_slope,
        residuals=line.residuals,
        s=s,
    )


def _axial(part: Part, stations: Sequence[StationProfile]) -> Axial | None:
    if len(stations) < 3:
        return None
    z = np.array([each.z for each in stations])
    span = z[-1] - z[0]
    inner = [each for each in stations if MOUTH * span <= each.z - z[0] <= (1 - MOUTH) * span]
    mouths = None
    if part == "bore" and len(inner) >= 3:
        mouths = _bell_mouths(stations, inner)
    crown, u_crown = _crown(inner if mouths else stations)
    shape: Shape = "straight"
    if abs(crown) > CLEAR * u_crown:
        shape = "barrel" if crown > 0 else "hourglass"
    return Axial(shape, crown, u_crown, mouths)


def _crown(stations: Sequence[StationProfile]) -> tuple[float, float]:
    """Middle over chord of the fitted parabola: minus its curvature times half the span squared."""
    curve, covariance, half = _parabola(stations)
    return -float(curve[2]) * half**2, sqrt(float(covariance[2, 2])) * half**2


def _parabola(stations: Sequence[StationProfile]) -> tuple[Array, Array, float]:
    """Coefficients about the middle, on deviations from the first mean, and their covariance."""
    z = np.array([each.z for each in stations])
    away = z - (z[0] + z[-1]) / 2
    d = np.array([each.mean - stations[0].mean for each in stations])
    u = np.array(_known_u(stations) or [1.0] * len(stations))
    half = float(z[-1] - z[0]) / 2
    powers = np.column_stack([np.ones_like(away), away / half, (away / half) ** 2])
    inverse = np.linalg.pinv(powers / u[:, None])
    found = inverse @ (d / u)
    rest = (d - powers @ found) / u
    dof = len(stations) - 3
    known = _known_u(stations) is not None
    scale = 1.0 if known else (float(rest @ rest) / dof if dof else 0.0)
    shrink = np.array([1.0, 1 / half, 1 / half**2])
    return found * shrink, scale * (inverse @ inverse.T) * np.outer(shrink, shrink), half


def _bell_mouths(stations: Sequence[StationProfile], inner: Sequence[StationProfile]) -> tuple[End, ...]:
    """Ends that lie above what the inner stations' own parabola, carried on to them, foretells."""
    curve, covariance, _ = _parabola(inner)
    middle = (inner[0].z + inner[-1].z) / 2
    ends: list[tuple[End, StationProfile]] = [("datum end", stations[0]), ("far end", stations[-1])]
    opened: list[End] = []
    for end, station in ends:
        powers = np.array([1.0, station.z - middle, (station.z - middle) ** 2])
        rise = station.mean - inner[0].mean - float(powers @ curve)
        u = hypot(sqrt(max(float(powers @ covariance @ powers), 0.0)), station.own_u)
        if rise > CLEAR * u and rise > 1e-9:
            opened.append(end)
    return tuple(opened)


def _known_u(stations: Sequence[StationProfile]) -> list[float] | None:
    """Uncertainties to weight by, or ``None`` where any is not given and the scatter must do."""
    own = [each.own_u for each in stations]
    return own if all(own) else None


TWO_POINT = message("profile.two-point")
"""What no two-point diameter shows; the fit allows for it by settings of its own."""


def _unsaid(part: Part, stations: Sequence[StationProfile]) -> tuple[Message, ...]:
    said = []
    if len(stations) < 2:
        said.append(message("profile.one-station"))
    if len(stations) < 3:
        said.append(message("profile.two-stations"))
    span = stations[-1].z - stations[0].z
    inner = sum(MOUTH * span <= each.z - stations[0].z <= (1 - MOUTH) * span for each in stations)
    if part == "bore" and (len(stations) < 3 or inner < 3):
        said.append(message("profile.bell-mouth"))
    if any(each.round.ovality is None for each in stations):
        said.append(message("profile.angles"))
    said.append(TWO_POINT)
    return tuple(said)
