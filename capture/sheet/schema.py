"""What a key of the sheet may hold, declared once: beside its field, as ``Annotated[type, Key(…)]``.

The structs of this package's `job`, `gauge`, `link_keys` and `settings` are the schema. The reader, the form,
``--set``, the texts of faults and the reference are made from it, so that a new key is one line: its type,
what it means, its unit and bounds, and its default.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from typing import Annotated, Any, Final, Literal, TypeAlias, Union, get_args, get_origin

from msgspec import NODEFAULT, Struct, structs

Kind: TypeAlias = Literal[
    "text", "choice", "flag", "number", "whole", "numbers", "words", "plain", "table", "tables"
]
"""words: texts by key; plain: a table that is kept as it was written; tables: a list of tables."""

LENGTH: Final = "length"
"""The unit of a length in the job's own unit."""
READING: Final = "reading"
"""The unit of what a gauge shows: a length in the job's unit, or kelvin for a temperature."""
PRACTICE: Final = "common practice, no source"
STEEPEST: Final = 1e-4
"""No coefficient of linear expansion is as large, 1/K: a number typed in millionths is refused."""
PER_KELVIN: Final = "a coefficient in 1/K, such as 11.4e-6"
LARGEST: Final = 1e300
"""No number of a sheet is as large; whole numbers of TOML may be larger than any that can be worked with."""


class Key(Struct, frozen=True):
    """What is known of one key beside its name, its type and its default."""

    label: str
    """Its name on the form."""
    help: str
    """What it means; stands in the reference and beside the field of the form."""
    unit: str = ""
    """`LENGTH`, `READING`, or the unit itself, such as ``s``."""
    least: float | None = None
    """Smallest number that is taken."""
    above: float | None = None
    """Every number that is taken is larger."""
    most: float | None = None
    """Largest number that is taken."""
    below: float | None = None
    """Every number that is taken is smaller."""
    default: str = ""
    """What holds where nothing is given, in words, where that is no fixed value."""
    due: str = ""
    """What is due, in words, where type and bounds do not say it."""
    source: str = ""
    """Where the default comes from."""
    ok: Callable[[Any], bool] | None = None
    """What else must hold of a value."""
    written: str = ""
    """Its name on the sheet, where that is no name of a field."""
    fallback: Any = None
    """Taken for a recording whose sheet lacks a key that must be given."""
    rare: bool = False
    """Few need it: the form folds it away."""
    hidden: bool = False
    """Not on the form."""
    escaped: bool = False
    """A text whose control characters are spelled out on the form."""


def mm_key(label: str, meaning: str, source: str = PRACTICE) -> Key:
    """A length above 0, in millimetres."""
    return Key(label, meaning, "mm", above=0, source=source)


def s_key(label: str, meaning: str) -> Key:
    """A time above 0, in seconds."""
    return Key(label, meaning, "s", above=0, source=PRACTICE)


class Entry(Struct, frozen=True):
    """A key as the reader, the form and the reference see it."""

    field: str
    """Name of the struct's field."""
    name: str
    """Name on the sheet."""
    kind: Kind
    key: Key
    must: bool
    """It must be given."""
    default: Any
    """None: not known."""
    among: tuple[Any, ...] = ()
    """What may be chosen."""
    table: type[Struct] | None = None
    """What a table holds."""

    @property
    def due(self) -> str:
        """What is due, as a fault says it."""
        if self.key.due:
            return self.key.due
        match self.kind:
            case "choice":
                return "one of " + ", ".join(map(str, self.among))
            case "number":
                due = _NOUNS.get(self.key.unit, "a number") + bounds(self.key)
                return due if self.key.unit in {"", LENGTH, READING} else f"{due}, in {self.key.unit}"
            case "whole":
                return "a whole number" + bounds(self.key)
            case _:
                return _DUE[self.kind]

    def holds(self, value: Any) -> bool:
        """Whether *value*, as TOML has it, is what is due."""
        return _OF_KIND[self.kind](self, value) and (self.key.ok is None or self.key.ok(value))

    def taken(self, value: Any) -> Any:
        """*value* as the struct has it, where it `holds`."""
        match self.kind:
            case "number":
                return float(value)
            case "numbers":
                return tuple(float(one) for one in value)
            case "choice":
                return next(one for one in self.among if one == value)
            case _:
                return value

    @property
    def stand_in(self) -> Any:
        """What is taken where a recording's sheet lacks it, or has something that is not due."""
        if not self.must:
            return self.default
        if self.key.fallback is not None:
            return self.key.fallback
        return {"number": 0.0, "whole": 0, "flag": False, "text": "?", "words": {}, "plain": {}}.get(
            self.kind, self.among[0] if self.among else None
        )


