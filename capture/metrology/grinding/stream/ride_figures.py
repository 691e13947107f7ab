"""Spark-out as a gauge on the part sees it: what each pass took, and so what one more without infeed takes.

A pass takes the share K of what stands in the part, so that without infeed each takes 1 - K of what the one
before it took (King and Hahn; Malkin and Guo, "Grinding Technology"). What passes took is read off as steps
of the size, in which heat that comes and goes between them has no part. K is learnt from the rests
themselves, beside what grinders have in common; what the newest took, from all rests since the last feed.
Lengths are mm on diameter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import hypot, sqrt
from typing import NamedTuple

from msgspec import Struct, structs
from scipy.special import ndtr

from capture.metrology.grinding.outlook import GrindLimits, Outlook, Verdict

LEFT, U_LEFT = 0.5, 0.13
"""1 - K of a grinder that nobody has seen yet, mean and standard deviation (an estimate, no source)."""
LEAST_LEFT, MOST_LEFT = 0.15, 0.85
UNEVEN = 0.08
"""Standard deviation of what a pass takes, as a share: the bite of a wheel is not the same each time."""
CALL = 0.9
"""Probability at which to call, so that 95 % of calls are right (`capture.benchmarks.trials.rides`)."""
SURELY = 0.985
"""The same that the next pass takes less than twice the limit."""


class PassRemoval(NamedTuple):
    """What one pass took."""

    removed: float
    u: float
    rest: bool
    """It had no infeed."""
    seen: bool = True
    """The size showed it, and not the rhythm alone."""


class RideFigures(Struct, frozen=True):
    """What is known after the newest pass."""

    removed: float
    u_removed: float
    left: float
    """Of what a pass took, what the next without infeed takes: 1 - K."""
    u_left: float
    rest: bool
    seen: bool = True

    @property
    def next_removal(self) -> tuple[float, float]:
        """By one more pass without infeed, and its standard uncertainty."""
        mean = self.left * self.removed
        return mean, sqrt(
            (self.left * self.u_removed) ** 2 + (self.removed * self.u_left) ** 2 + (UNEVEN * mean) ** 2
        )

    @property
    def to_come(self) -> tuple[float, float]:
        """By passes without infeed from here on, and its standard uncertainty: ``r q / (1 - q)``."""
        ratio = self.left / (1.0 - self.left)
        u_ratio = self.u_left / (1.0 - self.left) ** 2
        return ratio * self.removed, hypot(ratio * self.u_removed, self.removed * u_ratio)


def ride_figures(passes: Sequence[PassRemoval]) -> RideFigures:
    """What the newest of *passes* leaves to come; there must be one.

    >>> found = ride_figures([PassRemoval(0.004, 5e-5, False), PassRemoval(0.002, 5e-5, True)])
    >>> round(found.left, 2), round(found.next_removal[0], 4)
    (0.5, 0.001)
    """
    left, u_left = _left(passes)
    removed, u = passes[-1].removed, passes[-1].u
    run = 0
    while run < len(passes) and passes[-1 - run].rest:
        run += 1
    if 0 < run < len(passes):
        removed, u = _fused(passes[-1 - run :], left, u_left)
    return RideFigures(max(removed, 0.0), u, left, u_left, passes[-1].rest, passes[-1].seen)


def _left(passes: Sequence[PassRemoval]) -> tuple[float, float]:
    """1 - K by least squares through nothing over pairs of which the later is a rest, beside the estimate."""
    weight, sum_ = U_LEFT**-2, LEFT * U_LEFT**-2
    for before, after in pairwise(passes):
        if after.rest and before.removed > 0.0:
            variance = after.u**2 + (LEFT * before.u) ** 2 + (UNEVEN * before.removed) ** 2
            weight += before.removed**2 / variance
            sum_ += before.removed * after.removed / variance
    return min(max(sum_ / weight, LEAST_LEFT), MOST_LEFT), weight**-0.5


def _fused(run: Sequence[PassRemoval], left: float, u_left: float) -> tuple[float, float]:
    """What the last pass of *run* took, by itself and by those before it, all rests but the first."""
    mean, variance = run[0].removed, run[0].u ** 2
    for one in run[1:]:
        due = left * mean
        spread = left**2 * variance + (mean * u_left) ** 2 + (UNEVEN * due) ** 2
        gain = spread / (spread + one.u**2)
        mean, variance = due + gain * (one.removed - due), spread * (1.0 - gain)
    return mean, sqrt(variance)


def as_stored(found: RideFigures) -> dict[str, float | str]:
    """The figures as a taken reading keeps them."""
    return {
        "rides.removed": round(found.removed, 7),
        "rides.u": round(found.u_removed, 7),
        "rides.left": round(found.left, 4),
        "rides.u_left": round(found.u_left, 4),
        "rides.rest": float(found.rest),
        "rides.seen": float(found.seen),
    }


def stored(settings: Mapping[str, float | str]) -> RideFigures | None:
    """The figures that `as_stored` kept; None where there are none."""
    names = ("rides.removed", "rides.u", "rides.left", "rides.u_left", "rides.rest", "rides.seen")
    values = [settings.get(name) for name in names]
    if not all(isinstance(value, float | int) for value in values):
        return None
    removed, u, left, u_left, rest, seen = (float(value) for value in values if value is not None)
    return RideFigures(removed, u, min(max(left, LEAST_LEFT), MOST_LEFT), u_left, bool(rest), bool(seen))


class ColdReading(NamedTuple):
    """The size that the gauge showed after the pass, at 20 °C as far as the growth is known."""

    value: float
    u: float
    growth: float
    """How much larger it was; 0 where nobody knows."""
    known: bool


def by_ride(found: Outlook, ride: RideFigures, size: ColdReading, limits: GrindLimits) -> Outlook:
    """*found* with the figures that the gauge on the part gives, and their verdict; in whole sizes."""
    coming, u_next = ride.next_removal
    to_come, u_come = ride.to_come
    predicted, u_predicted = size.value - to_come, hypot(u_come, size.u)
    below = float(ndtr((limits.removal - coming) / max(u_next, 1e-9)))
    twice = float(ndtr((2.0 * limits.removal - coming) / max(u_next, 1e-9)))
    settled = ride.rest and ride.seen and below >= CALL and twice >= SURELY
    return structs.replace(
        found,
        size=size.value,
        u_size=size.u,
        removed=ride.removed,
        u_removed=ride.u_removed,
        to_come=to_come,
        u_to_come=u_come,
        next_removal=coming,
        u_next=u_next,
        p_below=below,
        predicted=predicted,
        u_predicted=u_predicted,
        share=1.0 - ride.left,
        u_share=ride.u_left,
        settled=settled,
        cold=size.known,
        verdict=_verdict(found, ride, size, limits, (predicted, u_predicted), settled=settled),
    )


def _verdict(
    found: Outlook,
    ride: RideFigures,
    size: ColdReading,
    limits: GrindLimits,
    end: tuple[float, float],
    *,
    settled: bool,
) -> Verdict:
    if found.verdict == "growing":
        return "growing"
    if not ride.rest:
        return "cutting"
    if not settled:
        return "sparking-out"
    if size.growth > limits.warm:
        return "warm"
    return "at-size" if _inside(limits, *end) else "sparked-out"


def _inside(limits: GrindLimits, predicted: float, u: float) -> bool:
    """Whether the predicted size is as surely inside the band as calls are to be right."""
    if limits.band is None:
        return False
    low, high = ((bound - predicted) / max(u, 1e-9) for bound in limits.band)
    return float(ndtr(high) - ndtr(low)) >= limits.confidence
