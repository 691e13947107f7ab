"""One gauge, and one pedal, of the job sheet as plain typed data; a part of the sheet's schema."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Literal, TypeAlias

from msgspec import Struct

from capture.sheet.schema import LENGTH, PER_KELVIN, READING, STEEPEST, Key

Measures: TypeAlias = Literal["diameter", "bore", "infeed", "table", "power", "runout", "temperature"]
PartOf: TypeAlias = Literal["shaft", "bore", "gauge", "master", "room", "coolant"]
"""What a gauge is on; all but the two parts are of temperatures."""

SOURCES = ("person", "desk", "daemon")
"""Sources of events that are no gauge."""


def is_name(value: str) -> bool:
    """Whether a gauge or a pedal may have this name."""
    return value.isprintable() and len(value) <= 40 and value not in SOURCES


DAY = 'a day as text, such as "2027-05-04"'


def is_day(value: str) -> bool:
    """Whether a text is a day, ISO 8601."""
    try:
        return date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


def are_said(value: Mapping[str, str]) -> bool:
    """Whether every key of a pedal says something."""
    return bool(value) and all(words.strip() for words in value.values())


class Gauge(Struct, frozen=True):
    """One instrument of the job."""

    name: Annotated[
        str,
        Key(
            "Name",
            "at most 40 characters; not person, desk or daemon",
            due="a short name that is not person, desk or daemon",
            ok=is_name,
        ),
    ]
    measures: Annotated[
        Measures,
        Key(
            "Measures",
            "`diameter`, `bore`, `infeed`, `table` (its movement, at `swivel.reading_at`), `power` (of the "
            "wheel spindle or the work head), `runout` (an indicator against the part that turns; no size) "
            "or `temperature`",
        ),
    ]
    link: Annotated[
        Mapping[str, Any],
        Key(
            "Reached by",
            "how it is reached: one of the links below",
            due='a table such as { serial = "/dev/ttyUSB0", baud = 9600 }',
        ),
    ]
    part: Annotated[
        PartOf,
        Key(
            "Of",
            "what it is on; for a temperature also `gauge`, `master`, `room` or `coolant`",
            default="shaft; bore for a bore gauge",
        ),
    ] = "shaft"
    dialect: Annotated[
        str,
        Key(
            "Dialect",
            "`decimal-line`, `gatt` (values with their own format), or a file (`.toml`) that `teach` wrote",
            default="decimal-line; gatt over the air",
        ),
    ] = "decimal-line"
    unit: Annotated[
        Literal["mm", "in", "degC", "degF", "W", "kW", "%"],
        Key(
            "Unit of a bare number",
            "what a bare number from it means; of power W, kW, or % of what the drive is rated at",
            default="the job's; degC; W",
        ),
    ] = "mm"
    channel: Annotated[str | None, Key("Channel", "of a box with several, as the box names it")] = None
    resolution: Annotated[
        float, Key("Smallest step it shows", "smallest step that it shows; 0: not known", READING, least=0)
    ] = 0.0
    limits: Annotated[
        float | None,
        Key("Largest permissible error", "from its certificate: only you can know it", READING, least=0),
    ] = None
    repeatability: Annotated[
        float | None,
        Key(
            "Repeatability", "standard deviation of one reading, where a study has shown it", READING, least=0
        ),
    ] = None
    certificate: Annotated[str, Key("Number of its certificate", "of its calibration", rare=True)] = ""
    calibrated: Annotated[
        str | None,
        Key("Calibrated on", "day of its calibration", due=DAY, ok=is_day, rare=True),
    ] = None
    due: Annotated[
        str | None,
        Key("Due again on", "day from which its calibration is overdue", due=DAY, ok=is_day, rare=True),
    ] = None
    master_due: Annotated[
        str | None,
        Key(
            "Its master due again on",
            "the same of the master that it is set on",
            due=DAY,
            ok=is_day,
            rare=True,
        ),
    ] = None
    expanded: Annotated[
        float | None,
        Key(
            "Expanded uncertainty of its calibration",
            "U of its certificate; counts beside `limits` where the gauge was not set on a master",
            READING,
            least=0,
            rare=True,
        ),
    ] = None
    master_size: Annotated[
        float | None,
        Key(
            "Size of its master",
            "as its certificate has it, at 20 °C; then `master GAUGE` alone says it",
            LENGTH,
            above=0,
            rare=True,
        ),
    ] = None
    master_expanded: Annotated[
        float | None,
        Key(
            "Expanded uncertainty of its master", "U of the master's certificate", LENGTH, least=0, rare=True
        ),
    ] = None
    master_certificate: Annotated[
        str, Key("Number of its master's certificate", "of the master's calibration", rare=True)
    ] = ""
    coverage: Annotated[
        float,
        Key(
            "Coverage factor of both",
            "k of these certificates: U over k is the standard uncertainty",
            above=0,
            most=10,
            source="JCGM 100:2008, 6.2: about 95 %",
            rare=True,
        ),
    ] = 2.0
    zero: Annotated[
        float,
        Key("Size at which it shows 0", "0 for a gauge that shows the whole size", LENGTH),
    ] = 0.0
    sign: Annotated[
        Literal["+", "-"], Key("Sign", "`-` for a gauge whose reading falls as the part grows")
    ] = "+"
    silence: Annotated[
        float | None,
        Key("Silent after", "time without a word after which it is said to be silent", "s", above=0),
    ] = None
    stream: Annotated[
        bool | None,
        Key(
            "Sends all the time",
            "whether it sends all the time: a bore gauge is read by its sweeps then, a diameter gauge when "
            "it has settled on the part",
            default="by its rate",
            rare=True,
        ),
    ] = None
    rides: Annotated[
        float | None,
        Key(
            "Rides at",
            "place along the part of a diameter gauge that stays on it while it is ground",
            LENGTH,
            rare=True,
        ),
    ] = None
    ask: Annotated[
        Mapping[str, Any] | None,
        Key("Asking", "for a gauge that only answers: what to send and how often", rare=True),
    ] = None
    expansion: Annotated[
        float | None,
        Key(
            "Its expansion",
            "of the gauge, or of the master that it was set on",
            "1/K",
            above=0,
            most=STEEPEST,
            due=PER_KELVIN,
            rare=True,
        ),
    ] = None


class Pedal(Struct, frozen=True):
    """A foot pedal or a keypad: its keys are words that a person says."""

    name: Annotated[
        str,
        Key("Name", "as of a gauge", due="a short name that is not person, desk or daemon", ok=is_name),
    ]
    keyboard: Annotated[
        str, Key("Device", "its name, place or path, as `gauges` or `teach` show it", fallback="")
    ]
    keys: Annotated[
        Mapping[str, str],
        Key(
            "Words by key",
            'such as `{ KEY_B = "yes or pass 0", KEY_C = "no or undo" }`: an answer where something is asked',
            due='words by key, such as { KEY_B = "pass 0" }',
            ok=are_said,
        ),
    ]
