"""Placings, as kept: what the stream of a gauge held by hand or on a bench has shown, and what it does."""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

from capture.sheet.stream_settings import PlacingSettings
from capture.state.sweep.sweep_state import StreamSample

Doing: TypeAlias = Literal["silent", "away", "closing", "settling", "settled", "lifted"]
"""What the gauge is doing, as its stream tells; `lifted` may still be followed by a placing again."""

Side: TypeAlias = Literal[1, -1]
"""1: it comes down on the part, as a micrometer closes; -1: the part opens it, from below."""

KEPT = 4.0
"""Seconds that are looked back upon, and"""
MOST = 256
"""readings at the most."""
MOST_TURNS = 12
"""Turning points of one placing that are kept."""


class Level(Struct, frozen=True):
    """What a gauge shows at rest, or at the turning points of its rocks, sign applied and zero not."""

    value: float
    """mm."""
    u: float
    seq: int
    """The reading on which it was found."""
    of: tuple[int, ...]
    """The readings that it rests on."""
    since: float
    """When it came there, seconds."""
    until: float
    turns: int = 0
    """Turning points that it rests on; 0: it stood still."""

    @property
    def dwell(self) -> float:
        """Seconds for which it stood still."""
        return self.until - self.since


class TurnPoint(Struct, frozen=True):
    """A turning point of a gauge rocked over the diameter."""

    at: float
    value: float
    u: float
    seq: int


class GaugeContact(Struct, frozen=True):
    """One coming to the part from one side, until the gauge is lifted again; the values are times `side`."""

    side: Side
    high: float | None = None
    """Farthest from the part that it has been since the last contact, while none is in hand."""
    travel: float = 0.0
    """From how far it came."""
    low: float | None = None
    """Nearest that it has come; None while there is no contact."""
    began: float = 0.0
    """When this contact began, seconds."""
    touched: float = 0.0
    """When it last was within `lift` of `low`."""
    best: Level | None = None
    """The nearest place at which it has settled."""
    turning: bool = False
    """It has come back up from `peak` since; a lowest was found."""
    left: int = -1
    """Number of the reading of the turn before the dip in hand; -1 for none."""
    dip: int = -1
    """Number of its lowest reading."""
    turns: tuple[TurnPoint, ...] = ()
    accepted: Level | None = None


class Ways(Struct, frozen=True):
    """Between which sizes the gauge goes: where it turns back tells which of the two ends is the part."""

    up: bool | None = None
    """A highest is sought; None before the first way."""
    extreme: float | None = None
    """The extreme so far, mm."""
    highs: tuple[float, ...] = ()
    """The newest highest, mm, and"""
    lows: tuple[float, ...] = ()
    """lowest, from which it has come back."""


class PlacingState(Struct, frozen=True):
    """One diameter gauge's stream."""

    recent: tuple[StreamSample, ...] = ()
    smooth: tuple[float, ...] = ()
    """The same, each the median of the newest few: a drop or a knock of one reading does not show."""
    base: int = 0
    """Number of the first of `recent`, counted from the first of all."""
    quick: int = 0
    """Readings in a row that came close together."""
    run: int = -1
    """`seq` of the first reading of the run in hand."""
    streams: bool = False
    found: int = -1
    """`seq` of the reading on which it was found to stream."""
    ways: Ways = Ways()
    largest: float = 0.0
    """The largest that it has shown, mm: one that shows whole sizes is known by that."""
    scatter: float = 0.0
    """Standard deviation of one reading, as readings at rest showed it, mm."""
    still: int = 0
    """Readings that this was learnt from."""
    contacts: tuple[GaugeContact, GaugeContact] = (GaugeContact(1), GaugeContact(-1))
    doing: Doing = "silent"
    due: Level | None = None
    """A size found and not yet recorded as taken."""
    again: int = -1
    """`seq` of the reading on which a placing was found that takes the place of the one before it."""
    further: bool = False
    """That one was found before the gauge was on the part: it has been closed further since."""
    last: Level | None = None
    """The size that was found before."""
    left_at: float | None = None
    """When the gauge was lifted from that."""
    mastered: bool = False
    """It is on its master, which is done: nothing more until it is lifted."""
    paused: bool = False


class PlacingSetup(Struct, frozen=True):
    """What a gauge, the settings and the sizes so far make of a stream."""

    limits: PlacingSettings
    interval: float
    """Seconds between readings up to which a gauge streams."""
    noise: float
    """Standard deviation of one reading by the sheet, rounding included, mm."""
    step: float
    near: tuple[float, ...]
    """What the gauge shows of sizes that are due, sign applied, mm."""
    sizes: tuple[float, ...]
    """The same of the newest sizes of this stage."""
    far: tuple[float, ...]
    """The same of sizes that may be as well."""
    zero: float | None
    """What it shows when it is closed on itself, where its zero is a size; else None."""
    master: bool = False
