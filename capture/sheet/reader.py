"""Reads a written job sheet: every fault in it is named at once, with what came and what was due."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from capture.metrology.heat.materials import expansion
from capture.metrology.units import MM_PER_INCH
from capture.sheet.gauges import LINKS, gauges_of, pedals_of
from capture.sheet.job import Clearance, Engagement, Fit, Grinder, Job, Known, Plating, Swivel, Workpiece
from capture.sheet.settings import Settings, with_setting
from capture.sheet.table import SheetTable

MOST_PLACES = 10_000
"""Stations times angles of a part; two short lists must not become a plan that fills the memory."""


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
    head = SheetTable(plain.get("job", {}), "job", faults, 1.0)
    if "job" not in plain:
        faults.append("job: missing, due a table with the job's name")
    else:
        head.need("name", "a text")
    name, units = head.text("name", "unnamed"), head.choice("units", ("mm", "in"), "mm")
    simulated = head.take("simulated", lambda v: isinstance(v, bool), "true or false", default=False)
    head.done()
    top = SheetTable(plain, "", faults, MM_PER_INCH if units == "in" else 1.0)
    top.known.add("job")
    job = Job(
        name=name,
        units=units,
        fit=_fit(top.table("fit")),
        bore=_workpiece(top.table("bore")),
        shaft=_workpiece(top.table("shaft")),
        grinder=_grinder(top.table("grinder")),
        gauges=gauges_of(top, units),
        pedals=pedals_of(top),
        settings=_settings(top),
        simulated=simulated,
    )
    top.done()
    _check_together(job, faults)
    return job


def _fit(table: SheetTable | None) -> Fit | None:
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


def _clearance(table: SheetTable) -> Clearance | None:
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


def _workpiece(table: SheetTable | None) -> Workpiece | None:
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


def _material(table: SheetTable) -> str | None:
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


def _grinder(table: SheetTable | None) -> Grinder | None:
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


def _known(table: SheetTable | None) -> Known | None:
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
        heat=table.number("heat", None, least=0),
        jobs=int(table.number("jobs", 0, least=0)),
    )
    table.done()
    return known


def _settings(top: SheetTable) -> Settings:
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


def _check_together(job: Job, faults: list[str]) -> None:
    """What no single key shows."""
    if job.grinder is None and any(gauge.measures == "infeed" for gauge in job.gauges):
        faults.append(
            "grinder.dial: missing, due diameter or radius: an infeed gauge can't be read without it"
        )
    swivels = job.grinder is not None and job.grinder.swivel is not None
    if not swivels and any(gauge.measures == "table" for gauge in job.gauges):
        faults.append(
            "grinder.swivel: missing, due its pivot and where it is read: "
            "an indicator on the table can't be followed without it"
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
