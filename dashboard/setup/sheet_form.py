"""The job sheet as a form: what the sheet has in each field, and the sheet with what was typed.

The sheet stays the file that a person wrote: comments, order and keys that the form does not have are
kept. What is wrong with it is for `dashboard.setup.sheet_faults`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

import tomlkit
from msgspec import Struct
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError

from capture.sheet.faults import BadSheet, Fault
from capture.sheet.gauges.link_keys import LINKS
from dashboard.views.setup.sheet_fields import LISTED, PLAIN, Field

INLINE: Final = frozenset({"clearance", "engagement", "plating", "swivel", "ask"})
"""Tables that are written on one line where the form makes them."""


class Typed(Struct):
    """A form as it was filled in."""

    name: str
    values: dict[str, str]
    gauges: list[int | None]
    """For each gauge its place in the sheet that was opened; None for a new one."""
    digest: str = ""
    """Of the sheet that was opened; empty for a new one."""
    pedals: list[int | None] | None = None
    """The same of the pedals; None: they were not on the form, and stay."""
    meant: dict[str, str] = {}
    """Questions that the person has seen, by field: to save once more says that they are meant."""

    def places(self, kind: str) -> list[int | None] | None:
        """Of each gauge or pedal its place in the sheet that was opened."""
        return self.gauges if kind == "gauge" else self.pedals


def opened(text: str) -> TOMLDocument:
    """A sheet to be edited.

    Raises:
        BadSheet: It is not TOML, and must be mended in an editor.
    """
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError) as error:
        raise BadSheet("", [Fault((), "syntax", "", due=f"not TOML: {error}")]) from None


def values_of(plain: Mapping[str, Any]) -> dict[str, str]:
    """What a sheet has in each field, as a person would type it; gauges and pedals by their place."""
    values = {field.key: _text(field, _at(plain, field.key)) for field in PLAIN}
    for kind, fields in LISTED.items():
        for place, one in enumerate(_listed(plain, kind)):
            values |= {f"{kind}.{place}.{field.key}": _text(field, _of(one, field.key)) for field in fields}
    return values


def _listed(plain: Mapping[str, Any], kind: str) -> list[Mapping[str, Any]]:
    listed = plain.get(kind, [])
    return [one for one in listed if isinstance(one, Mapping)] if isinstance(listed, list) else []


def _at(plain: Mapping[str, Any], key: str) -> Any:
    found: Any = plain
    for part in key.split("."):
        found = found.get(part) if isinstance(found, Mapping) else None
    return found


def _of(one: Mapping[str, Any], key: str) -> Any:
    """What a gauge or a pedal has in a field; of a link its kind and its address stand apart."""
    if key not in {"link", "address"}:
        return _at(one, key)
    kind = _kind(one.get("link"))
    return kind if key == "link" or kind is None else one["link"].get(kind)


def _kind(link: Any) -> str | None:
    return next((kind for kind in LINKS if kind in link), None) if isinstance(link, Mapping) else None


def _text(field: Field, value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(_text(field, one) for one in value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "; ".join(f"{key} = {_text(field, one)}" for key, one in value.items())
    if field.kind == "escaped":
        return str(value).encode("unicode_escape").decode()
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def filled(document: TOMLDocument, typed: Typed) -> str:
    """The sheet with what was typed; what was not changed is left as it was written."""
    before = values_of(document)
    for field in PLAIN:
        text = typed.values.get(field.key, "").strip()
        if text != before[field.key]:
            _put(document, field.key.split("."), _value(field, text))
    for kind in LISTED:
        places = typed.places(kind)
        if places is not None:
            _put_listed(document, kind, places, typed, before)
    return tomlkit.dumps(document)


def _value(field: Field, text: str) -> Any:
    """What was typed, as the sheet has it; what is no number is left for the reader to refuse."""
    if not text:
        return None
    match field.kind:
        case "number" | "whole":
            return _number(text, whole=field.kind == "whole")
        case "numbers":
            return [_number(one, whole=False) for one in re.split(r"[;,\s]+", text) if one]
        case "flag":
            return {"true": True, "false": False}.get(text, text)
        case "words":
            return _words(text)
        case "escaped":
            return _unescaped(text)
        case _:
            return text


def _number(text: str, *, whole: bool) -> float | int | str:
    try:
        return int(text) if whole else float(text.replace(",", "."))
    except ValueError:
        return text


def _words(text: str) -> Any:
    """``KEY_B = pass 0; KEY_C = undo`` as a table; as it was typed where it is none."""
    pairs = [one.partition("=") for one in text.split(";") if one.strip()]
    if not pairs or not all(equals and key.strip() for key, equals, _ in pairs):
        return text
    table = tomlkit.inline_table()
    for key, _, said in pairs:
        table[key.strip()] = said.strip()
    return table


def _unescaped(text: str) -> str:
    try:
        return text.encode("ascii").decode("unicode_escape")
    except UnicodeError:
        return text  # the capture says that ASCII was due


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


def _put_listed(
    document: TOMLDocument,
    kind: str,
    places: Sequence[int | None],
    typed: Typed,
    before: Mapping[str, str],
) -> None:
    known = _listed(document, kind)
    kept = [place for place in places if place is not None and 0 <= place < len(known)]
    if kept != list(range(len(known))) or len(kept) != len(places):
        listed = tomlkit.aot()
        for place in places:
            old = known[place] if place in kept and place is not None else None
            listed.append(tomlkit.table() if old is None else old)
        if kind in document:
            del document[kind]
        if places:
            document.append(kind, listed)
    for number, (one, place) in enumerate(zip(_listed(document, kind), places, strict=False)):
        for field in LISTED[kind]:
            text = typed.values.get(f"{kind}.{number}.{field.key}", "").strip()
            if text != before.get(f"{kind}.{place}.{field.key}", ""):
                _put_in(one, field, text, typed.values.get(f"gauge.{number}.link", ""))


def _put_in(one: Any, field: Field, text: str, kind: str) -> None:
    head, _, rest = field.key.partition(".")
    if head not in {"link", "address"}:
        _put(one, field.key.split("."), _value(field, text))
        return
    if not isinstance(one.get("link"), Mapping):
        one["link"] = tomlkit.inline_table()
    link = one["link"]
    if field.key == "link":
        _put_kind(link, text)
    elif head == "address":
        link[kind or "serial"] = text
    else:
        _put(link, [rest], _value(field, text))


def _put_kind(link: Any, kind: str) -> None:
    """Another way to a gauge: the address stays, what is of other ways alone goes."""
    address = next((link[one] for one in LINKS if one in link), "")
    of_others = {key for one in LINKS if one != kind for key in (one, *LINKS[one])}
    for key in of_others - LINKS.get(kind, frozenset()):
        if key in link:
            del link[key]
    if kind:
        link[kind] = address
