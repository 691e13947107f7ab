"""Sweep, as kept: what a streaming bore gauge has shown, and what it is doing."""

from __future__ import annotations

from functools import lru_cache
from math import radians, sqrt
from typing import Any, Literal, TypeAlias

from msgspec import Struct

from capture.metrology.bore.turning_point import RockFault
from capture.metrology.gauges.single_reading import scatter_of, with_rounding
from capture.sheet.stream_settings import SweepSettings as Limits
from capture.state.append_log import Log
from capture.state.sweep.phases import Phase

Tone: TypeAlias = Literal["", "accepted", "again", "slower"]
"""What is sounded once: accepted, try again (or set aside for that), rock more slowly."""

KEPT = 768
"""Readings that are looked back upon: 15 s at 50 Hz."""
MOST_POINTS = 24
"""Turning points of one place that are kept."""
NO_SIZE = 50.0
"""mm; size of the bore where nothing tells it, for what a tilt makes of it."""
FADE = 400.0
"""Degrees of freedom that the noise of a gauge is learnt from at the most."""
SHEET_COUNTS = 10.0
"""Degrees of freedom that the noise by the sheet counts for."""


class StreamSample(Struct, frozen=True, array_like=True):
    """One reading of the stream."""

    at: float
    """Seconds since the recording began."""
    value: float
    """mm, sign of the gauge applied, zero not."""
    seq: int


class Point(Struct, frozen=True):
    """A turning point that was found."""

    at: float
    value: float
    u: float
    seq: int
    """The reading nearest to it."""
    height: float
    """How far the rock rose above it, mean of both sides, mm."""
    half: float
    """How long it took from turn to turn, seconds."""
    first: int
    """Number of the reading at which its rock began, counted from the first of all."""
    last: int
    """And at which it ended: where rocks follow each other, the first of the next."""
    shaped: float = 0.0
    """Part of `u` that all rocks of this hand share, mm."""


class Accepted(Struct, frozen=True):
    """A place's reading, by its sweep."""

    seq: int
    """The reading on which it was accepted."""
    at: float
    value: float
    """mm, sign applied, zero not."""
    u: float
    of: tuple[int, ...]
    low: tuple[int, ...] = ()
    """Turning points left out because they are lower: swung off the centre, or a chip."""
    high: tuple[int, ...] = ()
    """Those left out because they are higher: knocked, or never upright."""


class Placement(Struct, frozen=True):
    """The gauge at one place, from when it came there until it is moved or withdrawn."""

    points: tuple[Point, ...] = ()
    accepted: Accepted | None = None
    last: float | None = None
    """When it was last at the bottom of a rock of this place."""
    half: float = 0.0
    """How long half a rock takes here, seconds."""
    dips: int = 0
    sparse: int = 0
    """Dips with too few readings to fit."""
    knocks: int = 0
    """Dips that were broken by a knock."""
    off: int = 0
    """Dips since `last` that were not of this place."""
    others: tuple[Point, ...] = ()
    """Turning points after the acceptance that may be of another place."""
    moved: bool = False
    """Something like a break was seen before `others`."""
    mastered: bool = False
    """It is on the master, which is done: nothing more until it has been withdrawn."""


class SweepState(Struct, frozen=True):
    """One bore gauge's stream."""

    recent: Log[StreamSample] = Log()
    base: int = 0
    """Number of the first of `recent`, counted from the first of all."""
    quick: int = 0
    """Readings in a row that came close together."""
    run: int = -1
    """`seq` of the first reading of the run in hand."""
    streams: bool = False
    """It has been found to stream, or the sheet says so."""
    found: int = -1
    """`seq` of the reading on which it was found to stream."""
    trend: int = 1
    """1 while a highest is sought, -1 while a lowest."""
    peak: tuple[int, float] = (0, 0.0)
    """The extreme so far: number of the reading, and value."""
    left: int = -1
    """The turn of the hand before the rock in hand; -1 for none."""
    low: int = -1
    """The lowest of the rock in hand."""
    anchor: tuple[float, float, int] = (0.0, 0.0, 0)
    """When and at what value it began to hold still, and the number of that reading."""
    rests: tuple[tuple[float, float], ...] = ()
    """From when to when it held still, the newest few."""
    out_since: float | None = None
    left_at: float | None = None
    """When it left the bore, while it is out."""
    level: float | None = None
    """The bore's size near where the gauge last was."""
    height: float = 0.0
    """How high rocks went of late, mm."""
    phase: Phase = "silent"
    placement: Placement = Placement()
    squares: float = 0.0
    """Of residuals, mm²: what the noise is learnt from."""
    freedom: float = 0.0
    paused: bool = False
    due: Accepted | None = None
    """Accepted, and not yet recorded as taken."""
    redo: int = -1
    """`seq` of the reading on which the gesture was seen, while the program has not answered."""
    tone: Tone = ""
    tone_seq: int = -1
    """The reading on which `tone` was called for, so that one is sounded once."""
    why: RockFault | None = None
    """What the last dip that was no turning point was."""

    @property
    def count(self) -> int:
        """Readings so far."""
        return self.base + len(self.recent)

    def sample(self, number: int) -> StreamSample:
        """The reading of that number."""
        return self.recent[number - self.base]


class Setup(Struct, frozen=True):
    """What a gauge and the settings make of a stream."""

    limits: Limits
    noise: float
    """Standard deviation of one reading by the sheet, rounding included, mm."""
    turn: float
    """What a reading must come back by for a turn, mm."""
    rise: float
    """Least height of a rock, mm."""
    points: int
    """Least number of turning points."""
    accept: float
    """Standard uncertainty at which a place is accepted, mm."""
    size: float
    """About the bore's size, mm."""
    centre: float | None = None
    """What the gauge shows of a bore of that size, sign applied, mm; None where its zero is not known."""


def with_tone(tone: Tone, sample: StreamSample) -> dict[str, Any]:
    """What a tone changes in the sweep."""
    return {"tone": tone, "tone_seq": sample.seq}


@lru_cache(maxsize=64)
def setup(
    limits: Limits,
    resolution: float,
    repeatability: float | None = None,
    size: float | None = None,
    centre: float | None = None,
    *,
    master: bool = False,
) -> Setup:
    """The setup of a gauge of *resolution* in a bore of about *size*, mm.

    A rock by theta rises ``size theta² / 2``. A gauge's own floor is a quarter of its step: the
    rounding of a moving reading averages out, but not without end. On a master twice the points
    and half the variance are due, because every reading after it has the same error.
    """
    noise = max(with_rounding(scatter_of(repeatability, resolution), resolution), 1e-5)
    about = size or NO_SIZE
    rise = max(about * radians(limits.tilt) ** 2 / 2, 9 * noise)
    return Setup(
        limits=limits,
        noise=noise,
        turn=max(0.7 * rise, 6 * noise),
        rise=rise,
        points=2 * limits.points if master else limits.points,
        accept=max(limits.u, resolution / 4) * (sqrt(0.5) if master else 1.0),
        size=about,
        centre=centre,
    )
