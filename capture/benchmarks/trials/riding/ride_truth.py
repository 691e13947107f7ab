"""What truly happened in a grind under a riding gauge."""

from __future__ import annotations

from msgspec import Struct


class TruePass(Struct, frozen=True):
    """One pass of the wheel."""

    at: float
    """Seconds at which the middle of the wheel was at the gauge's place."""
    infeed: float
    removed: float
    size: float
    """Cold size of the place after it."""
    to_come: float
    """What passes without infeed would still take off, mm."""
    next_removal: float
    """What one more pass without infeed would take."""


class GrindTruth(Struct, frozen=True):
    """One grind."""

    size: float
    """Cold, before the first pass, mm."""
    passes: tuple[TruePass, ...]
    stroke: float
    """Seconds."""
    begins: float
    """When the first pass begins, seconds."""
