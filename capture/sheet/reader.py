"""Reads a written job sheet by its schema: every fault in it is named at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from msgspec import Struct
from msgspec.structs import replace

from capture.metrology.grinding.wheel.wheel_and_work import WheelAndWork, too_fast
from capture.metrology.heat.materials import UnknownMaterial, expansion
from capture.metrology.units import MM_PER_INCH
from capture.sheet.faults import BadSheet, Fault
from capture.sheet.gauges.link_keys import LINKS
from capture.sheet.gauges.written import gauges_of, pedals_of
from capture.sheet.job import Clearance, Fit, Grinder, Job, Plating, Swivel, Workpiece
from capture.sheet.schema import entries_of
from capture.sheet.settings import Settings, plainly
from capture.sheet.table import Check, SheetTable, read
from capture.sheet.wheel_work import WheelData, WorkData
from capture.toml_text import BadToml, parse_toml

MOST_PLACES = 10_000
"""Stations times angles of a part; two short lists must not become a plan that fills the memory."""
RECORDING: Final = "it looks like a recording; a job sheet is due, the .toml file beside it"


def read_sheet(text: str, name: str) -> tuple[Job, dict[str, Any]]:
    """The job of a sheet written in TOML, and the sheet as it was written.

    Args:
        text: The whole file.
        name: What to call it in faults.

    Raises:
        BadSheet: Every fault: file, key, what came, what was due.
    """
    try:
        plain = parse_toml(text)
    except BadToml as error:
        due = RECORDING if text.startswith('{"') else f"not TOML: {error}"
        raise BadSheet(name, [Fault((), "syntax", "", due=due)]) from None
    faults: list[Fault] = []
    job = _job(plain, faults)
    if faults:
        raise BadSheet(name, faults)
    return job, plain


def job_of(plain: Mapping[str, Any]) -> Job:
    """The job in the header of a recording, as far as it can be read.

    A recording is read even where its sheet has a key that this version does not
    know, or lacks one: what was measured is worth more than the form.
    """
    return _job(dict(plain), [])


def _job(plain: dict[str, Any], faults: list[Fault]) -> Job:
    head = SheetTable(plain.get("job", {}), ("job",), faults, 1.0)
    if "job" not in plain:
        SheetTable(plain, (), faults, 1.0).missing("job", "a table with the job's name")
        head = SheetTable({"name": "unnamed"}, ("job",), faults, 1.0)
    of_job = {
        entry.field: head.value(entry) for entry in entries_of(Job) if entry.kind not in {"table", "tables"}
    }
    head.done()
    units = of_job["units"]
    top = SheetTable(plain, (), faults, MM_PER_INCH if units == "in" else 1.0)
    top.known.add("job")
    job = Job(
        **of_job,
        fit=read(top.inner("fit"), Fit, CHECKS),
        bore=read(top.inner("bore"), Workpiece, CHECKS),
        shaft=read(top.inner("shaft"), Workpiece, CHECKS),
        grinder=_grinder(top),
        wheel=read(top.inner("wheel"), WheelData, CHECKS),
        work=read(top.inner("work"), WorkData, CHECKS),
        gauges=gauges_of(top, units),
        pedals=pedals_of(top),
        settings=_settings(top.inner("settings")),
    )
    top.done()
    _check_together(job, top)
    return job


def _grinder(top: SheetTable) -> Grinder | None:
    return read(top.inner("grinder"), Grinder, CHECKS)


def _settings(table: SheetTable | None) -> Settings:
    if table is None:
        return Settings()
    groups = {entry.name: entry.table for entry in entries_of(Settings)}
    for name, group in table.plain.items():
        struct = groups.get(name)
        if struct is not None and isinstance(group, dict):
            entries = {entry.name: entry for entry in entries_of(struct)}
            typed = {key: plainly(entries[key], one) if key in entries else one for key, one in group.items()}
            table.plain = {**table.plain, name: typed}
    return read(table, Settings, CHECKS) or Settings()


def _clearance(table: SheetTable, made: Clearance) -> Clearance | None:
    if made.least <= made.aim <= made.most and made.least < made.most:
        return made
    if table.sound:
        table.fault("", dict(table.plain), "least <= aim <= most, and least below most")
    return None


def _plating(table: SheetTable, made: Plating) -> Plating:
    if made.least > made.most and table.sound:
        table.fault("", dict(table.plain), "least not above most")
    return made


def _workpiece(table: SheetTable, made: Workpiece) -> Workpiece:
    if len(made.stations) * max(1, len(made.angles)) > MOST_PLACES:
        came = f"{len(made.stations)} stations with {len(made.angles)} angles"
        table.fault("stations", came, f"at most {MOST_PLACES} places")
        made = replace(made, stations=(), angles=())
    if made.material is not None and "expansion" not in table.plain:
        try:
            expansion(made.material)
        except UnknownMaterial as error:
            table.fault("material", made.material, f"one that is known: {error.near}")
            return replace(made, material=None)
    return made


def _swivel(table: SheetTable, made: Swivel) -> Swivel | None:
    if made.pivot != made.reading_at:
        return made
    if table.sound:
        table.fault("reading_at", table.plain.get("reading_at"), "a place away from the pivot")
    return None


def _wheel(table: SheetTable, made: WheelData) -> WheelData:
    """A wheel is not run faster than what is printed on it."""
    by_drive = None if made.drive is None else made.drive.spindle_rpm
    for key, rpm in (("rpm", made.rpm), ("drive", by_drive)):
        setting = WheelAndWork(
            wheel_diameter=made.diameter,
            wheel_rpm=rpm,
            marked_speed=made.marked_speed,
            marked_rpm=made.marked_rpm,
        )
        times = too_fast(setting)
        if times is not None and table.sound:
            came = made.rpm if key == "rpm" else f"{rpm:.0f} 1/min by motor and pulleys"
            due = f"no more than what is marked on the wheel: it would run at {times:.2f} times its limit"
            table.fault(key, came, due)
    return made


CHECKS: Final[Mapping[type[Struct], Check]] = {
    Clearance: _clearance,
    Plating: _plating,
    Workpiece: _workpiece,
    Swivel: _swivel,
    WheelData: _wheel,
}
"""What no single key shows, by the table that shows it."""


def _check_together(job: Job, top: SheetTable) -> None:
    """What no single table shows."""
    if job.grinder is None and any(gauge.measures == "infeed" for gauge in job.gauges):
        top.missing("grinder.dial", "diameter or radius: an infeed gauge can't be read without it")
    swivels = job.grinder is not None and job.grinder.swivel is not None
    if not swivels and any(gauge.measures == "table" for gauge in job.gauges):
        top.missing(
            "grinder.swivel",
            "its pivot and where it is read: an indicator on the table can't be followed without it",
        )
    _check_names(job, top)
    _check_ways(job, top)


def _check_names(job: Job, top: SheetTable) -> None:
    places: dict[str, list[int]] = {}
    for place, gauge in enumerate(job.gauges):
        places.setdefault(gauge.name, []).append(place)
    for name, same in places.items():
        if len(same) > 1:
            paths = [("gauge", place, "name") for place in same]
            due = "two gauges of this name, due one"
            top.faults.append(Fault(paths[0], "clash", f"gauge {name!r}", due=due, also=tuple(paths[1:])))


def _check_ways(job: Job, top: SheetTable) -> None:
    ports: dict[str, str] = {}
    for place, gauge in enumerate(job.gauges):
        way = next((f"{kind} {gauge.link[kind]}" for kind in LINKS if kind in gauge.link), None)
        shared = gauge.channel or ("modbus" in gauge.link and gauge.link.get("unit"))
        key = f"{way} {gauge.link.get('value', '')} {shared or ''}"
        if way is not None and key in ports:
            due = f"{way} is already the way to {ports[key]!r}; two gauges can't share one port"
            top.faults.append(Fault(("gauge", place, "link"), "clash", f"gauge {gauge.name!r}", due=due))
        ports.setdefault(key, gauge.name)
