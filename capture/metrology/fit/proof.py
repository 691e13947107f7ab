"""Proof: whether a gauge can prove a fit, and what could."""

from __future__ import annotations

from math import ceil, hypot, isfinite, sqrt

from msgspec import Struct

from capture.metrology.fit.decision import Acceptance, Rule, SpecificationLimits, acceptance, largest_u


class GaugeProof(Struct, frozen=True):
    """Whether a gauge can prove a fit, and what could."""

    acceptance: Acceptance
    """The band that is left with the readings as planned."""
    enough: bool
    """Whether that band is as wide as was wanted."""
    u_due: float | None
    """The largest standard uncertainty that leaves the band; ``None`` where no gauge could."""
    readings_due: int | None
    """Readings to average at each place to come to it; ``None`` where averaging cannot."""
    said: str


def proof(
    rule: Rule, limits: SpecificationLimits, *, systematic: float, repeat: float, readings: int, band: float
) -> GaugeProof:
    """Whether a gauge can prove a fit, and what could.

    Args:
        rule: How conformity is decided.
        limits: What is allowed, both sides.
        systematic: Standard uncertainty that averaging does not lessen (master, temperature, form).
        repeat: Standard deviation of one reading.
        readings: How many are averaged at each place.
        band: Width of the acceptance band that grinding needs, in the unit of the limits.
    """
    if readings < 1 or min(systematic, repeat) < 0:
        raise ValueError("a proof needs one reading or more and uncertainties of zero or more")
    left = acceptance(rule, hypot(systematic, repeat / sqrt(readings)), limits)
    due = largest_u(rule, limits, band=band)
    width = left.most - left.least if left.most is not None and left.least is not None else -1.0
    enough = width >= band * (1 - 1e-9)
    if due is None:
        return GaugeProof(left, enough, None, None, "the band that is wanted is wider than the limits allow")
    if enough:
        return GaugeProof(left, enough, due, readings, "this gauge can prove this fit")
    start = "this gauge cannot prove this fit" if not left.left else "the band that is left is too narrow"
    if systematic >= due:
        way = "a better master, closer temperatures or another gauge could; more readings cannot"
        return GaugeProof(left, enough, due, None, f"{start}: {way}")
    many = ceil(repeat**2 / (due**2 - systematic**2) * (1 - 1e-12)) if isfinite(due) else 1
    return GaugeProof(
        left, enough, due, max(many, 1), f"{start}: {many} readings averaged at each place could"
    )
