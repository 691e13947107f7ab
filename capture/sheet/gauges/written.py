"""The gauges and pedals of a written sheet, with the links by which they are reached."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, get_args

from msgspec.structs import replace

from capture.sheet.gauges.gauge import Gauge, Measures, PartOf, Pedal
from capture.sheet.gauges.link_keys import LINKS, TABLES, Ask
from capture.sheet.job import Job
from capture.sheet.schema import Entry, entries_of
from capture.sheet.table import SheetTable, read

PART_OF: Final[Mapping[str, tuple[str, ...]]] = {
    "diameter": ("shaft",),
    "bore": ("bore",),
    "infeed": ("shaft",),
    "table": ("shaft",),
    "power": ("shaft",),
    "runout": ("shaft", "bore"),
    "temperature": get_args(PartOf),
}
"""What a gauge may be on, by what it measures."""
UNITS_OF: Final[Mapping[str, tuple[tuple[str, ...], str]]] = {
    "temperature": (("degC", "degF"), "degC"),
    "power": (("W", "kW", "%"), "W"),
}
"""Units of the gauges that measure no length, and which is usual."""
MOST_LISTED: Final = 256
"""Gauges, or pedals, of a sheet; what is worked out for each pair of thousands keeps a person waiting."""
PLACES_OF_HEAT: Final = PART_OF["temperature"]


def gauges_of(top: SheetTable, units: str) -> tuple[Gauge, ...]:
    """The gauges of the whole sheet, in its order; *units* is what a bare length means."""
    made = (_gauge(table, units) for table in _listed(top, "gauges"))
    return tuple(gauge for gauge in made if gauge is not None)


def pedals_of(top: SheetTable) -> tuple[Pedal, ...]:
    """The pedals of the whole sheet."""
    made = (read(table, Pedal, {}) for table in _listed(top, "pedals"))
    return tuple(pedal for pedal in made if pedal is not None)


def _listed(top: SheetTable, field: str) -> Iterator[SheetTable]:
    entry = next(entry for entry in entries_of(Job) if entry.field == field)
    listed = top.value(entry)
    if len(listed) > MOST_LISTED:
        top.fault(entry.name, f"{len(listed)} tables", f"at most {MOST_LISTED}")
    for place, plain in enumerate(listed[:MOST_LISTED]):
        name = plain.get("name") if isinstance(plain, dict) else None
        called = repr(name) if isinstance(name, str) and name else f"number {place + 1}"
        yield SheetTable(plain, (entry.name, place), top.faults, top.scale, f"{entry.name} {called}")


def _gauge(table: SheetTable, units: str) -> Gauge | None:
    came = table.plain.get("measures")
    measures = next((one for one in get_args(Measures) if one == came), "diameter")
    units_of, usual = UNITS_OF.get(measures, (("mm", "in"), units))
    link = _link(table)
    among = {"part": PART_OF[measures], "unit": units_of}
    habits = {
        "part": among["part"][0],
        "unit": usual,
        "dialect": "gatt" if "ble" in link else "decimal-line",
    }
    entries = {entry.field: entry for entry in entries_of(Gauge)}
    given = {
        field: table.value(replace(entries[field], among=among.get(field, ()), default=habit))
        for field, habit in habits.items()
    }
    given |= {"link": link, "ask": _ask(table)}
    if "rides" in table.plain and measures != "diameter":
        table.fault("rides", table.plain["rides"], 'no such key, unless measures = "diameter"')
    reading = _reading_scale(measures, given["unit"])
    return read(table, Gauge, {}, reading=reading, given=given)


def _reading_scale(measures: str, unit: Any) -> float | None:
    """What one of the gauge's unit is in ours; None for a length, which is in the job's."""
    if measures == "power":
        return 1000.0 if unit == "kW" else 1.0
    return 1.0 if measures == "temperature" else None


def _link(table: SheetTable) -> Mapping[str, Any]:
    link = table.inner("link")
    if link is None:
        table.missing("link", next(entry.due for entry in entries_of(Gauge) if entry.field == "link"))
        return {}
    kinds = [kind for kind in LINKS if kind in link.plain]
    if len(kinds) != 1:
        due = "exactly one of " + ", ".join(LINKS)
        link.fault("", sorted(link.plain), f'{due} (over a network: serial = "socket://host:port")')
        return {}
    return _as_written(link, [entry for struct in TABLES[kinds[0]] for entry in entries_of(struct)])


def _ask(table: SheetTable) -> Mapping[str, Any] | None:
    ask = table.inner("ask")
    return None if ask is None else _as_written(ask, entries_of(Ask))


def _as_written(table: SheetTable, entries: Iterable[Entry]) -> Mapping[str, Any]:
    """The whole table as the sheet has it, its faults added: links and dialects read it themselves."""
    for entry in entries:
        table.value(entry)
    table.done()
    return dict(table.plain)
