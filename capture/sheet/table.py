"""A table of a written sheet while it is read by its schema: gives values, and gathers faults."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

from msgspec import Struct, structs

from capture.sheet.faults import Fault, Path, shown
from capture.sheet.schema import LENGTH, READING, Entry, entries_of

T = TypeVar("T", bound=Struct)


class SheetTable:
    """One table; *scale* makes millimetres of its lengths, *scale_reading* of what its gauge shows."""

    def __init__(self, plain: Any, path: Path, faults: list[Fault], scale: float, where: str = "") -> None:
        self.path, self.faults, self.scale = path, faults, scale
        self.where = where or ".".join(map(str, path))
        self.plain: dict[str, Any] = plain if isinstance(plain, dict) else {}
        self.known: set[str] = set()
        self._before = len(faults)
        if not isinstance(plain, dict):
            self.fault("", plain, "a table")

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong with it so far."""
        return len(self.faults) == self._before

    def fault(self, key: str, came: object, due: str) -> None:
        """Say that something else was due at *key*, or of the table itself."""
        self._say(key, Fault((), "value", "", shown(came), due))

    def clash(self, key: str, due: str, also: Iterable[Path] = ()) -> None:
        """Say what is right alone, and not together with another."""
        self._say(key, Fault((), "clash", "", due=due, also=tuple(also)))

    def missing(self, key: str, due: str) -> None:
        """Say that *key* must be given."""
        self._say(key, Fault((), "missing", "", due=due))

    def _say(self, key: str, fault: Fault) -> None:
        path = (*self.path, *key.split(".")) if key else self.path
        where = ".".join(part for part in (self.where, key) if part)
        self.faults.append(structs.replace(fault, path=path, where=where))

    def value(self, entry: Entry, *, reading: float | None = None) -> Any:
        """The value of a key as its struct has it, or what stands in for it, with a fault added."""
        self.known.add(entry.name)
        if entry.name not in self.plain:
            if entry.must:
                self.missing(entry.name, entry.due)
            return entry.stand_in
        came = self.plain[entry.name]
        if not entry.holds(came):
            self.fault(entry.name, came, entry.due)
            return entry.stand_in
        of_reading = self.scale if reading is None else reading
        scale = {LENGTH: self.scale, READING: of_reading}.get(entry.key.unit, 1.0)
        return _scaled(entry.taken(came), scale)

    def inner(self, name: str) -> SheetTable | None:
        """The table under *name*, if there is one."""
        self.known.add(name)
        if name not in self.plain:
            return None
        where = ".".join(filter(None, (self.where, name)))
        return SheetTable(self.plain[name], (*self.path, name), self.faults, self.scale, where)

    def done(self) -> None:
        """Say every key that the schema does not have, with the nearest that it has."""
        for key in self.plain:
            if key not in self.known:
                near = difflib.get_close_matches(key, self.known, 1)
                self._say(key, Fault((), "unknown", "", near=near[0] if near else ""))


Check = Callable[[SheetTable, Any], Any]
"""What no single key shows: gives the struct back, another in its place, or None where there is none."""


def read(
    table: SheetTable | None,
    struct: type[T],
    checks: Mapping[type[Struct], Check],
    *,
    reading: float | None = None,
    given: Mapping[str, Any] | None = None,
) -> T | None:
    """A struct of the sheet; None where it is not on the sheet, or a table that it must have is not good.

    Args:
        table: As it was written.
        struct: Its schema.
        checks: What is asked of whole tables, by their structs.
        reading: What makes a `READING` of this table a length in mm, or kelvin; None: as a length.
        given: Fields that the caller has read.
    """
    if table is None:
        return None
    fields: dict[str, Any] = dict(given or {})
    for entry in entries_of(struct):
        if entry.field in fields:
            table.known.add(entry.name)
        elif entry.kind == "table" and entry.table is not None:
            inner = table.inner(entry.name)
            if inner is None and entry.must:
                names = [one.name for one in entries_of(entry.table)]
                table.missing(entry.name, f"a table with {', '.join(names[:-1])} and {names[-1]}")
            found = read(inner, entry.table, checks, reading=reading)
            fields[entry.field] = entry.default if found is None else found
        else:
            fields[entry.field] = table.value(entry, reading=reading)
    table.done()
    if any(fields[entry.field] is None and entry.must for entry in entries_of(struct)):
        return None
    made = struct(**fields)
    check = checks.get(struct)
    checked: T | None = made if check is None else check(table, made)
    return checked


def _scaled(value: Any, scale: float) -> Any:
    if scale == 1.0:
        return value
    return tuple(one * scale for one in value) if isinstance(value, tuple) else value * scale
