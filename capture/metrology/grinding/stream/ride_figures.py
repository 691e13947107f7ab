"""Spark-out as a gauge on the part sees it: what passes took, what is to come, and what is called.

What still stands in the part is followed from level to level (`ride_filter`), heat and all. A recording from
before that was so keeps what its passes took and the share left, from which the same is worked out more
roughly. Lengths are mm on diameter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot, sqrt
from typing import NamedTuple

from msgspec import Struct, structs
from scipy.special import ndtr

from capture.metrology.grinding.outlook import GrindLimits, Outlook, Verdict
from capture.metrology.grinding.stream.ride_filter import UNEVEN, LeveledPass, standing_after

LEAST_LEFT, MOST_LEFT = 0.15, 0.85
CALL = 0.9
"""Probability at which to call, so that 95 % of calls are right (`benchmarks.trials.riding.rides`)."""
SURELY = 0.985
"""The same that the next pass takes less than twice the limit."""


class RideFigures(Struct, frozen=True):
    """What is known after the newest pass."""

    removed: float
    u_removed: float
    left: float
    """Of what a pass took, what the next without infeed takes: 1 - K."""
    u_left: float
    rest: bool
    seen: bool = True
    coming: tuple[float, float] | None = None
    """By one more pass without infeed, and its standard uncertainty; None: by an older recording."""
    standing: tuple[float, float] | None = None
    """By all passes without infeed from here on; None likewise."""
    fall: tuple[float, float] | None = None
    """What the gauge shows now less what it will show in the end, when the part is cold; None likewise."""
    growth: tuple[float, float] | None = None
    """How much larger than cold the part is, as its cooling shows; None likewise."""
    tau: tuple[float, float] | None = None
    """Time constant of a dwell, s; None: by passes. What comes is then what all of the dwell still takes."""

    @property
    def next_removal(self) -> tuple[float, float]:
        """By one more pass without infeed, and its standard uncertainty."""
        if self.coming is not None:
            return self.coming
        mean = self.left * self.removed
        return mean, sqrt(
            (self.left * self.u_removed) ** 2 + (self.removed * self.u_left) ** 2 + (UNEVEN * mean) ** 2
        )

    @property
    def to_come(self) -> tuple[float, float]:
        """By passes without infeed from here on, and its standard uncertainty: ``r q / (1 - q)``."""
        if self.standing is not None:
            return self.standing
        ratio = self.left / (1.0 - self.left)
        u_ratio = self.u_left / (1.0 - self.left) ** 2
        return ratio * self.removed, hypot(ratio * self.u_removed, self.removed * u_ratio)


def ride_figures(
    passes: Sequence[LeveledPass], *, shown: float, seen: bool = True, from_first: bool = True
) -> RideFigures:
    """What the newest of *passes* leaves to come; there must be one.

    Args:
        passes: In order, with the levels between them.
        shown: What the gauge shows after the newest, mm.
        seen: The size showed that pass, and not its rhythm alone.
        from_first: They begin with the first pass of the grind.
    """
    found = standing_after(passes, from_first=from_first)
    share, u_share = found.share
    return RideFigures(
        removed=max(found.removed[0], 0.0),
        u_removed=found.removed[1],
        left=1.0 - share,
        u_left=u_share,
        rest=passes[-1].rest,
        seen=seen,
        coming=found.next_removal,
        standing=found.to_come,
        fall=(shown - found.end[0], found.end[1]),
        growth=found.growth,
    )


PAIRS = ("coming", "standing", "fall", "growth", "tau")


def as_stored(found: RideFigures) -> dict[str, float | str]:
    """The figures as a taken reading keeps them."""
    kept: dict[str, float | str] = {
        "rides.removed": round(found.removed, 7),
        "rides.u": round(found.u_removed, 7),
        "rides.left": round(found.left, 4),
        "rides.u_left": round(found.u_left, 4),
        "rides.rest": float(found.rest),
        "rides.seen": float(found.seen),
    }
    for name in PAIRS:
        pair = getattr(found, name)
        if pair is not None:
            kept |= {f"rides.{name}": round(pair[0], 7), f"rides.u_{name}": round(pair[1], 7)}
    return kept


def stored(settings: Mapping[str, float | str]) -> RideFigures | None:
    """The figures that `as_stored` kept; None where there are none."""
    names = ("rides.removed", "rides.u", "rides.left", "rides.u_left", "rides.rest", "rides.seen")
    values = [settings.get(name) for name in names]
    if not all(isinstance(value, float | int) for value in values):
        return None
    removed, u, left, u_left, rest, seen = (float(value) for value in values if value is not None)
    left = min(max(left, LEAST_LEFT), MOST_LEFT)
    pairs = {name: _pair(settings, name) for name in PAIRS}
    return RideFigures(removed, u, left, u_left, bool(rest), bool(seen), **pairs)


def _pair(settings: Mapping[str, float | str], name: str) -> tuple[float, float] | None:
    value, u = settings.get(f"rides.{name}"), settings.get(f"rides.u_{name}")
    if isinstance(value, float | int) and isinstance(u, float | int):
        return float(value), float(u)
    return None


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
    if ride.fall is None or size.known:
        predicted, u_predicted = size.value - to_come, hypot(u_come, size.u)
    else:  # nobody watches the part's temperature but its own size
        predicted, u_predicted = size.value - ride.fall[0], hypot(ride.fall[1], size.u)
    below = _under(limits.removal, coming, u_next)
    settled = is_settled(ride, limits.removal)
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


def is_settled(ride: RideFigures, limit: float) -> bool:
    """Whether the newest pass had no infeed and the next surely takes less than *limit*, mm."""
    coming, u = ride.next_removal
    surely = _under(limit, coming, u) >= CALL and _under(2.0 * limit, coming, u) >= SURELY
    return ride.rest and ride.seen and surely


def _under(limit: float, coming: float, u: float) -> float:
    """Probability that less than *limit* comes."""
    return float(ndtr((limit - coming) / max(u, 1e-9)))


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
    if (size.growth if size.known else _warmth(ride)) > limits.warm:
        return "warm"
    return "at-size" if _inside(limits, *end) else "sparked-out"


def _warmth(ride: RideFigures) -> float:
    """How much larger than cold the part may be after a dwell, mm; 0 after a pass of a stroke.

    A dwell ends without the wheel leaving the part: nobody waits who is not asked to.
    """
    return 0.0 if ride.tau is None or ride.growth is None else sum(ride.growth)


def _inside(limits: GrindLimits, predicted: float, u: float) -> bool:
    """Whether the predicted size is as surely inside the band as calls are to be right."""
    if limits.band is None:
        return False
    low, high = ((bound - predicted) / max(u, 1e-9) for bound in limits.band)
    return float(ndtr(high) - ndtr(low)) >= limits.confidence
