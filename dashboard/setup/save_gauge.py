"""What is kept of a gauge that was taught: its dialect's file, and its lines on a sheet."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from msgspec import Struct

from capture.host.disk import sync_folder
from capture.sheet.faults import BadSheet
from capture.sheet.gauges.written import PLACES_OF_HEAT
from capture.sheet.job import Units
from capture.sheet.reader import read_sheet
from dashboard.setup.new_gauge import NewGauge, file_of, line_of, lines, name_fault, step_of, with_gauge
from dashboard.setup.sheet_api import DIALECT, SheetApi, Unsaved
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.text.screen import word
from dashboard.views.setup.in_sight import GaugeAddress

MEASURES = ("diameter", "bore", "infeed", "power", "temperature")


class SaveRequest(Struct):
    """What a person typed of a gauge that is to be kept."""

    name: str
    measures: str
    lesson: str = ""
    """That has taught it; its way is known."""
    key: str = ""
    """Of its way, as the last look gave it, where it needs no lesson."""
    value: str = ""
    """Of a Bluetooth device that needs no lesson, the value that is its reading."""
    part: str = ""
    step: str = ""
    """The last place of its display, in *unit*; may be empty."""
    unit: str = ""
    sheet: str = ""
    """The sheet to which it is added; empty for none."""
    units: Units = "mm"
    """Those of the page, for lines that are added to no sheet."""


class GaugeSaver:
    """Writes into the dashboard's folder, and nothing over what is there."""

    def __init__(self, library: RecordingLibrary, sheets: SheetApi) -> None:
        self._library, self._sheets = library, sheets

    def sheets(self) -> list[str]:
        """The sheets that a gauge can be added to."""
        return self._sheets.names()

    def taught(
        self, keep: SaveRequest, way: GaugeAddress, value: str, dialect: str, line: Mapping[str, Any]
    ) -> Mapping[str, Any]:
        """Keeps a gauge that has learnt: *dialect* is the text of its file, *line* its line's setting."""
        more = {"value": value, "bytes": True} if way.kind == "ble" else line_of(line)
        return self.keep(keep, way, {**way.link, **more}, dialect)

    def keep(
        self, keep: SaveRequest, way: GaugeAddress, link: Mapping[str, Any], dialect: str
    ) -> Mapping[str, Any]:
        """Writes the dialect's file where there is one, and the sheet where one is named."""
        name = keep.name.strip()
        file = file_of(name, DIALECT) if dialect else ""
        faults, text, units, step = self._faults(keep, file), "", keep.units, None
        try:
            if keep.sheet:
                text = self._sheets.text(keep.sheet)
                units = read_sheet(text, keep.sheet)[0].units
        except (BadSheet, Unsaved) as error:
            faults["sheet"] = str(error)
        try:
            step = step_of(keep.step, keep.unit, units) if keep.step.strip() else None
        except ValueError as error:
            faults["step"] = str(error)
        if faults:
            return {"ok": False, "fields": faults, "said": word("keep.not")}
        part = keep.part if keep.measures == "temperature" else ""
        gauge = NewGauge(name, keep.measures, link, part, file, step)
        return self._written(keep, way, gauge, text, dialect)

    def _faults(self, keep: SaveRequest, file: str) -> dict[str, str]:
        faults = {}
        if why := name_fault(keep.name.strip()):
            faults["name"] = why
        elif file and _there(self._library.folder / file):
            faults["name"] = word("keep.taken", file=file)
        if keep.measures not in MEASURES:
            faults["measures"] = word("keep.measures-due")
        elif keep.measures == "temperature" and keep.part not in PLACES_OF_HEAT:
            faults["part"] = word("keep.part-due")
        return faults

    def _written(
        self, keep: SaveRequest, way: GaugeAddress, gauge: NewGauge, text: str, dialect: str
    ) -> Mapping[str, Any]:
        answer = {"ok": True, "lines": lines(gauge), "file": gauge.dialect, "sheet": ""}
        added, as_name = text, gauge.name
        try:
            if keep.sheet:
                added, as_name = with_gauge(text, gauge, way.kind, way.names)
                read_sheet(added, keep.sheet)
            if dialect:
                _write_new(self._library.folder / gauge.dialect, dialect)
        except BadSheet as error:
            return {"ok": False, "fields": {"sheet": str(error)}, "said": word("keep.not")}
        except FileExistsError:
            fault = word("keep.taken", file=gauge.dialect)
            return {"ok": False, "fields": {"name": fault}, "said": word("keep.not")}
        except OSError as error:
            why = word("keep.unwritable", file=gauge.dialect, why=error.strerror or error)
            return {"ok": False, "fields": {"name": why}, "said": word("keep.not")}
        wrote = word("keep.file", file=gauge.dialect) if dialect else ""
        if not keep.sheet:
            return {**answer, "said": f"{wrote} {word('keep.copy')}".strip()}
        try:
            self._sheets.write(keep.sheet, added)
        except Unsaved as error:  # what was learnt is on disk, and the lines can be copied
            return {**answer, "said": f"{wrote} {error}".strip()}
        done = word("keep.sheet", sheet=keep.sheet, gauge=as_name)
        return {**answer, "sheet": keep.sheet, "said": f"{wrote} {done}".strip()}


def _there(path: Path) -> bool:
    return path.exists() or path.is_symlink()


def _write_new(path: Path, text: str) -> None:
    """Writes a file that must not be there yet; raises OSError, and leaves no half of it."""
    with path.open("x", encoding="utf-8", newline="\n") as file:
        try:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            path.unlink()
            raise
    sync_folder(path.parent)
