"""What is wrong with a sheet, at the fields it is of: the reader of sheets alone says it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct

from capture.sheet.reader import BadSheet, read_sheet
from dashboard.setup.sheet_form import Typed
from dashboard.views.setup.sheet_fields import LISTED, PLAIN


class Faults(Struct, frozen=True):
    """What is wrong, by field, and what is wrong with no field of the form."""

    fields: dict[str, str]
    rest: list[str]


def checked(text: str, typed: Typed) -> Faults:
    """What `capture.sheet.reader` says of the sheet, by field."""
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


_OF_ONE = re.compile(
    r"(?P<kind>gauge|pedal) (?:number (?P<number>\d+)|(?P<name>'[^']*'|\"[^\"]*\"))(?:\.(?P<key>[\w.]+))?: "
)


def _keys_of(said: str, typed: Typed) -> tuple[list[str], str]:
    found = _OF_ONE.match(said)
    if found is None:
        key, _, why = said.partition(": ")
        return _field_of(key), why
    kind, why = found["kind"], said[found.end() :]
    if found["number"] is not None:
        places = [int(found["number"]) - 1]
    else:
        name = found["name"][1:-1]
        among = range(len(typed.places(kind) or ()))
        places = [place for place in among if typed.values.get(f"{kind}.{place}.name") == name]
    known = {field.key for field in LISTED[kind]}
    key = found["key"]
    if key is None:
        key = "name" if "two gauges of this name" in why else "address"
    elif key not in known and key.startswith("link."):
        key = "address"
    elif key == "ask":
        key = "ask.send"
    return ([f"{kind}.{place}.{key}" for place in places] if key in known else []), why


def _field_of(key: str) -> list[str]:
    """The field of a key; of a table, its first field."""
    known = [field.key for field in PLAIN]
    if key in known:
        return [key]
    return [field for field in known if field.startswith(key + ".")][:1]
