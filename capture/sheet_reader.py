"""Reads a written job sheet: every fault in it is named at once, with what came and what was due."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from math import isfinite
from typing import Any

import msgspec

from capture.metrology.materials import expansion
from capture.metrology.units import MM_PER_INCH
from capture.sheet import (
    Clearance,
    Engagement,
    Fit,
    Gauge,
    Grinder,
    Job,
    Known,
    Pedal,
    Plating,
    Settings,
    Swivel,
    Workpiece,
)
from capture.sheet_table import Table

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

PART_OF = {"diameter": ("shaft",), "bore": ("bore",), "infeed": ("shaft",)}
MOST_PLACES = 10_000
"""Stations times angles of a part; two short lists must not become a plan that fills the memory."""
PLACES_OF_HEAT = ("shaft", "bore", "gauge", "master", "room", "coolant")


class BadSheet(Exception):
    """A sheet that can't be used, with every fault in it."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def read_sheet(text: str, name: str) -> tuple[Job, dict[str, Any]]:
    """The job of a sheet written in TOML, and the sheet as it was written.

    Args:
        text: The whole file.
        name: What to call it in faults.

    Raises:
        BadSheet: Every fault, a line each: file, key, what came, what was due.
    """
    try:
        plain = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also a number, or a nest, that no sheet has
        raise BadSheet([f"{name}: not TOML: {error}"]) from None
    faults: list[str] = []
    job = _job(plain, faults)
    if faults:
        raise BadSheet([f"{name}: {fault}" for fault in faults])
    return job, plain


def job_of(plain: Mapping[str, Any]) -> Job:
    """The job in the header of a recording, as far as it can be read.

    A recording is read even where its sheet has a key that this version does not
    know, or lacks one: what was measured is worth more than the form.
    """
    return _job(dict(plain), [])


def _job(plain: dict[str, Any], faults: list[str]) -> Job:
    head = Table(plain.get("job", {}), "job", faults, 1.0)
    if "job" not in plain:
        faults.append("job: missing, due a table with the job's name")
    else:
        head.need("name", "a text")
    name, units = head.text("name", "unnamed"), head.choice("units", ("mm", "in"), "mm")
    simulated = head.take("simulated", lambda v: isinstance(v, bool), "true or false", default=False)
    head.done()
    top = Table(plain, "", faults, MM_PER_INCH if units == "in" else 1.0)
    top.known.add("job")
    job = Job(
        name=name,
        units=units,
        fit=_fit(top.table("fit")),
        bore=_workpiece(top.table("bore")),
        shaft=_workpiece(top.table("shaft")),
        grinder=_grinder(top.table("grinder")),
        gauges=_gauges(top, units),
        pedals=_pedals(top),
        settings=_settings(top),
        simulated=simulated,
    )
    top.done()
    _check_together(job, faults)
    return job


def _fit(table: Table | None) -> Fit | None:
    if table is None:
        return None
    table.need("nominal", "a length")
    nominal = table.length("nominal", 0.0, above=0)
    rule = table.choice("rule", ("simple", "guarded", "guarded-U"), "guarded")
    clearance = _clearance(table)
    engagement = None
    where = table.table("engagement")
    if where is not None:
        for key in ("length", "from", "to"):
            where.need(key, "a length")
        engagement = Engagement(
            where.length("length", 0.0, above=0), where.length("from", 0.0), where.length("to", 0.0)
        )
        where.done()
    bore = table.length("bore", None, above=0)
    u_bore = table.length("u_bore", 0.0, least=0)
    table.done()
    return Fit(nominal, clearance, engagement, rule, bore, u_bore) if clearance else None


def _clearance(table: Table) -> Clearance | None:
    if not table.need("clearance", "a table with aim, least and most"):
        return None
    wanted = table.table("clearance")
    if wanted is None:
        return None
    for key in ("aim", "least", "most"):
        wanted.need(key, "a length")
    least, aim, most = (wanted.length(key, 0.0) for key in ("least", "aim", "most"))
    if not least <= aim <= most or least == most:
        wanted.fault("", dict(wanted.plain), "least <= aim <= most, and least below most")
        return None
    wanted.done()
    return Clearance(aim, least, most)


