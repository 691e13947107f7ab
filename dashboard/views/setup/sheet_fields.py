"""What a sheet has to be filled in, as fields of a form; what reads a sheet says what is wrong with it."""

from __future__ import annotations

from typing import Final, Literal, TypeAlias

from msgspec import Struct

from capture.sheet.gauges import LINKS, PLACES_OF_HEAT
from capture.sheet.settings import Settings

Kind: TypeAlias = Literal["text", "escaped", "number", "numbers", "whole", "choice", "flag", "words"]
"""escaped: a text with its control characters spelled out; flag: true or false; words: words by key."""

FLAG: Final = ("true", "false")


class Field(Struct, frozen=True):
    """One field; its name on the page is ``job.KEY`` in `dashboard.text.screen`."""

    key: str
    kind: Kind = "number"
    among: tuple[str, ...] = ()
    """What may be chosen."""
    more: bool = False
    """It stands with what few need."""
    default: str = ""
    """What holds where nothing is typed."""

    @property
    def ways(self) -> tuple[str, ...]:
        """The links that it is of; none: of all."""
        name = self.key.removeprefix("link.")
        return tuple(way for way in LINKS if name in LINKS[way]) if name != self.key else ()


class FieldGroup(Struct, frozen=True):
    """Fields that stand together."""

    name: str
    fields: tuple[Field, ...]


GROUPS: Final = (
    FieldGroup("job", (Field("job.name", "text"), Field("job.units", "choice", ("mm", "in")))),
    FieldGroup(
        "fit",
        (
            Field("fit.nominal"),
            Field("fit.clearance.aim"),
            Field("fit.clearance.least"),
            Field("fit.clearance.most"),
            Field("fit.engagement.length"),
            Field("fit.engagement.from"),
            Field("fit.engagement.to"),
            Field("fit.rule", "choice", ("guarded", "guarded-U", "simple")),
            Field("fit.bore"),
            Field("fit.u_bore"),
        ),
    ),
    *(
        FieldGroup(
            part,
            (
                Field(f"{part}.material", "text"),
                Field(f"{part}.expansion"),
                Field(f"{part}.u_expansion"),
                Field(f"{part}.stations", "numbers"),
                Field(f"{part}.angles", "numbers"),
            ),
        )
        for part in ("bore", "shaft")
    ),
    FieldGroup(
        "plating",
        (
            Field("shaft.plating.least"),
            Field("shaft.plating.most"),
            Field("shaft.plating.stock"),
            Field("shaft.plating.runout"),
            Field("shaft.hardness"),
        ),
    ),
    FieldGroup(
        "grinder",
        (
            Field("grinder.dial", "choice", ("diameter", "radius")),
            Field("grinder.division"),
            Field("grinder.name", "text"),
            Field("grinder.wheel", "text"),
            Field("grinder.swivel.pivot"),
            Field("grinder.swivel.reading_at"),
            Field("grinder.swivel.toward_wheel", "choice", ("+", "-")),
        ),
    ),
)


def _setting(group: str, leaf: str, value: object) -> Field:
    key = f"settings.{group}.{leaf}"
    if isinstance(value, bool):
        return Field(key, "flag", FLAG, default=str(value).lower())
    return Field(key, "whole" if isinstance(value, int) else "number", default=f"{value:g}")


SETTINGS: Final = tuple(
    FieldGroup(
        f"settings.{name}",
        tuple(_setting(name, leaf, getattr(group, leaf)) for leaf in group.__struct_fields__),
    )
    for name in Settings.__struct_fields__
    for group in (getattr(Settings(), name),)
)
"""Limits that hold where the sheet says nothing else; lengths in millimetres."""
GAUGE: Final = (
    Field("name", "text"),
    Field("measures", "choice", ("diameter", "bore", "infeed", "table", "temperature")),
    Field("part", "choice", PLACES_OF_HEAT),
    Field("link", "choice", tuple(LINKS)),
    Field("address", "text"),
    Field("link.baud", "whole"),
    Field("dialect", "text"),
    Field("unit", "choice", ("mm", "in", "degC", "degF")),
    Field("channel", "text"),
    Field("resolution"),
    Field("limits"),
    Field("repeatability"),
    Field("zero"),
    Field("sign", "choice", ("+", "-")),
    Field("silence"),
    Field("stream", "flag", FLAG, more=True),
    Field("expansion", more=True),
    Field("ask.send", "escaped", more=True),
    Field("ask.every", more=True),
    Field("ask.timeout", more=True),
    Field("link.unit", "whole", more=True),
    Field("link.function", "whole", ("3", "4"), more=True),
    Field("link.register", "whole", more=True),
    Field("link.count", "whole", more=True),
    Field("link.kind", "choice", ("u16", "s16", "u32", "s32", "f32"), more=True),
    Field("link.order", "choice", ("ABCD", "CDAB", "BADC", "DCBA"), more=True),
    Field("link.scale", more=True),
    Field("link.every", more=True),
    Field("link.service", "text", more=True),
    Field("link.value", "text", more=True),
    Field("link.write", "text", more=True),
    Field("link.bytes", "flag", FLAG, more=True),
    Field("link.read_every", more=True),
    Field("link.silence", more=True),
    Field("link.keys", "words", more=True),
    Field("link.bytesize", "whole", ("5", "6", "7", "8"), more=True),
    Field("link.parity", "choice", ("N", "E", "O", "M", "S"), more=True),
    Field("link.stopbits", more=True),
    Field("link.dtr", "flag", FLAG, more=True),
    Field("link.rts", "flag", FLAG, more=True),
    Field("link.xonxoff", "flag", FLAG, more=True),
    Field("link.rtscts", "flag", FLAG, more=True),
)
"""Fields of each gauge; link and address stand for ``link = { serial = "…" }``, link.KEY for its rest."""
PEDAL: Final = (Field("name", "text"), Field("keyboard", "text"), Field("keys", "words"))
"""Fields of each pedal or keypad."""
LISTED: Final = {"gauge": GAUGE, "pedal": PEDAL}
"""What a sheet may have several of."""
PLAIN: Final = tuple(field for group in (*GROUPS, *SETTINGS) for field in group.fields)
"""All fields that a sheet has once."""
