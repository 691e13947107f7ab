"""Before grinding: whether the limits of the fit can be proven at all, and with which gauges they could.

The simple rule accepts whatever lies inside the limits; whether that is *proven* is asked by the guarded
rule here all the same, because a person is to know it before the part is ground.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, inf, sqrt
from typing import Final

from msgspec import Struct

from capture.metrology.fit.decision import Rule, SpecificationLimits, largest_u
from capture.metrology.gauges.permissible_errors import rectangular
from capture.metrology.gauges.single_reading import scatter_of, with_rounding
from capture.metrology.message import Sentence, message, small

STEP: Final = 0.25
"""Step of a gauge as a share of its limits, where one is proposed (common practice, no source)."""
LABORATORY: Final = 0.0005
"""Limits (mm) under which a gauge is a laboratory's rather than a shop's (common practice, no source)."""


class Provable(Struct, frozen=True):
    """Whether a fit can be proven, and what could prove it; lengths in mm."""

    enough: bool | None
    """None: nothing is known of the gauges."""
    u: float | None
    """Standard uncertainty of the clearance with the best gauges of the sheet."""
    u_due: float | None
    """The largest that leaves the band that grinding needs; None where no uncertainty does."""
    limits_due: float | None
    """Largest permissible error of gauges for bore and shaft, both alike, that could prove it."""
    width_due: float | None
    """How far apart the limits must be for the gauges of the sheet."""
    said: tuple[Sentence, ...]
    """What cannot be proven, and what could; empty where all is well."""


def provable(
    rule: Rule, limits: SpecificationLimits, u: Sequence[float], *, band: float, warm: float
) -> Provable:
    """Whether any of several pairs of gauges can prove a clearance.

    Args:
        rule: How conformity is decided.
        limits: Of the clearance, both sides, mm.
        u: Standard uncertainty of the clearance with each pair, mm; none where nothing is known of them.
        band: Width of the band that grinding needs, mm.
        warm: What one kelvin between the parts does to the clearance, mm.
    """
    asked: Rule = "guarded" if rule == "simple" else rule
    width = limits.high - limits.low
    best = min(u, default=None)
    due = largest_u(asked, limits, band=band)
    if due is not None and due < width * 1e-6:
        due = None
    at_all = largest_u(asked, limits, band=0.0) or 0.0
    could = (due if due is not None else at_all) / sqrt(2.0) / _one()
    if best is None or best == inf:
        return Provable(None, None, due, could, None, ())
    enough = due is not None and best <= due
    if enough:
        return Provable(True, best, due, could, None, ())
    wide = _width_due(asked, best, band)
    said: list[Sentence] = [_cannot(limits, best, due, band)]
    said.append(message("proof.could", limits=small(could, 2), step=small(could * STEP, 2)))
    if could < LABORATORY:
        said.append(message("proof.laboratory"))
    if warm > 0:
        said.append(message("proof.warm", kelvin=(due or at_all) / warm))
    said.append(message("proof.wide", width=small(wide)))
    if rule == "simple":
        said.append(message("proof.simple", U=small(2 * best)))
    return Provable(False, best, due, could, wide, tuple(said))


def _cannot(limits: SpecificationLimits, u: float, due: float | None, band: float) -> Sentence:
    ends = {"least": small(limits.low, signed=True), "most": small(limits.high, signed=True)}
    if due is None:
        return message("proof.no-band", u=small(u, 2), band=small(band), **ends)
    return message("proof.cannot", u=small(u, 2), due=small(due, 2), **ends)


def _width_due(rule: Rule, u: float, band: float) -> float:
    """Distance between limits of which an uncertainty leaves the band, mm."""

    def over(width: float) -> float:
        return (largest_u(rule, SpecificationLimits(0.0, width), band=band) or 0.0) - u

    # Guarding takes between 1.6 and 2 u at each end, so ten of them are always enough.
    from scipy.optimize import brentq  # noqa: PLC0415 - slow to load, and few sessions need it

    return float(brentq(over, band, band + 10 * u, xtol=1e-9))


def _one() -> float:
    """Standard uncertainty of one reading of a proposed gauge over its limits."""
    return hypot(rectangular(1.0), with_rounding(scatter_of(None, STEP), STEP))
