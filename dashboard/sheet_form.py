"""The job sheet as a form: its fields, what the sheet has in each, and the sheet with what was typed.

The sheet stays the file that a person wrote: comments, order and keys that the form does not have are
kept. What is wrong with it is for `dashboard.sheet_faults`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal, TypeAlias

import tomlkit
from msgspec import Struct
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError

from capture.sheet_gauges import LINKS, PLACES_OF_HEAT
from capture.sheet_reader import BadSheet

Kind: TypeAlias = Literal["text", "number", "numbers", "choice"]


class Field(Struct, frozen=True):
    """One field; its name on the page is ``job.KEY`` in `dashboard.words`."""

    key: str
    kind: Kind = "number"
    among: tuple[str, ...] = ()
    """What may be chosen."""


class Group(Struct, frozen=True):
    """Fields that stand together."""

    name: str
    fields: tuple[Field, ...]


GROUPS: Final = (
    Group("job", (Field("job.name", "text"), Field("job.units", "choice", ("mm", "in")))),
    Group(
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
        Group(
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
    Group(
        "plating",
        (
            Field("shaft.plating.least"),
            Field("shaft.plating.most"),
            Field("shaft.plating.stock"),
            Field("shaft.plating.runout"),
            Field("shaft.hardness"),
        ),
    ),
    Group(
        "grinder",
        (
            Field("grinder.dial", "choice", ("diameter", "radius")),
            Field("grinder.division"),
            Field("grinder.swivel.pivot"),
            Field("grinder.swivel.reading_at"),
            Field("grinder.swivel.toward_wheel", "choice", ("+", "-")),
        ),
    ),
)
GAUGE: Final = (
    Field("name", "text"),
    Field("measures", "choice", ("diameter", "bore", "infeed", "table", "temperature")),
    Field("part", "choice", PLACES_OF_HEAT),
    Field("link", "choice", tuple(LINKS)),
    Field("address", "text"),
    Field("baud"),
    Field("dialect", "text"),
    Field("unit", "choice", ("mm", "in", "degC", "degF")),
    Field("channel", "text"),
    Field("resolution"),
    Field("limits"),
    Field("repeatability"),
    Field("zero"),
    Field("sign", "choice", ("+", "-")),
    Field("silence"),
)
"""Fields of each gauge; link and address stand for ``link = { serial = "…" }``."""
INLINE: Final = frozenset({"clearance", "engagement", "plating", "swivel"})
WHOLE: Final = frozenset({"baud"})


class Typed(Struct):
    """A form as it was filled in."""

    name: str
    values: dict[str, str]
    gauges: list[int | None]
    """For each gauge its place in the sheet that was opened; None for a new one."""
    digest: str = ""
    """Of the sheet that was opened; empty for a new one."""


def opened(text: str) -> TOMLDocument:
    """A sheet to be edited.

    Raises:
        BadSheet: It is not TOML, and must be mended in an editor.
    """
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError) as error:
        raise BadSheet([f"not TOML: {error}"]) from None


def values_of(plain: Mapping[str, Any]) -> dict[str, str]:
    """What a sheet has in each field, as a person would type it; gauges by their place."""
    values = {field.key: _text(_at(plain, field.key)) for group in GROUPS for field in group.fields}
    for place, gauge in enumerate(_gauges(plain)):
        values |= {f"gauge.{place}.{field.key}": _text(_of_gauge(gauge, field.key)) for field in GAUGE}
    return values


def _gauges(plain: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    listed = plain.get("gauge", [])
    return [one for one in listed if isinstance(one, Mapping)] if isinstance(listed, list) else []


def _at(plain: Mapping[str, Any], key: str) -> Any:
    found: Any = plain
    for part in key.split("."):
        found = found.get(part) if isinstance(found, Mapping) else None
    return found


def _of_gauge(gauge: Mapping[str, Any], key: str) -> Any:
    link = gauge.get("link")
    if key not in {"link", "address", "baud"}:
        return gauge.get(key)
    if not isinstance(link, Mapping):
        return None
    kind = next((one for one in LINKS if one in link), None)
    return {"link": kind, "address": None if kind is None else link.get(kind), "baud": link.get("baud")}[key]


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(_text(one) for one in value)
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def filled(document: TOMLDocument, typed: Typed) -> str:
    """The sheet with what was typed; what was not changed is left as it was written."""
    before = values_of(document)
    for group in GROUPS:
        for field in group.fields:
            text = typed.values.get(field.key, "").strip()
            if text != before[field.key]:
                _put(document, field.key.split("."), _value(field, text))
    _put_gauges(document, typed)
    return tomlkit.dumps(document)


def _value(field: Field, text: str) -> Any:
    """What was typed, as the sheet has it; what is no number is left for the reader to refuse."""
    if not text:
        return None
    if field.kind == "number":
        return _number(text, whole=field.key in WHOLE)
    if field.kind == "numbers":
        return [_number(one, whole=False) for one in re.split(r"[;,\s]+", text) if one]
    return text


def _number(text: str, *, whole: bool) -> float | int | str:
    try:
        return int(text) if whole else float(text.replace(",", "."))
    except ValueError:
        return text


def _put(table: Any, path: Sequence[str], value: Any) -> None:
    """Sets, or with None takes out, what *path* names; a table that becomes empty goes with it."""
    name, *deeper = path
    if not deeper:
        if value is not None:
            table[name] = value
        elif name in table:
            del table[name]
        return
    inner = table.get(name)
    if not isinstance(inner, Mapping):
        if value is None:
            return
        table[name] = tomlkit.inline_table() if name in INLINE else tomlkit.table()
        inner = table[name]
    _put(inner, deeper, value)
    if not inner and name != "job":
        del table[name]


def _put_gauges(document: TOMLDocument, typed: Typed) -> None:
    known = _gauges(document)
    before = values_of(document)
    kept = [place for place in typed.gauges if place is not None and 0 <= place < len(known)]
    if kept != list(range(len(known))) or len(kept) != len(typed.gauges):
        listed = tomlkit.aot()
        for place in typed.gauges:
            old = known[place] if place in kept and place is not None else None
            listed.append(tomlkit.table() if old is None else old)
        if "gauge" in document:
            del document["gauge"]
        if typed.gauges:
            document.append("gauge", listed)
    for number, (gauge, place) in enumerate(zip(_gauges(document), typed.gauges, strict=False)):
        for field in GAUGE:
            text = typed.values.get(f"gauge.{number}.{field.key}", "").strip()
            if text != before.get(f"gauge.{place}.{field.key}", ""):
                _put_in_gauge(gauge, field, text, typed.values.get(f"gauge.{number}.link", ""))


def _put_in_gauge(gauge: Any, field: Field, text: str, kind: str) -> None:
    if field.key not in {"link", "address", "baud"}:
        _put(gauge, [field.key], _value(field, text))
        return
    if not isinstance(gauge.get("link"), Mapping):
        gauge["link"] = tomlkit.inline_table()
    link = gauge["link"]
    if field.key == "link":
        address = next((link[one] for one in LINKS if one in link), "")
        for one in [*LINKS, *(("baud",) if "baud" not in LINKS.get(text, ()) else ())]:
            if one in link:
                del link[one]
        if text:
            link[text] = address
    elif field.key == "address":
        link[kind or "serial"] = text
    else:
        _put(link, ["baud"], _value(field, text))
