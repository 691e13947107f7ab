"""A folder's recordings as Parquet, made anew where a recording has grown: for questions without a server."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import datetime
from itertools import takewhile
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq
from msgspec import structs

from capture.events import Event
from capture.recording.lines import LineFollower
from capture.recording.reader import BadRecording, read
from capture.sheet.reader import job_of
from capture.shop.messages.settings import BadShopSettings, settings_in
from capture.shop.tables.jobs import gauge_rows, job_row
from capture.shop.tables.rows import VIEWS, about, at, moment, row_of
from capture.state import replay, session

FOLDER: Final = ".tables"
DAMAGE: Final = "damage.txt"
"""Beside a recording's tables: what could not be read of it."""
VERSION: Final = 3
"""Of the tables' form: another, and all are made anew."""
_TYPES: Final = {
    "text": pa.string(),
    "float8": pa.float64(),
    "int8": pa.int64(),
    "bool": pa.bool_(),
    "timestamptz": pa.timestamp("us", tz="UTC"),
}

Rows = dict[str, list[tuple[Any, ...]]]


def tables_of(folder: Path, say: Callable[[str], None]) -> dict[str, list[Path]]:
    """The Parquet files of each table over all recordings of *folder*, brought up to date.

    What cannot be read of a recording is reported, and left out.

    Raises:
        OSError: The tables cannot be written.
    """
    place = folder / FOLDER
    place.mkdir(exist_ok=True)
    machine = _machine(folder, say)
    found: dict[str, list[Path]] = {name: [] for name in VIEWS}
    wanted: set[str] = set()
    for path in sorted(folder.glob("*.jsonl")):
        facts = path.stat()
        stamp = f"{path.stem}~{VERSION}-{facts.st_size}-{facts.st_mtime_ns}"
        made = place / stamp
        wanted.add(stamp)
        if not made.exists():
            try:
                rows, damage = rows_of(path, machine)
            except BadRecording as error:
                say(str(error))
                continue
            _write(rows, damage, made)
        if damage := _noted(made):
            say(damage)
        for name in VIEWS:
            found[name].append(made / f"{name}.parquet")
    for old in place.iterdir():
        if old.name not in wanted:
            shutil.rmtree(old, ignore_errors=True)
    return found


def _machine(folder: Path, say: Callable[[str], None]) -> str:
    """The machine's name in the shop, where the folder's settings give one."""
    try:
        settings = settings_in(folder)
    except BadShopSettings as error:
        say(str(error))
        return ""
    return settings.machine if settings is not None else ""


class _TrueLines:
    """A recording's events up to the first line that does not fit its chain, as often as they are read."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._recording = read(path)
        self.header = self._recording.header
        follower = LineFollower(path)
        while follower.damage is None and follower.poll():
            pass
        self.end, self._broken = follower.due, follower.damage
        follower.close()

    def __iter__(self) -> Iterator[Event]:
        return takewhile(lambda event: event.seq < self.end, self._recording)

    @property
    def damage(self) -> str:
        """What stopped the reading, in words; empty: nothing did. Known when the events were read."""
        damage = self._broken or self._recording.damage
        return "" if damage is None else f"{damage}; what stands before it is there"


def rows_of(path: Path, machine: str) -> tuple[Rows, str]:
    """Every row that the recording at *path* makes, by view, and what could not be read of it.

    Raises:
        BadRecording: It is no recording.
    """
    recording = _TrueLines(path)
    said = about(recording.header)
    key = (machine or said.grinder, path.stem)
    rows: Rows = {name: [] for name in VIEWS}
    ended: datetime | None = None
    for event in recording:
        ended = at(event)
        made = row_of(event)
        if made is not None:
            rows[made[0]].append((*key, event.seq, ended, event.at.mono / 1e9, *made[1]))
    job = job_of(recording.header.job)
    try:
        state = replay.state_at_end(job, recording)
    except OverflowError:  # numbers that no gauge gives
        state = session.start(job)
    began = moment(said.began)
    whole = (*key, said.job, said.grinder, said.wheel, said.nominal, said.simulated, began, ended)
    row = job_row(state)
    rows["recordings"].append((*whole, row.events, said.program))
    rows["jobs"].append((*whole, *structs.astuple(row)))
    rows["gauges"] += [(*key, began, *structs.astuple(gauge)) for gauge in gauge_rows(state)]
    return rows, recording.damage


def _noted(made: Path) -> str:
    """What could not be read of the recording whose tables are *made*: said with each answer."""
    try:
        return (made / DAMAGE).read_text("utf-8")
    except OSError:
        return ""


def _write(rows: Rows, damage: str, made: Path) -> None:
    """Writes all tables of one recording beside their place and moves them there at once."""
    draft = made.with_name(f"{made.name}.{os.getpid()}")
    draft.mkdir(exist_ok=True)
    for name, columns in VIEWS.items():
        schema = pa.schema([(column, _TYPES[kind]) for column, kind in columns])
        arrays = list(zip(*rows[name], strict=True)) or [()] * len(columns)
        table = pa.table(
            [pa.array(list(values), field.type) for values, field in zip(arrays, schema, strict=True)],
            schema=schema,
        )
        pq.write_table(table, draft / f"{name}.parquet", compression="zstd")
    if damage:
        (draft / DAMAGE).write_text(damage, "utf-8")
    try:
        draft.rename(made)
    except OSError:  # another program made them meanwhile
        shutil.rmtree(draft)
        if not made.exists():
            raise