def _workpiece(table: Table | None) -> Workpiece | None:
    if table is None:
        return None
    plating = None
    wanted = table.table("plating")
    if wanted is not None:
        for key in ("least", "most", "stock"):
            wanted.need(key, "a length per side")
        plating = Plating(*(wanted.length(key, 0.0, least=0) for key in ("least", "most", "stock", "runout")))
        if plating.least > plating.most:
            wanted.fault("", dict(wanted.plain), "least not above most")
        wanted.done()
    stations, angles = table.lengths("stations"), table.numbers("angles")
    if len(stations) * max(1, len(angles)) > MOST_PLACES:
        came = f"{len(stations)} stations with {len(angles)} angles"
        table.fault("stations", came, f"at most {MOST_PLACES} places")
        stations, angles = (), ()
    workpiece = Workpiece(
        material=_material(table),
        expansion=table.number("expansion", None, above=0),
        u_expansion=table.number("u_expansion", None, least=0),
        stations=stations,
        angles=angles,
        plating=plating,
        hardness=table.number("hardness", None, least=0),
    )
    if workpiece.expansion is not None and workpiece.expansion > 1e-3:
        table.fault("expansion", workpiece.expansion, "a coefficient in 1/K, such as 11.4e-6")
    table.done()
    return workpiece


def _material(table: Table) -> str | None:
    """A material that the table of expansions has, or any name where the expansion itself is given."""
    name = table.text("material")
    if not name or "expansion" in table.plain:
        return name or None
    try:
        expansion(name)
    except ValueError as error:
        table.fault("material", name, "one that is known: " + str(error).partition("; ")[2])
        return None
    return name


def _grinder(table: Table | None) -> Grinder | None:
    if table is None:
        return None
    table.need("dial", "diameter or radius: what the infeed dial is graduated in")
    swivel = None
    wanted = table.table("swivel")
    if wanted is not None:
        for key in ("pivot", "reading_at"):
            wanted.need(key, "a length")
        swivel = Swivel(
            wanted.length("pivot", 0.0),
            wanted.length("reading_at", 0.0),
            wanted.choice("toward_wheel", ("+", "-"), "+"),
        )
        if swivel.pivot == swivel.reading_at:
            wanted.fault("reading_at", wanted.plain.get("reading_at"), "a place away from the pivot")
            swivel = None
        wanted.done()
    dial = table.choice("dial", ("radius", "diameter"), "diameter")
    grinder = Grinder(
        dial,
        swivel,
        table.length("division", None, above=0),
        table.text("name"),
        table.text("wheel"),
        _known(table.table("known")),
    )
    table.done()
    return grinder


def _known(table: Table | None) -> Known | None:
    """What is remembered of the machine; written by the capture, so always in millimetres."""
    if table is None:
        return None
    known = Known(
        share=table.number("share", None, above=0),
        u_share=table.number("u_share", None, above=0),
        gain=table.number("gain", None, above=0),
        u_gain=table.number("u_gain", None, above=0),
        scatter=table.number("scatter", None, above=0),
        obeys=table.number("obeys", None, above=0),
        u_obeys=table.number("u_obeys", None, above=0),
        jobs=int(table.number("jobs", 0, least=0)),
    )
    table.done()
    return known


def _gauges(top: Table, units: str) -> tuple[Gauge, ...]:
    none: list[Any] = []
    listed = top.take("gauge", lambda v: isinstance(v, list), "[[gauge]] tables", none)
    gauges = []
    for number, plain in enumerate(listed):
        name = plain.get("name") if isinstance(plain, dict) else None
        where = f"gauge {name!r}" if isinstance(name, str) and name else f"gauge number {number + 1}"
        gauges.append(_gauge(Table(plain, where, top.faults, top.scale), units))
    names = [gauge.name for gauge in gauges]
    for name in sorted({name for name in names if names.count(name) > 1}):
        top.faults.append(f"gauge {name!r}: two gauges of this name, due one")
    return tuple(gauges)


def _gauge(table: Table, units: str) -> Gauge:
    table.need("name", "a text")
    table.need("measures", "diameter, bore, infeed or temperature")
    name = table.take("name", _is_name, "a short name that is not person, desk or daemon", "?")
    measures = table.choice("measures", ("diameter", "bore", "infeed", "temperature"), "diameter")
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


