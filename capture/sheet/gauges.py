"""The gauges and pedals of a written sheet, and the links by which they are reached."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

from capture.sheet.job import Gauge, Measures, Pedal
from capture.sheet.table import SheetTable

LINKS: Mapping[str, frozenset[str]] = {
    "serial": frozenset({"baud", "bytesize", "parity", "stopbits", "dtr", "rts", "xonxoff", "rtscts"}),
    "ble": frozenset({"service", "value", "write", "bytes", "read_every", "silence"}),
    "modbus": frozenset(
        {
            *("baud", "bytesize", "parity", "stopbits", "dtr", "rts", "xonxoff", "rtscts"),
            *("unit", "function", "register", "count", "order", "kind", "scale", "every"),
        }
    ),
    "keyboard": frozenset({"keys"}),
}
"""The ways to a gauge, and the settings that each may have beside its address."""

MEASURES = get_args(Measures)
PART_OF = {"diameter": ("shaft",), "bore": ("bore",), "infeed": ("shaft",), "table": ("shaft",)}
PLACES_OF_HEAT = ("shaft", "bore", "gauge", "master", "room", "coolant")


def gauges_of(top: SheetTable, units: str) -> tuple[Gauge, ...]:
    """The gauges of the whole sheet, in its order; *units* is what a bare length means."""
    none: list[Any] = []
    listed = top.take("gauge", lambda v: isinstance(v, list), "[[gauge]] tables", none)
    gauges = []
    for number, plain in enumerate(listed):
        name = plain.get("name") if isinstance(plain, dict) else None
        where = f"gauge {name!r}" if isinstance(name, str) and name else f"gauge number {number + 1}"
        gauges.append(_gauge(SheetTable(plain, where, top.faults, top.scale), units))
    names = [gauge.name for gauge in gauges]
    for name in sorted({name for name in names if names.count(name) > 1}):
        top.faults.append(f"gauge {name!r}: two gauges of this name, due one")
    return tuple(gauges)


def _gauge(table: SheetTable, units: str) -> Gauge:
    table.need("name", "a text")
    table.need("measures", "diameter, bore, infeed, table or temperature")
    name = table.take("name", _is_name, "a short name that is not person, desk or daemon", "?")
    measures = table.choice("measures", MEASURES, "diameter")
    heat = measures == "temperature"
    parts = PLACES_OF_HEAT if heat else PART_OF[measures]
    length = table.number if heat else table.length
    link = _link(table)
    gauge = Gauge(
        name=name,
        measures=measures,
        link=link,
        part=table.choice("part", parts, parts[0]),
        dialect=table.text("dialect", "gatt" if "ble" in link else "decimal-line"),
        unit=table.choice("unit", ("degC", "degF") if heat else ("mm", "in"), "degC" if heat else units),
        channel=table.text("channel") or None,
        resolution=length("resolution", 0.0, least=0),
        limits=length("limits", None, least=0),
        repeatability=length("repeatability", None, least=0),
        zero=table.length("zero", 0.0),
        sign=table.choice("sign", ("+", "-"), "+"),
        silence=table.number("silence", None, above=0),
        stream=table.take("stream", lambda v: isinstance(v, bool), "true or false", None),
        ask=_ask(table),
        expansion=table.number("expansion", None, above=0),
    )
    table.done()
    return gauge


def pedals_of(top: SheetTable) -> tuple[Pedal, ...]:
    """The pedals of the whole sheet."""
    none: list[Any] = []
    pedals = []
    for number, plain in enumerate(
        top.take("pedal", lambda v: isinstance(v, list), "[[pedal]] tables", none)
    ):
        table = SheetTable(plain, f"pedal number {number + 1}", top.faults, top.scale)
        for key in ("name", "keyboard", "keys"):
            table.need(key, "a table of words by key" if key == "keys" else "a text")
        nothing: dict[str, str] = {}
        keys = table.take("keys", _are_words, 'words by key, such as { KEY_B = "pass 0" }', nothing)
        name = table.take("name", _is_name, "a short name that is not person, desk or daemon", "?")
        pedals.append(Pedal(name, table.text("keyboard"), keys))
        table.done()
    return tuple(pedals)


def _are_words(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and bool(value)
        and all(isinstance(v, str) and v.strip() for v in value.values())
    )


def _is_name(value: Any) -> bool:
    taken = ("person", "desk", "daemon")
    return isinstance(value, str) and value.isprintable() and 0 < len(value) <= 40 and value not in taken


def _link(table: SheetTable) -> Mapping[str, Any]:
    if not table.need("link", 'a table such as { serial = "/dev/ttyUSB0", baud = 9600 }'):
        return {}
    link = table.table("link")
    if link is None:
        return {}
    kinds = [kind for kind in LINKS if kind in link.plain]
    if len(kinds) != 1:
        due = "exactly one of " + ", ".join(LINKS)
        link.fault("", sorted(link.plain), f'{due} (over a network: serial = "socket://host:port")')
        return {}
    (kind,) = kinds
    link.text(kind)
    link.known |= LINKS[kind]
    for key in ("baud", "bytesize", "unit", "register", "count"):
        if key in LINKS[kind]:
            link.take(
                key, lambda v: isinstance(v, int) and not isinstance(v, bool) and v >= 0, "a whole number", 0
            )
    link.done()
    return dict(link.plain)


def _ask(table: SheetTable) -> Mapping[str, Any] | None:
    ask = table.table("ask")
    if ask is None:
        return None
    ask.need("send", "the text that makes it answer")
    ask.text("send")
    ask.number("every", 1.0, above=0)
    ask.number("timeout", 1.0, above=0)
    ask.done()
    return dict(ask.plain)
