"""The job sheet as plain typed data: what is to be measured, with what, and what the fit must be.

These structs are the schema of the sheet too (`capture.sheet.schema`): what stands beside a field is what the
reader asks of its key, what the form shows and what the reference says. Lengths are millimetres here
whatever the sheet was written in.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Struct

from capture.events import Part
from capture.sheet.gauges.gauge import Gauge, Measures, Pedal
from capture.sheet.schema import LENGTH, PER_KELVIN, STEEPEST, Key
from capture.sheet.settings import Settings
from capture.sheet.wheel_work import WheelData, WorkData

__all__ = [
    "Clearance",
    "Engagement",
    "Fit",
    "Gauge",
    "Grinder",
    "Job",
    "Known",
    "Measures",
    "Pedal",
    "Plating",
    "Rule",
    "Swivel",
    "Units",
    "Workpiece",
]

Units: TypeAlias = Literal["mm", "in"]
"""What people see and write on this job."""

Rule: TypeAlias = Literal["simple", "guarded", "guarded-U"]
"""How conformity is decided: no guard band, 95 % conformance probability, or the expanded uncertainty."""


class Clearance(Struct, frozen=True):
    """Bore minus shaft on diameter at 20 °C: what is aimed at, and what is still good."""

    aim: Annotated[
        float, Key("Clearance, aim", "bore minus shaft on diameter at 20 °C that is aimed at", LENGTH)
    ]
    least: Annotated[float, Key("Clearance, least", "the smallest that is good", LENGTH)]
    most: Annotated[float, Key("Clearance, most", "the largest that is good", LENGTH)]


class Engagement(Struct, frozen=True):
    """Where the two parts meet over the travel of the shaft in the bore."""

    length: Annotated[
        float, Key("Engaged length", "how much of the shaft stands in the bore", LENGTH, above=0)
    ]
    start: Annotated[
        float,
        Key(
            "Travel from",
            "place on the shaft of the bore's datum end at one end of the travel",
            LENGTH,
            written="from",
        ),
    ]
    stop: Annotated[float, Key("Travel to", "the same at the other end", LENGTH, written="to")]


class Fit(Struct, frozen=True):
    """What the finished fit must be."""

    nominal: Annotated[float, Key("Nominal size", "nominal diameter", LENGTH, above=0)]
    clearance: Clearance
    engagement: Engagement | None = None
    rule: Annotated[
        Rule,
        Key(
            "Decision rule",
            "`simple` (no guard band), `guarded` (95 % conformance probability) or `guarded-U` "
            "(the expanded uncertainty)",
        ),
    ] = "guarded"
    bore: Annotated[
        float | None,
        Key(
            "Bore, where measured elsewhere",
            "the finished bore's smallest diameter at 20 °C, where it was measured elsewhere",
            LENGTH,
            above=0,
        ),
    ] = None
    u_bore: Annotated[
        float, Key("Its standard uncertainty", "standard uncertainty of `bore`", LENGTH, least=0)
    ] = 0.0


class Plating(Struct, frozen=True):
    """What the plater is asked for; thicknesses per side."""

    least: Annotated[
        float,
        Key("Chromium left, least, per side", "thinnest chrome that is good, per side", LENGTH, least=0),
    ]
    most: Annotated[
        float, Key("Chromium left, most, per side", "thickest chrome that is good, per side", LENGTH, least=0)
    ]
    stock: Annotated[float, Key("Stock to grind, per side", "left for grinding, per side", LENGTH, least=0)]
    runout: Annotated[
        float,
        Key(
            "Runout of the stripped part",
            "full indicator movement of the stripped part on its centres",
            LENGTH,
            least=0,
        ),
    ] = 0.0


class Workpiece(Struct, frozen=True):
    """One of the two mating parts, and the places at which it is measured."""

    material: Annotated[
        str | None,
        Key("Material", "one of the materials whose expansion is known; any name beside `expansion`"),
    ] = None
    expansion: Annotated[
        float | None,
        Key(
            "Expansion",
            "coefficient of linear expansion, instead of the material's",
            "1/K",
            above=0,
            most=STEEPEST,
            due=PER_KELVIN,
            default="the material's",
        ),
    ] = None
    u_expansion: Annotated[
        float | None,
        Key(
            "Its standard uncertainty",
            "standard uncertainty of `expansion`",
            "1/K",
            least=0,
            most=STEEPEST,
            default="the material's",
        ),
    ] = None
    stations: Annotated[
        tuple[float, ...],
        Key(
            "Stations", "places along the part from its datum end, such as 10, 40, 70", LENGTH, default="none"
        ),
    ] = ()
    angles: Annotated[
        tuple[float, ...],
        Key("Angles", "round the part, such as 0, 60, 120; none: one reading a station", "°", default="none"),
    ] = ()
    plating: Plating | None = None
    hardness: Annotated[
        float | None, Key("Hardness", "Rockwell C; it decides what must be baked", "HRC", least=0, most=100)
    ] = None
    strength: Annotated[
        float | None,
        Key(
            "Tensile strength", "where it is known: it decides what must be baked", "MPa", above=0, most=4000
        ),
    ] = None

    @property
    def places(self) -> tuple[tuple[float, float], ...]:
        """The plan: every station with every angle, one station finished before the next."""
        return tuple((z, angle) for z in self.stations for angle in (self.angles or (0.0,)))


class Swivel(Struct, frozen=True):
    """The grinder's swivel table."""

    pivot: Annotated[float, Key("Swivel pivot", "place of the table's pivot along the part", LENGTH)]
    reading_at: Annotated[
        float, Key("Swivel read at", "place along the part at which the table's movement is read", LENGTH)
    ]
    toward_wheel: Annotated[
        Literal["+", "-"],
        Key("Sign toward the wheel", "sign of that reading when the place moves toward the wheel"),
    ] = "+"