def _pedals(top: Table) -> tuple[Pedal, ...]:
    none: list[Any] = []
    pedals = []
    for number, plain in enumerate(
        top.take("pedal", lambda v: isinstance(v, list), "[[pedal]] tables", none)
    ):
        table = Table(plain, f"pedal number {number + 1}", top.faults, top.scale)
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


def _link(table: Table) -> Mapping[str, Any]:
    if not table.need("link", 'a table such as { serial = "/dev/ttyUSB0", baud = 9600 }'):
        return {}
    link = table.table("link")
    if link is None:
        return {}
    kinds = [kind for kind in LINKS if kind in link.plain]
    if len(kinds) != 1:
        link.fault("", sorted(link.plain), "exactly one of " + ", ".join(LINKS))
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


def _ask(table: Table) -> Mapping[str, Any] | None:
    ask = table.table("ask")
    if ask is None:
        return None
    ask.need("send", "the text that makes it answer")
    ask.text("send")
    ask.number("every", 1.0, above=0)
    ask.number("timeout", 1.0, above=0)
    ask.done()
    return dict(ask.plain)


def _settings(top: Table) -> Settings:
    table = top.table("settings")
    if table is None:
        return Settings()
    settings = Settings()
    for key, value in _leaves(table.plain):
        try:
            settings = with_setting(settings, key, value)
        except ValueError as error:
            top.faults.append(f"settings.{error}")
    return settings


def _leaves(plain: Mapping[str, Any], before: str = "") -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for key, value in plain.items():
        found += _leaves(value, f"{before}{key}.") if isinstance(value, dict) else [(before + key, value)]
    return found


def with_setting(settings: Settings, key: str, value: object) -> Settings:
    """*settings* with one of them changed, as ``--set key=value`` says it; lengths in millimetres.

    Raises:
        ValueError: No such setting, or a value that it can't have.
    """
    group_name, _, leaf = key.partition(".")
    group = getattr(settings, group_name, None) if group_name in settings.__struct_fields__ else None
    if group is None or leaf not in group.__struct_fields__:
        known = [
            f"{g}.{k}" for g in settings.__struct_fields__ for k in getattr(settings, g).__struct_fields__
        ]
        near = difflib.get_close_matches(key, known, 1)
        raise ValueError(
            f"{key}: no such setting; "
            + (f"did you mean {near[0]}?" if near else "there are " + ", ".join(known))
        )
    kind = type(getattr(group, leaf))
    try:
        converted = msgspec.convert(value, kind, strict=False)
    except msgspec.ValidationError:
        raise ValueError(f"{key}: came {value!r}, due {_DUE[kind]}") from None
    if kind is float and not (isfinite(converted) and converted > 0):
        raise ValueError(f"{key}: came {value!r}, due a number above 0")
    if kind is int and converted < 3:
        raise ValueError(f"{key}: came {value!r}, due a whole number of at least 3")
    if leaf == "confidence" and not 0.5 < converted < 1:
        raise ValueError(f"{key}: came {value!r}, due a number between 0.5 and 1")
    return msgspec.structs.replace(
        settings, **{group_name: msgspec.structs.replace(group, **{leaf: converted})}
    )


_DUE = {float: "a number", bool: "true or false", int: "a whole number", str: "a text"}


def _check_together(job: Job, faults: list[str]) -> None:
    """What no single key shows."""
    if job.grinder is None and any(gauge.measures == "infeed" for gauge in job.gauges):
        faults.append(
            "grinder.dial: missing, due diameter or radius: an infeed gauge can't be read without it"
        )
    ports: dict[str, str] = {}
    for gauge in job.gauges:
        way = next((f"{kind} {gauge.link[kind]}" for kind in LINKS if kind in gauge.link), None)
        shared = gauge.channel or ("modbus" in gauge.link and gauge.link.get("unit"))
        key = f"{way} {gauge.link.get('value', '')} {shared or ''}"
        if way is not None and key in ports:
            faults.append(
                f"gauge {gauge.name!r}: {way} is already the way to {ports[key]!r}; "
                "two gauges can't share one port"
            )
        ports.setdefault(key, gauge.name)
