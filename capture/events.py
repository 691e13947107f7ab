"""Every fact there is, and the event that gives a fact its number and its time.

Lengths are millimetres, temperatures degrees Celsius, infeed always on diameter.
"""

from __future__ import annotations

from math import isfinite
from typing import Any, Literal, TypeAlias

from msgspec import Struct, field

Unit: TypeAlias = Literal["mm", "degC", "%", "deg", "N", "W", "1"]
"""Units inside the program, one a dimension; "1" is a bare count."""

Wire: TypeAlias = str
"""Bytes as they came, one character a byte (latin-1), so that a recording can be read."""

Part: TypeAlias = Literal["bore", "shaft"]

MOST_DIGITS = 30
"""Decimal places of a reading; ten to the power of what a hostile recording may say is no number."""

MOST_PASSES = 99
"""Passes that one fact may name."""


class Instant(Struct, frozen=True, gc=False, order=True, array_like=True):
    """One moment on two clocks.

    ``mono`` orders events and measures intervals; ``wall`` is for people and may
    step when somebody sets the clock. Never subtract two walls.
    """

    mono: int
    """Nanoseconds since the recording began; never goes back."""
    wall: int
    """Nanoseconds since 1970-01-01T00:00Z, as the host's clock had it."""

    @property
    def seconds(self) -> float:
        """Seconds since the recording began."""
        return self.mono / 1e9


class Fact(Struct, frozen=True, gc=False, tag_field="kind", tag=str.lower):
    """Base of everything an event can say; the subclasses in this file are all there are.

    Facts hold no reference to themselves, so the collector need not look at them (``gc``):
    a million of them are read in half the time.

    A field without a default is always written; one with a default only when it
    says something (``omit_defaults``), which is how optional fields may be added.
    """


def _finite(kind: str, **numbers: float | None) -> None:
    """JSON has no NaN or infinity: they would be written as null and never read back."""
    for name, number in numbers.items():
        if number is not None and not isfinite(number):
            raise ValueError(f"{name} of a {kind} must be finite, got {number}")


class Reading(Fact, frozen=True, gc=False, omit_defaults=True):
    """A value that an instrument gave, with the very bytes it came in."""

    value: float
    """In `unit`: a reading in inches has been multiplied by exactly 25.4."""
    unit: Unit
    digits: int
    """Decimal places that the instrument itself showed, in its own unit."""
    raw: Wire
    shown: str = ""
    """The instrument's own unit where it is not `unit`, such as ``in`` or ``degF``."""

    def __post_init__(self) -> None:
        if not isfinite(self.value):  # a recording has a million of these
            _finite("reading", value=self.value)
        if not -MOST_DIGITS <= self.digits <= MOST_DIGITS:
            raise ValueError(f"digits of a reading must be within {MOST_DIGITS}, got {self.digits}")


class Garbled(Fact, frozen=True, gc=False):
    """Bytes that came in and could not be read, and why."""

    why: str
    raw: Wire


class Up(Fact, frozen=True, gc=False):
    """The link to an instrument opened."""

    detail: str


class Down(Fact, frozen=True, gc=False):
    """The link to an instrument closed, failed, or could not be opened."""

    why: str


class Battery(Fact, frozen=True, gc=False):
    """How full an instrument says its battery is, in per cent."""

    level: float

    def __post_init__(self) -> None:
        _finite("battery", level=self.level)


class Pass(Fact, frozen=True, gc=False, omit_defaults=True):
    """One traverse of the wheel, or one plunge, with its infeed; or several of them."""

    infeed: float | None
    """Millimetres on diameter, of each; 0 is a pass without infeed, None is not known."""
    times: int = 1
    """Passes with this infeed."""
    rests: int = 0
    """Passes without infeed after them."""
    of: int | None = None
    """The ``seq`` of the pass that it says more of, or of the taken reading before which it was made."""
    counted: bool = False
    """A person has counted: so many passes there were, whatever was found."""

    def __post_init__(self) -> None:
        _finite("pass", infeed=self.infeed)
        if not (1 <= self.times <= MOST_PASSES and 0 <= self.rests <= MOST_PASSES):
            raise ValueError(
                f"a pass is 1 to {MOST_PASSES} times and 0 to {MOST_PASSES} rests, "
                f"got {self.times} and {self.rests}"
            )

    @property
    def infeeds(self) -> tuple[float | None, ...]:
        """The infeed of each pass, in order."""
        return (self.infeed,) * self.times + (0.0,) * self.rests


