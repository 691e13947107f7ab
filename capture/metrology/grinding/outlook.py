"""What is known of a grind, and the outlook that follows: passes, sizes, limits, verdicts.

Verdicts, the first that holds:

1. `growing`: the part surely gets larger, which no wheel can do: it is heat.
2. `stalled`: an infeed was given and surely next to nothing came off: wheel in the air, glazed, or slipping.
3. `cutting`: an infeed was given, or it is not known and metal still comes off.
4. `sparking-out`: no infeed, and it is not yet sure that the next pass takes less than the limit.
5. `warm`: it is sure, but the part is warmer than it may be; a warm part is never called done.
6. `at-size`: it is sure, and the predicted cold size is inside the guarded band.
7. `sparked-out`: it is sure.

`Outlook.settled` is the bare finding behind the last three. Lengths are mm; infeeds, removals and what is to
come are on diameter.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

from capture.metrology.message import Reasons

Verdict: TypeAlias = Literal[
    "cutting", "sparking-out", "sparked-out", "growing", "warm", "stalled", "at-size"
]
Method: TypeAlias = Literal["none", "model", "sequential"]


class Stroke(Struct, frozen=True):
    """One pass of the wheel."""

    infeed: float | None
    """On diameter; 0 is a pass without infeed, None is not known."""
    t: float = 0.0
    """Seconds since any moment."""


class SizeReading(Struct, frozen=True, kw_only=True):
    """One reading of the part's diameter."""

    after: int
    """Passes made before it; 0 is before the first."""
    value: float
    """At 20 °C where the growth is known, else as the gauge had it; a deviation from any reference."""
    u: float
    """Standard uncertainty of one reading by the gauge's scatter alone, its rounding left out."""
    place: int = 0
    """Number of the station and angle: places differ by constants."""
    resolution: float = 0.0
    growth: float | None = None
    """What `value` was corrected by, warm less cold; None where the temperature is not known."""
    u_growth: float = 0.0
    t: float = 0.0


class GrindLimits(Struct, frozen=True, kw_only=True):
    """Where a grind counts as done."""

    removal: float
    """On diameter a pass."""
    confidence: float
    warm: float
    """Growth over the size at 20 °C."""
    band: tuple[float, float] | None = None
    """Guarded band of the cold size, as deviations from the reference of the sizes."""


class Outlook(Struct, frozen=True, kw_only=True):
    """What is known after a pass; None is not known yet. Each ``u_`` is a standard uncertainty."""

    number: int
    size: float | None = None
    """Mean over the places, cold as far as the growth is known or the sizes betray it; like the sizes."""
    u_size: float | None = None
    removed: float | None = None
    """By the newest pass."""
    u_removed: float | None = None
    to_come: float | None = None
    """By passes without infeed from here on."""
    u_to_come: float | None = None
    next_removal: float | None = None
    """By one more pass without infeed."""
    u_next: float | None = None
    p_below: float | None = None
    """Probability that one more pass without infeed takes less than the limit."""
    predicted: float | None = None
    """Size when nothing more comes off without infeed."""
    u_predicted: float | None = None
    share: float | None = None
    """Of what is to come, taken by one pass."""
    u_share: float | None = None
    sigma: float | None = None
    """Scatter of the gauge as the readings show it, standard deviation of one."""
    p_growing: float | None = None
    p_heat: float | None = None
    """Probability that the part gets warm unseen; 0 where its temperature is known."""
    settled: bool = False
    """Surely next to nothing more comes off without infeed, whatever the part's temperature."""
    cold: bool = False
    """The sizes are at 20 °C by a known temperature."""
    method: Method = "none"
    verdict: Verdict
    why: Reasons = ()
    """What speaks against it or is missing; empty where nothing is."""
