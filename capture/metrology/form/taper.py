"""Taper, and how far and which way to move the swivel table.

Stations are counted from the headstock, growing toward the tailstock. The line
``D = b z + c`` through the diameters has the slope b; the table must turn by
``theta = b / 2``, positive when its tailstock end moves toward the wheel, because a part
that is large at the tailstock needs more taken off there. At a place R beyond the pivot
(positive on the tailstock side) the table moves ``x = R theta`` toward the wheel.

The swivel corrects a slope and nothing else: barrel, hourglass and bell mouth stay, and
are distinguished as what is left of the line.

What is stated is the slope of the least-squares line through the true diameters *at the stations*, form
and all (GUM D.1: a quantity is known no better than it is defined). A barrel between two stations leaves it
as it is; a mouth at one of them is part of it, and two stations cannot tell that from a taper.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, pi, sqrt
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from capture.metrology.message import Length, Message, message, place, small

Verdict: TypeAlias = Literal["cannot tell", "do not chase", "no stock", "move in part", "move"]
ARCSECONDS = 180.0 * 3600.0 / pi


class SwivelGeometry(Struct, frozen=True):
    """The grinder's swivel table, in mm on the axis of the stations.

    Raises:
        ValueError: its movement is read on the pivot, where it does not move.
    """

    pivot: float
    reading_at: float
    """Where the table's movement is read."""
    toward_wheel: Literal["+", "-"]
    """Sign that the indicator shows when the table moves toward the wheel there."""

    def __post_init__(self) -> None:
        """At the pivot the table stands still, and any taper would ask for nothing."""
        if not isfinite(self.arm) or self.arm == 0.0:
            raise ValueError(
                f"swivel is read at {self.reading_at:g} mm and turns about {self.pivot:g} mm: "
                "the two must differ"
            )

    @property
    def arm(self) -> float:
        """Distance R from the pivot to the reading, positive on the tailstock side, mm."""
        return self.reading_at - self.pivot

    @property
    def sign(self) -> float:
        """+1 when the indicator counts up toward the wheel, else -1."""
        return 1.0 if self.toward_wheel == "+" else -1.0


class Practice(Struct, frozen=True):
    """How a careful grinder goes about it (common practice, no source)."""

    large: float = 0.010
    """Taper over the stations, mm on diameter, from which a correction is made in part."""
    part: float = 0.85
    """Share of a large correction that is made at first: backlash, and the clamp moves it."""
    times_taper: float = 2.0
    """Stock to keep for each unit of taper still to be taken out."""
    reserve: float = 0.025
    """And stock to keep besides, mm on diameter: spring and heat."""


class TaperLine(Struct, frozen=True):
    """The straight line through diameters along a part."""

    slope: float
    """Diameter per length, mm/mm."""
    u_slope: float | None
    """Its standard uncertainty, or None: two stations and no uncertainty of a reading."""
    middle: float
    """Mean of the stations, mm."""
    diameter: float
    """Diameter of the line there, mm."""
    residuals: tuple[float, ...]
    """Diameter minus line at each station, mm."""
    sd: float | None
    """Standard deviation of the residuals, with n - 2 degrees of freedom."""
    u: float | None
    """Standard uncertainty of one diameter, as given."""
    span: float
    """Length between the outermost stations, mm."""

    @property
    def taper(self) -> float:
        """Change of diameter over the stations, mm; positive when large at the tailstock."""
        return self.slope * self.span

    @property
    def bow(self) -> float:
        """What the swivel cannot correct: highest minus lowest residual, mm on diameter."""
        return max(self.residuals) - min(self.residuals)


class TableMove(Struct, frozen=True):
    """What the stations say about moving the table."""

    verdict: Verdict
    said: tuple[Message, ...]
    line: TaperLine | None = None
    theta: float | None = None
    """Full turn of the table, radians, positive with the tailstock end toward the wheel."""
    toward_wheel: float | None = None
    """Full movement at the place of reading, mm, positive toward the wheel."""
    adjust: float | None = None
    """Movement to make now, mm, with the indicator's own sign; 0 when it is better left."""
    u_adjust: float | None = None
    """Of the full movement, by the slope's alone: the table's play and clamp are in `parallel`, which
    follows what the table makes of a movement."""
    stock_left: float | None = None
    """Stock over the target at the smallest diameter, once the part is parallel, mm."""
    stock_wanted: float | None = None
    """Stock that careful practice keeps until the part is parallel, mm."""