class Station(Fact, frozen=True, gc=False):
    """The next readings are of this place: a person says where the gauge stands."""

    part: Part
    z: float
    """Millimetres from the part's datum end."""
    angle: float
    """Direction of the diameter, degrees."""

    def __post_init__(self) -> None:
        _finite("station", z=self.z, angle=self.angle)


class Stage(Fact, frozen=True, gc=False):
    """What is measured from here on is of this stage: as found, lapped, finish and so on."""

    name: str


class Master(Fact, frozen=True, gc=False):
    """The next readings of this gauge are on the master."""

    gauge: str
    size: float
    """Millimetres at 20 °C."""
    u: float
    """Standard uncertainty of the size, millimetres."""

    def __post_init__(self) -> None:
        _finite("master", size=self.size, u=self.u)


class Reject(Fact, frozen=True, gc=False, omit_defaults=True):
    """Sets an event aside; it stays in the recording and counts for nothing."""

    of: int
    """The ``seq`` of the event set aside."""
    why: str
    undo: bool = False
    """A person took back what was newest (`undo`, `merge`), which `why` then names."""


class Note(Fact, frozen=True, gc=False):
    """Something that a person said about what is being recorded."""

    text: str


class Taken(Fact, frozen=True, gc=False, omit_defaults=True):
    """The program accepted a station reading; it was shown or spoken, so it is a fact."""

    part: Part
    z: float | None
    """Millimetres from the datum end, or None where no station was entered or planned."""
    angle: float | None
    pass_: int = field(name="pass")
    """Number of the pass it was measured after; 0 is before the first."""
    value: float
    """Millimetres, as the gauge had it (its mastering correction included, temperature not)."""
    u: float
    """Standard uncertainty of the value from the gauge alone, millimetres."""
    of: tuple[int, ...]
    """The readings that it rests on."""
    gauge: str = ""
    """The gauge that they came from."""
    settings: dict[str, float | str] = {}
    """The settings in force that it rests on."""
    low: tuple[int, ...] = ()
    """Of a sweep: turning points left out because they are lower, off the centre or on a chip."""
    high: tuple[int, ...] = ()
    """Those left out because they are higher: knocked, or never upright."""

    def __post_init__(self) -> None:
        _finite("taken reading", value=self.value, u=self.u, z=self.z, angle=self.angle)


class Flag(Fact, frozen=True, gc=False, omit_defaults=True):
    """The program said something that a person may have acted on, such as sparked-out or growing."""

    what: str
    pass_: int = field(name="pass")
    of: tuple[int, ...]
    figures: dict[str, float | None] = {}
    """The figures that it rests on, lengths in millimetres."""
    settings: dict[str, float | str] = {}
    gauge: str = ""
    """The gauge that it is about, if it is about one."""
    text: str = ""
    """What it said to a person, where the figures alone do not."""


class Mastered(Fact, frozen=True, gc=False):
    """The program accepted a sweep on the master: the gauge's zero was taken from it."""

    gauge: str
    value: float
    """What the gauge read on the master, its sign turned to that of the size, millimetres."""
    u: float
    """Standard uncertainty of `value` from the sweep, millimetres."""
    of: tuple[int, ...]
    """The readings at its turning points."""

    def __post_init__(self) -> None:
        _finite("mastering", value=self.value, u=self.u)


class Pause(Fact, frozen=True, gc=False):
    """A person wants nothing taken from streams for now, or wants to go on."""

    on: bool


class Lap(Fact, frozen=True, gc=False):
    """How much was lapped since the stage before, as a person counted it."""

    strokes: float | None
    minutes: float | None

    def __post_init__(self) -> None:
        _finite("lap", strokes=self.strokes, minutes=self.minutes)


class Table(Fact, frozen=True, gc=False):
    """The swivel table was moved, as a person read it on the indicator."""

    moved: float | None
    """Millimetres where the table's movement is read, with the indicator's own sign; None is not known."""

    def __post_init__(self) -> None:
        _finite("table", moved=self.moved)


class Dress(Fact, frozen=True, gc=False):
    """The wheel was dressed: what was known of its bite and of where it stands is over."""


class Coolant(Fact, frozen=True, gc=False):
    """Coolant runs on the part from here on, or no longer does."""

    on: bool


class Checked(Fact, frozen=True, gc=False, omit_defaults=True):
    """A person looked at something of the set-up or the part, or did a step beside the measuring."""

    what: str
    """Such as centres, dog, cracks or bake."""
    result: Literal["ok", "not ok", "not due"]
    text: str = ""


class Clamp(Fact, frozen=True, gc=False):
    """How the part or its lock is held from here on; readings are of this state."""

    how: str


