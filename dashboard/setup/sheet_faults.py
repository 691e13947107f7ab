"""What is wrong with a sheet, at the fields it is of: the reader of sheets alone says it."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from capture.sheet.doubts import doubts_of
from capture.sheet.faults import BadSheet, Fault, Path
from capture.sheet.gauges.link_keys import LINKS
from capture.sheet.reader import read_sheet
from dashboard.views.setup.sheet_fields import LISTED, PLAIN


class Faults(Struct, frozen=True):
    """What is wrong, by field, and what is wrong with no field of the form."""

    fields: dict[str, str]
    rest: list[str]
    questions: dict[str, str] = {}
    """What is right and perhaps not meant, by field."""


def checked(text: str, name: str) -> Faults:
    """What `capture.sheet.reader` says of the sheet called *name*, by field."""
    try:
        job, _ = read_sheet(text, name)
    except BadSheet as error:
        return by_field(error.found)
    return Faults({}, [], {field_of(doubt.path): doubt.question for doubt in doubts_of(job)})


def by_field(found: Sequence[Fault]) -> Faults:
    """Every fault at the fields that it is of."""
    fields: dict[str, str] = {}
    rest: list[str] = []
    for fault in found:
        keys = [key for path in (fault.path, *fault.also) if (key := field_of(path))]
        for key in keys:
            fields[key] = f"{fields[key]}; {fault.why}" if key in fields else fault.why
        if not keys:
            rest.append(str(fault))
    return Faults(fields, rest)


def field_of(path: Path) -> str:
    """The form's field for a place in the sheet, the first of a table's; empty where the form has none."""
    kind, *inside = path or ("",)
    if kind not in LISTED or not inside or not isinstance(inside[0], int):
        return _first(".".join(map(str, path)), [field.key for field in PLAIN])
    place, *keys = inside
    key = ".".join(map(str, keys))
    if kind == "gauge" and key in {"link", *(f"link.{one}" for one in LINKS)}:
        key = "address"
    found = _first(key, [field.key for field in LISTED[str(kind)]])
    return found and f"{kind}.{place}.{found}"


def _first(key: str, among: Sequence[str]) -> str:
    """The field of that key, or of a table's first key."""
    if key in among:
        return key
    return next((field for field in among if field.startswith(f"{key}.")), "")
