"""The job sheet as plain typed data: what is to be measured, with what, and what the fit must be.

Lengths are millimetres here whatever the sheet was written in; `capture.sheet.reader`
turns the written sheet into this and names every fault in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, TypeAlias

from msgspec import Struct

from capture.events import Part
from capture.sheet.settings import Settings

Units: TypeAlias = Literal["mm", "in"]
"""What people see and write on this job."""

Measures: TypeAlias = Literal["diameter", "bore", "infeed", "table", "temperature"]
Rule: TypeAlias = Literal["simple", "guarded", "guarded-U"]
"""How conformity is decided: no guard band, 95 % conformance probability, or the expanded uncertainty."""


class Clearance(Struct, frozen=True):
    """Bore minus shaft on diameter at 20 °C: what is aimed at, and what is still good."""

    aim: float
    least: float
    most: float


class Engagement(Struct, frozen=True):
    """Where the two parts meet over the travel of the shaft in the bore."""

    length: float
    """How much of the shaft stands in the bore."""
    start: float
    """Place on the shaft of the bore's datum end at one end of the travel."""
    stop: float
    """The same at the other end."""


class Fit(Struct, frozen=True):
    """What the finished fit must be."""

    nominal: float
    clearance: Clearance
    engagement: Engagement | None = None
    rule: Rule = "guarded"
    bore: float | None = None
    """The finished bore's smallest diameter at 20 °C, where it was measured elsewhere."""
    u_bore: float = 0.0


class Plating(Struct, frozen=True):
    """What the plater is asked for; thicknesses per side."""

    least: float
    most: float
    stock: float
    """Left for grinding, per side."""
    runout: float = 0.0
    """Full indicator movement of the stripped part on its centres."""


class Workpiece(Struct, frozen=True):
    """One of the two mating parts, and the places at which it is measured."""

    material: str | None = None
    expansion: float | None = None
    """Coefficient of linear expansion given by the user, 1/K; None: the material's."""
    u_expansion: float | None = None
    """Standard uncertainty of `expansion`, 1/K."""
    stations: tuple[float, ...] = ()
    angles: tuple[float, ...] = ()
    plating: Plating | None = None
    hardness: float | None = None
    """Rockwell C, where known: it decides what must be baked."""

    @property
    def places(self) -> tuple[tuple[float, float], ...]:
        """The plan: every station with every angle, one station finished before the next."""
        return tuple((z, angle) for z in self.stations for angle in (self.angles or (0.0,)))


class Swivel(Struct, frozen=True):
    """The grinder's swivel table."""

    pivot: float
    """Place of the pivot along the part, from its datum end."""
    reading_at: float
    """Place at which the table's movement is read."""
    toward_wheel: Literal["+", "-"] = "+"
    """Sign of the reading when that place moves toward the wheel."""


class Known(Struct, frozen=True):
    """What earlier jobs showed of a machine and its wheel; None is not known. Each ``u_`` is standard."""

    share: float | None = None
    """Of what is still to come, taken by one pass of a fresh wheel."""
    u_share: float | None = None
    gain: float | None = None
    """What a diameter gets of an infeed: less than 1 by wheel wear and the dial's own error."""
    u_gain: float | None = None
    scatter: float | None = None
    """Of the gauge as readings showed it, standard deviation of one, mm."""
    obeys: float | None = None
    """Share of a movement set that the table makes."""
    u_obeys: float | None = None
    heat: float | None = None
    """Share of the jobs whose part got warm while it was ground."""
    jobs: int = 0
    """Jobs that it rests on."""


class Grinder(Struct, frozen=True):
    """The machine that grinds the shaft."""

    dial: Literal["radius", "diameter"]
    """What the infeed dial and an infeed gauge are graduated in: it must be given."""
    swivel: Swivel | None = None
    division: float | None = None
    """One division of the infeed dial, in the dial's own habit."""
    name: str = ""
    """Of the machine, under which it is remembered."""
    wheel: str = ""
    """Of the wheel, under which its bite is remembered."""
    known: Known | None = None
    """What is remembered of it, as it was when the job began."""


class Gauge(Struct, frozen=True):
    """One instrument of the job."""

    name: str
    measures: Measures
    link: Mapping[str, Any]
    """How it is reached, as the sheet has it: one of serial, ble, modbus, keyboard, with its settings."""
    part: str = "shaft"
    """bore or shaft; for a temperature also gauge, master, room or coolant."""
    dialect: str = "decimal-line"
    """decimal-line; gatt (values that bring their own format, the habit of ble); or a dialect's file."""
    unit: Literal["mm", "in", "degC", "degF"] = "mm"
    """What a bare number from it means."""
    channel: str | None = None
    resolution: float = 0.0
    """Smallest step it shows; 0 is not known. Millimetres (or kelvin)."""
    limits: float | None = None
    """Largest permissible error from its certificate; only the user can know it."""
    repeatability: float | None = None
    """Standard deviation of repeated readings, where a study has shown it."""
    zero: float = 0.0
    """Size at which it shows 0: 0 for a gauge that shows the whole size."""
    sign: Literal["+", "-"] = "+"
    """- for a gauge whose reading falls as the part grows."""
    silence: float | None = None
    """Seconds without a word after which it is said to be silent."""
    stream: bool | None = None
    """Whether it sends all the time, and is read by its sweeps; None: told by how fast it sends."""
    ask: Mapping[str, Any] | None = None
    """For a gauge that only answers: what to send and how often."""
    expansion: float | None = None
    """Of the gauge or the master it was set on, 1/K."""


class Pedal(Struct, frozen=True):
    """A foot pedal or a keypad: its keys are words that a person says."""

    name: str
    keyboard: str
    """Name, place or path of the device."""
    keys: Mapping[str, str]
    """Words by key, such as ``KEY_B = "pass 0"``."""


class Job(Struct, frozen=True):
    """Everything a session needs to know before the first reading."""

    name: str
    units: Units = "mm"
    fit: Fit | None = None
    bore: Workpiece | None = None
    shaft: Workpiece | None = None
    grinder: Grinder | None = None
    gauges: tuple[Gauge, ...] = ()
    pedals: tuple[Pedal, ...] = ()
    settings: Settings = Settings()
    simulated: bool = False
    """The gauges are a simulator's: every page says so."""

    def gauge(self, name: str) -> Gauge | None:
        """The gauge of that name."""
        for gauge in self.gauges:
            if gauge.name == name:
                return gauge
        return None

    def workpiece(self, part: Part) -> Workpiece | None:
        """The bore or the shaft, where the sheet describes it."""
        return self.bore if part == "bore" else self.shaft