class Tried(Fact, frozen=True, gc=False, omit_defaults=True):
    """A trial assembly by hand: how far and in which direction it was tried, and how it felt."""

    depth: float
    """Place on the shaft of the bore's datum end, mm."""
    angle: float
    """Direction in which the shaft stood in the bore, degrees."""
    feel: Literal["loose", "free", "close", "tight", "binds"]
    temperature: float | None = None
    """°C of both parts, as a person read it."""
    text: str = ""
    """The oil, and what else was noticed."""

    def __post_init__(self) -> None:
        _finite("trial assembly", depth=self.depth, angle=self.angle, temperature=self.temperature)


class RunOut(Fact, frozen=True, gc=False, omit_defaults=True):
    """Run-out of the part on its centres, as a person read it on an indicator in one slow turn."""

    z: float
    """Millimetres from the part's datum end."""
    full: float
    """Full indicator movement, mm."""
    angle: float | None = None
    """Of the place that stands highest, degrees; None is not known."""

    def __post_init__(self) -> None:
        _finite("run-out", z=self.z, full=self.full, angle=self.angle)


class Picture(Fact, frozen=True, gc=False, omit_defaults=True):
    """A picture that lies beside the recording, bound to it by its hash."""

    file: str
    """Its name in the folder `pictures` beside the recording."""
    sha256: str
    """Of the file, 64 hexadecimal digits."""
    size: int
    """Bytes."""
    text: str = ""


class Round(Fact, frozen=True, gc=False, omit_defaults=True):
    """The part turns under gauges, for its roundness or run-out: no reading of them is a size."""

    part: Part
    z: float
    """Millimetres from the part's datum end."""
    contacts: str
    """``centres``, ``v``, ``saddle``, ``two-point`` or ``three-point``."""
    gauges: tuple[str, ...]
    at: tuple[float, ...] = ()
    """Where each gauge stands round the part, degrees; empty: all at 0."""
    v: float = 90.0
    """Included angle of the V, degrees."""
    offset: float = 0.0
    """Of the gauge off the bisector of the V, degrees."""
    turned: float = 0.0
    """By how much the part was turned in its driver since the first run, degrees."""
    rpm: float | None = None
    """About how fast it turns, a minute; None is not known."""

    def __post_init__(self) -> None:
        _finite("round", z=self.z, v=self.v, offset=self.offset, turned=self.turned, rpm=self.rpm)


class RoundEnd(Fact, frozen=True, gc=False):
    """The part turns under its gauges no longer: readings are sizes again."""


class TurnMark(Fact, frozen=True, gc=False):
    """How the part stands that is turned under a gauge: its mark comes by, or it was turned to an angle."""

    angle: float | None
    """Degrees, at which the part rests; None: the once-a-turn mark comes by."""

    def __post_init__(self) -> None:
        _finite("turn", angle=self.angle)


class Mask(Fact, frozen=True, gc=False):
    """Between two angles the part has no surface to measure: a keyway, a cross hole."""

    start: float
    """Degrees, counted as the part's places come by the gauge."""
    stop: float

    def __post_init__(self) -> None:
        _finite("mask", start=self.start, stop=self.stop)


class Confirmation(Fact, frozen=True, gc=False):
    """A person answered something that the program asked."""

    of: int
    """The ``seq`` of the flag that asked."""
    yes: bool


class Beat(Fact, frozen=True, gc=False):
    """Once a second from the daemon, so that a time limit can pass without a reading."""


class Other(Fact, frozen=True, gc=False, tag="?"):
    """A kind that this version does not know: a newer program wrote it; kept as it is."""

    name: str
    fields: dict[str, Any]


AnyFact: TypeAlias = (
    Reading
    | Garbled
    | Up
    | Down
    | Battery
    | Pass
    | Station
    | Stage
    | Master
    | Reject
    | Note
    | Taken
    | Flag
    | Mastered
    | Pause
    | Lap
    | Table
    | Dress
    | Coolant
    | Confirmation
    | Checked
    | Clamp
    | Tried
    | RunOut
    | Picture
    | Round
    | RoundEnd
    | TurnMark
    | Mask
    | Beat
    | Other
)
"""The closed union: a `match` over it ends in `assert_never` where all must be handled."""

Decoded: TypeAlias = Reading | Garbled
"""What a dialect can make of a piece of bytes."""


class Event(Struct, frozen=True, gc=False):
    """A fact with its place in the recording.

    ``seq`` counts from 0 without a gap, so that a lost event shows.
    """

    seq: int
    at: Instant
    source: str
    """Name of the gauge, or ``person``, ``desk``, ``daemon``."""
    fact: AnyFact
