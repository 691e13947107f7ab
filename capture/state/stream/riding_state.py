"""A riding gauge, as kept: a bounded summary of its stream, and the passes found in it."""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

from capture.metrology.gauges.turning_part import SecondMean
from capture.metrology.grinding.stream.plunge_decay import DwellFit
from capture.metrology.grinding.stream.ride_figures import RideFigures

RidePhase: TypeAlias = Literal["silent", "rest", "cutting", "lifted"]
"""What the size does: nothing comes, nothing changes, it falls or is pushed, the gauge is off the part."""

KEPT = 60
"""Seconds' means that are looked back upon for passes."""
DRAWN = 900
"""Seconds' means that are kept for the trend: fifteen minutes."""
MOST_STEPS = 40
"""Passes that are kept for the rhythm and the trend."""


class SizeStep(Struct, frozen=True):
    """One pass of the wheel as the size showed it."""

    at: float
    """When the wheel was at the gauge, seconds."""
    removed: float
    """mm on diameter."""
    u: float
    size: float
    """What the gauge showed after it, mm."""
    rest: bool = False
    """It took so much less than the pass before it that it had no infeed."""
    seen: bool = True
    """The size or the push of the wheel showed it; else it is due by the rhythm alone."""
    due: bool = True
    """It came when one was due by the rhythm of those before, or these have none."""
    odd: bool = False
    """A small fall when no pass was due, as where coolant is shut in a pause."""
    before_at: float = 0.0
    """Middle of the seconds over which the size stood before it, and"""
    u_before: float = 0.0
    """standard uncertainty of that size, mm."""
    after_at: float = 0.0
    """The same of the size after it."""
    u_after: float = 0.0
    figures: RideFigures | None = None
    """What is still to come, where the decay of a dwell shows it; None: the passes so far show it."""
    again: bool = False
    """The newest pass once more, a dwell that has gone on."""


class Plateau(Struct, frozen=True):
    """The size between two passes, as far as it is known."""

    n: int = 0
    mean: float = 0.0
    """mm."""
    scatter: float = 0.0
    """Pooled standard deviation of single readings, mm."""
    at: float = 0.0
    """Middle of its seconds."""


class Dwell(Struct, frozen=True):
    """A plunge in hand: its infeed, and the dwell after that."""

    begun: float
    """When the size began to fall."""
    size: float
    """What the gauge showed before, mm."""
    stopped: float | None = None
    """About when the infeed stopped; None: it goes on."""
    since: float = 0.0
    """From when the infeed in hand has gone on at its rate."""
    seconds: tuple[SecondMean, ...] = ()
    """The last of the infeed and all of the dwell."""
    fit: DwellFit | None = None
    recorded: int = 0
    """What was found of it: 1 the infeed, 2 the dwell, 3 the dwell when next to nothing was to come, 4 when
    the part was cold as well."""
    sure: int = 0
    """Seconds in a row in which next to nothing was to come."""


class RidingState(Struct, frozen=True):
    """One riding gauge's stream."""

    times: tuple[float, ...] = ()
    """Of the newest few seconds, when and"""
    values: tuple[float, ...] = ()
    """what, mm."""
    since: float | None = None
    """When the second in hand began."""
    seconds: tuple[SecondMean, ...] = ()
    """Since the last pass, the newest `KEPT`."""
    drawn: tuple[tuple[float, float], ...] = ()
    """When and what, the newest `DRAWN`: the trend."""
    plateau: Plateau = Plateau()
    noise: float = 0.0
    """Standard deviation of a second's mean while nothing changes, mm."""
    learnt: int = 0
    phase: RidePhase = "silent"
    home: float | None = None
    """What it showed of the part before it was lifted, mm."""
    cutting_since: float = 0.0
    pushed: float = 0.0
    """How far it was pushed the other way in the pass in hand, mm."""
    steps: tuple[SizeStep, ...] = ()
    """The newest passes."""
    count: int = 0
    """Passes found so far."""
    pauses: int = 0
    """Passes in a row that rest on the rhythm alone."""
    made: SizeStep | None = None
    """A pass that was found, while it is not sure that it is over."""
    rough: float = 0.0
    """Logarithm of the scatter beside the wheel over that without it, as clear passes showed, smoothed."""
    clear: int = 0
    """Clear passes that this was learnt from."""
    falls: tuple[float, ...] = ()
    """Seconds in which the wheel went by in the newest clear passes."""
    first_seq: int = -1
    """First reading of the plateau in hand, and"""
    last_seq: int = -1
    """the newest."""
    due: SizeStep | None = None
    """A pass found and not yet recorded."""
    owed: bool = False
    """A size is to be taken at the gauge's place: before the first pass."""
    away: bool = False
    """It was off the part, or silent, since the newest pass: others may have been made."""
    spoilt: int = 0
    """Seconds in a row whose readings scattered too far."""
    lost: int = 0
    """Seconds in a row that meant no size."""
    plunge: Dwell | None = None
    """Infeed that goes on, or the dwell after it."""
    limit: float = 0.0
    """mm that may still be to come when a dwell counts as done, and"""
    warm: float = 0.0
    """mm of growth up to which the part counts as cold, as the sheet says; 0: not known."""

    @property
    def lasts(self) -> float:
        """Seconds in which the wheel goes by; 0: not seen yet."""
        return sorted(self.falls)[(len(self.falls) - 1) // 2] if self.falls else 0.0

    @property
    def size(self) -> float | None:
        """What it shows now, mm, sign applied and zero not; None where it shows no size."""
        return self.seconds[-1].value if self.seconds and self.phase in {"rest", "cutting"} else None