class Known(Struct, frozen=True):
    """What earlier jobs showed of a machine and its wheel; None is not known. Each ``u_`` is standard."""

    share: Annotated[
        float | None,
        Key(
            "Share of a pass", "of what is still to come, taken by one pass of a fresh wheel", above=0, most=1
        ),
    ] = None
    u_share: Annotated[
        float | None, Key("Its standard uncertainty", "standard uncertainty of `share`", above=0)
    ] = None
    gain: Annotated[
        float | None,
        Key(
            "Gain of an infeed",
            "what a diameter gets of an infeed: less than 1 by wheel wear and the dial's own error",
            above=0,
        ),
    ] = None
    u_gain: Annotated[
        float | None, Key("Its standard uncertainty", "standard uncertainty of `gain`", above=0)
    ] = None
    scatter: Annotated[
        float | None,
        Key(
            "Scatter of the gauge", "standard deviation of one reading, as readings showed it", "mm", above=0
        ),
    ] = None
    obeys: Annotated[
        float | None, Key("Table obeys", "share of a movement set that the table makes", above=0)
    ] = None
    u_obeys: Annotated[
        float | None, Key("Its standard uncertainty", "standard uncertainty of `obeys`", above=0)
    ] = None
    heat: Annotated[
        float | None,
        Key("Got warm", "share of the jobs whose part got warm while it was ground", least=0, most=1),
    ] = None
    jobs: Annotated[int, Key("Jobs", "jobs that it rests on", least=0)] = 0


class Grinder(Struct, frozen=True):
    """The machine that grinds the shaft."""

    dial: Annotated[
        Literal["radius", "diameter"],
        Key(
            "Infeed dial shows",
            "what the infeed dial, and an infeed gauge, are graduated in",
            fallback="diameter",
        ),
    ]
    swivel: Swivel | None = None
    division: Annotated[
        float | None,
        Key("One division of the dial", "one division of that dial, in its own habit", LENGTH, above=0),
    ] = None
    stroke: Annotated[
        float | None,
        Key(
            "Seconds of a stroke",
            "time that the table takes from end to end, where the power of the drive cannot show it",
            "s",
            above=0,
            most=600,
            default="as seen",
            rare=True,
        ),
    ] = None
    pump_rpm: Annotated[
        float | None,
        Key(
            "Pump of the hydraulics",
            "revolutions a minute of the pump that moves the table",
            "1/min",
            above=0,
            most=60_000,
            rare=True,
        ),
    ] = None
    name: Annotated[str, Key("Name of the machine", "under which it is remembered in `machines.toml`")] = ""
    wheel: Annotated[str, Key("Wheel", "under which its bite is remembered")] = ""
    known: Known | None = None


class Job(Struct, frozen=True):
    """Everything a session needs to know before the first reading."""

    name: Annotated[
        str,
        Key("Name of the job", "of the job; recordings of one name belong together", fallback="unnamed"),
    ]
    units: Annotated[Units, Key("Unit of this sheet", "what people see and write; lengths are in it")] = "mm"
    fit: Fit | None = None
    bore: Workpiece | None = None
    shaft: Workpiece | None = None
    grinder: Grinder | None = None
    wheel: WheelData | None = None
    work: WorkData | None = None
    gauges: Annotated[tuple[Gauge, ...], Key("Gauge", "one table for each", written="gauge")] = ()
    pedals: Annotated[tuple[Pedal, ...], Key("Pedal or keypad", "one table for each", written="pedal")] = ()
    settings: Settings = Settings()
    simulated: Annotated[
        bool,
        Key("Simulated", "the gauges are a simulator's: every page says so", hidden=True),
    ] = False

    def gauge(self, name: str) -> Gauge | None:
        """The gauge of that name."""
        for gauge in self.gauges:
            if gauge.name == name:
                return gauge
        return None

    def workpiece(self, part: Part) -> Workpiece | None:
        """The bore or the shaft, where the sheet describes it."""
        return self.bore if part == "bore" else self.shaft
