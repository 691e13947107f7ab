"""What is wrong with a sheet, at the fields it is of: the reader of sheets alone says it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct

from capture.sheet_reader import BadSheet, read_sheet
from dashboard.sheet_form import GAUGE, GROUPS, Typed


class Faults(Struct, frozen=True):
    """What is wrong, by field, and what is wrong with no field of the form."""

    fields: dict[str, str]
    rest: list[str]


def checked(text: str, typed: Typed) -> Faults:
    """What `capture.sheet_reader` says of the sheet, by field."""
    try:
        read_sheet(text, typed.name)
    except BadSheet as error:
        return by_field(error.faults, typed)
    return Faults({}, [])


def by_field(faults: Sequence[str], typed: Typed) -> Faults:
    """Faults with the fields that they are of."""
    fields: dict[str, str] = {}
    rest: list[str] = []
    for fault in faults:
        said = fault.removeprefix(f"{typed.name}: ")
        keys, why = _keys_of(said, typed)
        for key in keys:
            fields[key] = f"{fields[key]}; {why}" if key in fields else why
        if not keys:
            rest.append(said)
    return Faults(fields, rest)


_OF_GAUGE = re.compile(
    r"gauge (?:number (?P<number>\d+)|(?P<name>'[^']*'|\"[^\"]*\"))(?:\.(?P<key>[\w.]+))?: "
)
_LINKS_FIELD = {"link": "link", "link.baud": "baud", None: "address"}


def _keys_of(said: str, typed: Typed) -> tuple[list[str], str]:
    found = _OF_GAUGE.match(said)
    if found is None:
        key, _, why = said.partition(": ")
        return _field_of(key), why
    why = said[found.end() :]
    if found["number"] is not None:
        places = [int(found["number"]) - 1]
    else:
        name = found["name"][1:-1]
        places = [
            place for place in range(len(typed.gauges)) if typed.values.get(f"gauge.{place}.name") == name
        ]
    key = found["key"]
    known = {field.key for field in GAUGE}
    if key is None and "two gauges of this name" in why:
        key = "name"
    elif key in _LINKS_FIELD:
        key = _LINKS_FIELD[key]
    elif key is not None and key.startswith("link."):
        key = "address"
    return ([f"gauge.{place}.{key}" for place in places] if key in known else []), why


def _field_of(key: str) -> list[str]:
    """The field of a key; of a table, its first field."""
    known = [field.key for group in GROUPS for field in group.fields]
    if key in known:
        return [key]
    return [field for field in known if field.startswith(key + ".")][:1]