def line(z: Sequence[float], diameters: Sequence[float], u: float | None = None) -> TaperLine | None:
    """The least-squares line, or None with fewer than two different stations.

    ``u(b) = u / sqrt(sum (z - mean)^2)``, with u of one reading, or with the standard
    deviation of the residuals where u is not given (GUM H.3 has the same for two
    coefficients) or where they scatter more than u says: u may be stated too small
    (Birge, "The calculation of errors by the method of least squares", Phys. Rev. 40 (1932) 207).
    Form looks the same: of a bent part the uncertainty is rather too large than too small. Where u is
    given, ``2 u(b)`` is its 95 % interval; where it is not, Student's t of n - 2 is due (GUM G.3).

    Args:
        z: Stations, mm.
        diameters: mm, in the same order.
        u: Standard uncertainty of one diameter, of what differs between stations only.

    Raises:
        ValueError: stations and diameters do not pair.
    """
    if len(z) != len(diameters):
        raise ValueError(f"{len(z)} stations and {len(diameters)} diameters: each station needs one")
    at, d = np.asarray(z, dtype=float), np.asarray(diameters, dtype=float)
    if len(set(z)) < 2:
        return None
    dz = at - at.mean()
    # diameters are a large constant and microns: work on what differs
    dd = d - d[0]
    szz = float(np.sum(dz**2))
    slope = float(np.sum(dz * (dd - dd.mean())) / szz)
    residuals = dd - dd.mean() - slope * dz
    sd = sqrt(float(np.sum(residuals**2)) / (at.size - 2)) if at.size > 2 else None
    one = sd if u is None else max(u, sd or 0.0)
    return TaperLine(
        slope=slope,
        u_slope=None if one is None else one / sqrt(szz),
        middle=float(at.mean()),
        diameter=float(d[0] + dd.mean()),
        residuals=tuple(float(each) for each in residuals),
        sd=sd,
        u=u,
        span=float(at.max() - at.min()),
    )


def correct(
    z: Sequence[float],
    diameters: Sequence[float],
    swivel: SwivelGeometry,
    *,
    u: float | None = None,
    target: float | None = None,
    practice: Practice = Practice(),  # noqa: B008 - a frozen value
) -> TableMove:
    """How far and which way to move the table, and whether to.

    Args:
        z: Stations, mm, growing toward the tailstock.
        diameters: mm at one temperature, in the same order.
        swivel: The table.
        u: Standard uncertainty of one diameter, of what differs between stations.
        target: Diameter that must be left when the part is parallel, mm.
        practice: Limits of careful practice.
    """
    found = line(z, diameters, u)
    if found is None:
        one = message("taper.one-station", z=place(z[0])) if z else message("taper.no-station")
        return TableMove("cannot tell", (one,))
    theta = found.slope / 2.0
    toward = swivel.arm * theta
    u_adjust = None if found.u_slope is None else abs(swivel.arm) / 2.0 * found.u_slope
    left = None if target is None else min(diameters) - target
    wanted = practice.times_taper * abs(found.taper) + practice.reserve
    verdict, share, remarks = _judged(found, left, wanted, practice)
    adjust = share * toward * swivel.sign + 0.0
    if share:
        move = _movement(adjust, toward, theta)
        remarks = (
            message("taper.part", move=move, share=f"{100.0 * share:.0f} %") if share < 1.0 else move,
            *remarks,
        )
    return TableMove(
        verdict=verdict,
        said=remarks,
        line=found,
        theta=theta,
        toward_wheel=toward,
        adjust=adjust,
        u_adjust=u_adjust,
        stock_left=left,
        stock_wanted=wanted,
    )


def resolution_needed(taper: float, length: float, arm: float) -> float:
    """Movement at the place of reading that makes *taper* over *length*: ``R taper / (2 L)``.

    The indicator there must show less than this for a part to be held that parallel.
    """
    return abs(arm) * taper / (2.0 * length)


def surface_shift(theta: float, z: float, pivot: float) -> float:
    """Movement of the part's surface toward the wheel at a station, on radius, when the table turns."""
    return theta * (z - pivot)


def after_turning(z: Sequence[float], diameters: Sequence[float], theta: float, pivot: float) -> list[float]:
    """Diameters that a pass leaves, up to its depth, after the table was turned by *theta*.

    Where the surface came toward the wheel, twice the shift comes off the diameter.
    """
    return [d - 2.0 * surface_shift(theta, at, pivot) for at, d in zip(z, diameters, strict=True)]


def _judged(
    found: TaperLine, left: float | None, wanted: float, practice: Practice
) -> tuple[Verdict, float, tuple[Message, ...]]:
    """Verdict, share of the movement to make, and what to say after the movement."""
    if found.u_slope is not None and abs(found.slope) <= 2.0 * found.u_slope:
        sees = small(2.0 * found.u_slope * found.span, 2)
        below = message("taper.below", taper=small(abs(found.taper), 2), u=sees)
        return "do not chase", 0.0, (below, *_bowed(found))
    if left is not None and left <= 0.0:
        return "no stock", 0.0, (message("taper.no-stock", short=small(-left)),)
    cautions = _bowed(found)
    if found.u_slope is None:
        cautions += (message("taper.unsure"),)
    elif len(found.residuals) < 3:
        cautions += (message("taper.two", taper=small(abs(found.taper))),)
    if left is not None and left < wanted:
        cautions += (message("taper.little", left=small(left, 0), wanted=small(wanted, 0)),)
    if abs(found.taper) >= practice.large:
        return "move in part", practice.part, cautions
    return "move", 1.0, cautions


def _bowed(found: TaperLine) -> tuple[Message, ...]:
    noise = 3.0 * (found.u or 0.0)
    if len(found.residuals) < 3 or found.bow <= max(noise, 0.0005):
        return ()
    return (message("taper.bow", bow=small(found.bow)),)


def _movement(adjust: float, toward: float, theta: float) -> Message:
    return message(
        "taper.move",
        moved=small(abs(adjust)),
        way=message("toward" if toward > 0.0 else "away"),
        shown=Length(adjust, "indicator"),
        end=message("toward" if theta > 0.0 else "away"),
    )
