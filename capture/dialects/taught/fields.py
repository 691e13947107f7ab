"""Checks the fields of a file: names every one that is missing, unknown or not what was due."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from typing import Any

from msgspec import inspect

_DUE = {
    inspect.StrType: "text",
    inspect.IntType: "a whole number",
    inspect.FloatType: "a number",
    inspect.BoolType: "true or false",
}


def faults_in(plain: Any, due: type) -> Iterator[str]:
    """Each fault of *plain*, as it came out of a file, where a *due* was due: the key, and what came."""
    yield from _faults(plain, inspect.type_info(due), "")


def _faults(plain: Any, due: inspect.Type, where: str) -> Iterator[str]:
    if isinstance(due, inspect.UnionType):
        yield from _union(plain, due, where)
    elif isinstance(due, inspect.StructType):
        yield from _struct(plain, due, where)
    elif isinstance(due, inspect.VarTupleType):
        if isinstance(plain, list):
            for place, each in enumerate(plain):
                yield from _faults(each, due.item_type, f"{where}[{place}]")
        else:
            yield _fault(where, plain, "a list")
    elif isinstance(due, inspect.DictType):
        if isinstance(plain, dict):
            for key, each in plain.items():
                yield from _faults(key, due.key_type, f"{where}: the key {key!r}")
                yield from _faults(each, due.value_type, f"{where}.{key}")
        else:
            yield _fault(where, plain, "a table")
    elif not _is(plain, due):
        yield _fault(where, plain, _words(due))


def _fault(where: str, came: Any, due: str) -> str:
    return f"{where or 'the file'} is {came!r}, {due} was due"


def _is(plain: Any, due: inspect.Type) -> bool:
    if isinstance(due, inspect.LiteralType):
        return plain in due.values
    if isinstance(plain, bool):
        return isinstance(due, inspect.BoolType)
    kinds: dict[type[inspect.Type], Any] = {
        inspect.StrType: str,
        inspect.IntType: int,
        inspect.FloatType: (int, float),
    }
    return isinstance(plain, kinds.get(type(due), ()))


def _words(due: inspect.Type) -> str:
    if isinstance(due, inspect.LiteralType):
        return " or ".join(map(repr, due.values))
    return _DUE.get(type(due), "something else")


def _union(plain: Any, due: inspect.UnionType, where: str) -> Iterator[str]:
    """Tables are distinguished by their `kind`; of the rest the one that fits, else all in words."""
    structs = [each for each in due.types if isinstance(each, inspect.StructType)]
    tagged = {str(each.tag): each for each in structs if each.tag is not None}
    if isinstance(plain, dict) and structs:
        chosen = tagged.get(str(plain.get("kind"))) if tagged else structs[0]
        if chosen is None:
            yield _fault(f"{where}.kind", plain.get("kind"), " or ".join(map(repr, tagged)))
        else:
            yield from _struct(plain, chosen, where)
        return
    lists = [each for each in due.types if isinstance(each, inspect.VarTupleType)]
    if isinstance(plain, list) and lists:
        yield from _faults(plain, lists[0], where)
    elif not any(_is(plain, each) for each in due.types):
        plainer = [each for each in due.types if not isinstance(each, inspect.NoneType | inspect.StructType)]
        words = [_words(each) for each in plainer if not isinstance(each, inspect.VarTupleType)]
        yield _fault(
            where,
            plain,
            " or ".join([*words, *(["a list"] if lists else []), *(["a table"] if structs else [])]),
        )


def _struct(plain: Any, due: inspect.StructType, where: str) -> Iterator[str]:
    if not isinstance(plain, dict):
        yield _fault(where, plain, "a table")
        return
    fields = {field.encode_name: field for field in due.fields}
    for key in plain.keys() - fields.keys() - {due.tag_field}:
        near = difflib.get_close_matches(key, fields, 1)
        known = f"{near[0]!r}?" if near else "one of " + ", ".join(fields)
        yield f"{_dot(where, key)} is not known here; {known}"
    for name, field in fields.items():
        if name in plain:
            yield from _faults(plain[name], field.type, _dot(where, name))
        elif field.required:
            yield f"{_dot(where, name)} is missing"


def _dot(where: str, key: str) -> str:
    return f"{where}.{key}" if where else key
