"""What a sheet has to be filled in, as fields of a form, made from the schema of the sheet.

The form adds what a schema does not have: which fields stand together, and one field for each link's address.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.heat.materials import MATERIALS
from capture.sheet.gauges.gauge import Gauge, Pedal
from capture.sheet.gauges.link_keys import LINKS, TABLES, Ask
from capture.sheet.job import Fit, Grinder, Job, Workpiece
from capture.sheet.reference import written
from capture.sheet.schema import LENGTH, READING, Entry, entries_of, leaves
from capture.sheet.settings import Settings
from capture.sheet.wheel_work import WheelData, WorkData

Kind: TypeAlias = Literal["text", "escaped", "number", "numbers", "whole", "choice", "flag", "words"]
"""escaped: a text with its control characters spelled out; flag: true or false; words: words by key."""


class Field(Struct, frozen=True):
    """One field."""

    key: str
    kind: Kind = "number"
    among: tuple[str, ...] = ()
    """What may be chosen."""
    more: bool = False
    """It stands with what few need."""
    default: str = ""
    """What holds where nothing is typed."""
    must: bool = False
    """It has to be filled in where its table is there."""
    offers: tuple[str, ...] = ()
    """What is offered to be taken, where something else may be typed too."""
    label: str = ""
    help: str = ""

    @property
    def ways(self) -> tuple[str, ...]:
        """The links that it is of; none: of all."""
        name = self.key.removeprefix("link.")
        return tuple(way for way in LINKS if name in LINKS[way]) if name != self.key else ()


class FieldGroup(Struct, frozen=True):
    """Fields that stand together."""

    name: str
    fields: tuple[Field, ...]


OFFERS: Final = {"Material": tuple(row.name for row in MATERIALS)}
"""Lists of what is known, by the label of the key."""
_KIND_OF: Final[dict[type, Kind]] = {float: "number", int: "whole", str: "choice"}


def _field(key: str, entry: Entry) -> Field:
    kinds: dict[str, Kind] = {
        "flag": "flag",
        "number": "number",
        "whole": "whole",
        "numbers": "numbers",
        "words": "words",
    }
    kind: Kind = kinds.get(entry.kind, "text")
    if entry.kind == "choice":
        kind = _KIND_OF[
            next((one for one in (float, int) if any(isinstance(each, one) for each in entry.among)), str)
        ]
    among = ("true", "false") if entry.kind == "flag" else tuple(map(written, entry.among))
    unit = entry.key.unit if entry.key.unit not in {"", LENGTH, READING} else ""
    return Field(
        key,
        "escaped" if entry.key.escaped else kind,
        among,
        entry.key.rare,
        entry.key.default or written(entry.default),
        entry.must,
        OFFERS.get(entry.key.label, ()),
        entry.key.label + (f", {unit}" if unit else ""),
        entry.key.help,
    )


def _fields(struct: type[Struct], before: str, without: tuple[str, ...] = ()) -> tuple[Field, ...]:
    """The fields of a table, but those whose keys begin with one of *without*."""
    return tuple(
        _field(f"{before}{key}", entry)
        for key, entry in leaves(struct)
        if not key.startswith(without or "\0") and not entry.key.hidden
    )


PLATING: Final = ("plating.", "hardness", "strength")
"""Of a workpiece what stands in a group of its own; the form has it for the shaft alone."""
_SHAFT: Final = _fields(Workpiece, "shaft.")

GROUPS: Final = (
    FieldGroup(
        "job",
        tuple(
            _field(f"job.{one.name}", one)
            for one in entries_of(Job)
            if one.kind not in {"table", "tables"} and not one.key.hidden
        ),
    ),
    FieldGroup("fit", _fields(Fit, "fit.")),
    *(FieldGroup(part, _fields(Workpiece, f"{part}.", PLATING)) for part in ("bore", "shaft")),
    FieldGroup(
        "plating",
        tuple(one for one in _SHAFT if one.key.removeprefix("shaft.").startswith(PLATING)),
    ),
    FieldGroup("grinder", _fields(Grinder, "grinder.", ("known.",))),
    FieldGroup("wheel", _fields(WheelData, "wheel.")),
    FieldGroup("work", _fields(WorkData, "work.")),
)
SETTINGS: Final = tuple(
    FieldGroup(f"settings.{group.name}", _fields(group.table, f"settings.{group.name}."))
    for group in entries_of(Settings)
    if group.table is not None
)
"""Limits that hold where the sheet says nothing else; lengths in millimetres."""


def _gauge() -> Iterator[Field]:
    """Fields of a gauge: link and address stand for ``link = { serial = "…" }``, link.KEY for its rest."""
    for entry in entries_of(Gauge):
        if entry.name == "link":
            yield replace(_field("link", entry), kind="choice", among=tuple(LINKS))
            first = entries_of(TABLES["serial"][0])[0]
            yield replace(_field("address", first), help="", default="")
            yield from (one for one in _link() if not one.more)
        elif entry.name == "ask":
            yield from (replace(_field(f"ask.{key}", one), must=False) for key, one in leaves(Ask))
        else:
            yield _field(entry.name, entry)
    yield from (one for one in _link() if one.more)


def _link() -> tuple[Field, ...]:
    """What may stand beside an address, each once, whichever links have it."""
    found = {
        entry.name: _field(f"link.{entry.name}", entry)
        for tables in TABLES.values()
        for table in tables
        for entry in entries_of(table)
        if entry.name not in LINKS
    }
    return tuple(found.values())


GAUGE: Final = tuple(_gauge())
"""Fields of each gauge."""
PEDAL: Final = _fields(Pedal, "")
"""Fields of each pedal or keypad."""
LISTED: Final = {"gauge": GAUGE, "pedal": PEDAL}
"""What a sheet may have several of."""
PLAIN: Final = tuple(field for group in (*GROUPS, *SETTINGS) for field in group.fields)
"""All fields that a sheet has once."""
