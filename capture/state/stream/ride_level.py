"""Where the size of a riding gauge stands, where it leaves that, and when it stands again."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from msgspec import Struct

from capture.metrology.gauges.turning_part import SecondMean
from capture.state.stream.riding_state import Plateau

DRIFTS = 3e-6
"""mm a second; standard deviation of how fast a cooling part shrinks (common practice, no source)."""
POWER = 4.0
"""Standard uncertainties by which the mean fall of a pass must stand out of a rest that ends it."""
EBBS = 0.4
"""Share of the mean fall of a pass that the fall at its end may have."""
SHORTEST, AFTER, LONGEST = 3, 5, 12
"""Seconds that the end of a pass is seen over: least, most where its length is known, and most."""


class SizeLine(Struct, frozen=True):
    """The size between two passes as a line in time."""

    at: float
    """The middle of the seconds, s."""
    mean: float
    """mm at the middle."""
    slope: float
    """mm a second."""
    u_mean: float
    u_slope: float

    def value(self, at: float) -> float:
        """What it comes to, mm."""
        return self.mean + self.slope * (at - self.at)

    def u(self, at: float) -> float:
        """Standard uncertainty of that, mm."""
        return sqrt(self.u_mean**2 + (self.u_slope * (at - self.at)) ** 2)


def line_of(seconds: Sequence[SecondMean], noise: float) -> SizeLine:
    """The line through *seconds*, of which there must be one; its slope is believed to be small.

    Args:
        seconds: Means while the size stands.
        noise: Standard deviation of one, mm.
    """
    count = len(seconds)
    at = sum(one.at for one in seconds) / count
    mean = sum(one.value for one in seconds) / count
    spread = sum((one.at - at) ** 2 for one in seconds) + (noise / DRIFTS) ** 2
    slope = sum((one.at - at) * (one.value - mean) for one in seconds) / spread
    return SizeLine(at, mean, slope, noise / sqrt(count), noise / sqrt(spread))


def plateau_of(seconds: Sequence[SecondMean], scatter: float = 0.0) -> Plateau:
    """The size over *seconds*, of which there must be one; *scatter* of single readings, mm."""
    count = len(seconds)
    at = sum(one.at for one in seconds) / count
    return Plateau(count, sum(one.value for one in seconds) / count, scatter, at)


def ended(seconds: Sequence[SecondMean], drop: float, lasts: float, noise: float) -> bool:
    """Whether a pass that made the size fall by *drop* is over.

    A wide wheel that goes by slowly lowers the size by less than the noise from one second to the next: the
    seconds at its end that are looked at are as many as tell its fall from none.

    Args:
        seconds: Means since the size left where it stood.
        drop: mm, either way.
        lasts: Seconds that passes before it took; 0: not known yet.
        noise: Standard deviation of a second's mean, mm.
    """
    gone = seconds[-1].at - seconds[0].at + 1.0
    if gone < lasts or len(seconds) < SHORTEST:
        return False
    rate = abs(drop) / gone
    due = (12.0 * (POWER * noise / max(rate, 1e-9)) ** 2) ** (1.0 / 3.0)
    count = min(max(SHORTEST, round(due)), AFTER if lasts else LONGEST)
    if len(seconds) < count:
        return False
    newest = seconds[-count:]
    at = sum(one.at for one in newest) / count
    slope = sum((one.at - at) * one.value for one in newest) / sum((one.at - at) ** 2 for one in newest)
    return bool(abs(slope) < EBBS * rate or abs(slope) < 2.0 * noise * sqrt(12.0 / count**3) < rate)


def fall_time(seconds: Sequence[SecondMean], before: float, after: float) -> float:
    """Seconds that a fall from *before* to *after* took, by the time from a quarter to three quarters."""
    drop = before - after
    first = next((i for i, one in enumerate(seconds) if one.value < before - 0.25 * drop), 0)
    last = next((i for i, one in enumerate(seconds) if one.value < before - 0.75 * drop), first)
    return 1.0 + 2.0 * (seconds[last].at - seconds[first].at)