_NOUNS: Final[Mapping[str, str]] = {
    LENGTH: "a length",
    "mm": "a length",
    "s": "a time",
    "°": "an angle",
    "K": "a temperature difference",
}
_DUE: Final[Mapping[Kind, str]] = {
    "text": "a text",
    "flag": "true or false",
    "numbers": "a list of different numbers",
    "words": "texts by key",
    "plain": "a table",
    "table": "a table",
    "tables": "a list of tables",
}


def bounds(key: Key) -> str:
    """The bounds of a number, in words that follow it; empty where it has none."""
    if key.above is not None and key.below is not None:
        return f" between {key.above:g} and {key.below:g}"
    if key.least is not None and key.most is not None:
        return f" from {key.least:g} to {key.most:g}"
    low = "" if key.least is None else f" of at least {key.least:g}"
    low += "" if key.above is None else f" above {key.above:g}"
    high = "" if key.most is None else f" at most {key.most:g}"
    high += "" if key.below is None else f" below {key.below:g}"
    return f"{low} and{high}" if low and high else low or high


def within(key: Key, value: float) -> bool:
    """Whether a number is finite and inside the bounds of its key."""
    return (
        -LARGEST < value < LARGEST
        and (key.least is None or value >= key.least)
        and (key.above is None or value > key.above)
        and (key.most is None or value <= key.most)
        and (key.below is None or value < key.below)
    )


def is_number(value: Any) -> bool:
    """Whether TOML has a number there; NaN is refused by `within`."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _numbers(entry: Entry, value: Any) -> bool:
    return (
        isinstance(value, list)
        and all(is_number(one) and within(entry.key, one) for one in value)
        and len(set(value)) == len(value)
    )


def _words(_entry: Entry, value: Any) -> bool:
    return isinstance(value, dict) and all(isinstance(one, str) for one in value.values())


_OF_KIND: Final[Mapping[Kind, Callable[[Entry, Any], bool]]] = {
    "text": lambda _, value: isinstance(value, str) and bool(value.strip()),
    "choice": lambda entry, value: not isinstance(value, bool | list | dict) and value in entry.among,
    "flag": lambda _, value: isinstance(value, bool),
    "number": lambda entry, value: is_number(value) and within(entry.key, value),
    "whole": lambda entry, value: is_number(value) and isinstance(value, int) and within(entry.key, value),
    "numbers": _numbers,
    "words": _words,
    "plain": lambda _, value: isinstance(value, dict),
    "table": lambda _, value: isinstance(value, dict),
    "tables": lambda _, value: isinstance(value, list),
}


@cache
def entries_of(struct: type[Struct]) -> tuple[Entry, ...]:
    """The keys of a table, in the order of its struct."""
    return tuple(_entry(field) for field in structs.fields(struct))


def _entry(field: structs.FieldInfo) -> Entry:
    plain, key = _unwrapped(field.type)
    kind, among, table = _kind_of(plain)
    default = field.default if field.default_factory is NODEFAULT else field.default_factory()
    must = default is NODEFAULT
    name = key.written or field.name
    return Entry(field.name, name, kind, key, must, None if must else default, among, table)


def _unwrapped(annotation: Any) -> tuple[Any, Key]:
    """The type without None, and the key that stands beside it."""
    key = Key("", "")
    if get_origin(annotation) is Annotated:
        annotation, *beside = get_args(annotation)
        key = next((one for one in beside if isinstance(one, Key)), key)
    if get_origin(annotation) in {Union, types.UnionType}:
        (annotation,) = (one for one in get_args(annotation) if one is not type(None))
    return annotation, key


def _kind_of(plain: Any) -> tuple[Kind, tuple[Any, ...], type[Struct] | None]:
    origin, inside = get_origin(plain), get_args(plain)
    if origin is Literal:
        return "choice", inside, None
    if origin is tuple:
        is_table = isinstance(inside[0], type) and issubclass(inside[0], Struct)
        return ("tables", (), inside[0]) if is_table else ("numbers", (), None)
    if origin is not None:
        return ("words" if inside[-1] is str else "plain"), (), None
    if issubclass(plain, Struct):
        return "table", (), plain
    kinds: dict[type, Kind] = {str: "text", bool: "flag", float: "number", int: "whole"}
    return kinds[plain], (), None


def leaves(struct: type[Struct], before: str = "") -> Iterator[tuple[str, Entry]]:
    """Every key below a table that is no table itself, with its dotted name."""
    for entry in entries_of(struct):
        if entry.kind == "table" and entry.table is not None:
            yield from leaves(entry.table, f"{before}{entry.name}.")
        elif entry.kind != "tables":
            yield f"{before}{entry.name}", entry
