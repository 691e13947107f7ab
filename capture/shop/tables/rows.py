"""The tables made of a recording's events, one row an event: the same in PostgreSQL and in Parquet."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any, Final, Literal, TypeAlias

from msgspec import Struct

from capture.events import Event, Flag, Pass, Picture, Reading, Station, Taken
from capture.recording.codec import Header
from capture.sheet.reader import job_of
from capture.text.flag_sentences import flag_text

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
PROGRAM: Final = "desk"
"""`capture.state.session.PROGRAM`, which would bring all of the judgement with it."""

Kind: TypeAlias = Literal["text", "float8", "int8", "bool", "timestamptz"]

TABLES: Final[Mapping[str, tuple[tuple[str, Kind], ...]]] = {
    "readings": (("gauge", "text"), ("value", "float8"), ("unit", "text"), ("digits", "int8")),
    "taken": (
        ("part", "text"),
        ("z", "float8"),
        ("angle", "float8"),
        ("pass", "int8"),
        ("value", "float8"),
        ("u", "float8"),
        ("gauge", "text"),
        ("readings", "int8"),
    ),
    "passes": (("infeed", "float8"), ("found", "bool")),
    "stations": (("part", "text"), ("z", "float8"), ("angle", "float8")),
    "pictures": (("file", "text"), ("sha256", "text"), ("size", "int8"), ("text", "text")),
    "verdicts": (
        ("what", "text"),
        ("pass", "int8"),
        ("gauge", "text"),
        ("size", "float8"),
        ("removed", "float8"),
        ("to_come", "float8"),
        ("next_removal", "float8"),
        ("p_below", "float8"),
        ("predicted", "float8"),
        ("u_predicted", "float8"),
        ("text", "text"),
    ),
}
"""Columns of each table beside `seq`, `at` (wall clock) and `t` (seconds since the recording began).

Lengths are in mm, temperatures in °C."""

_EVENT: Final[tuple[tuple[str, Kind], ...]] = (
    ("machine", "text"),
    ("recording", "text"),
    ("seq", "int8"),
    ("at", "timestamptz"),
    ("t", "float8"),
)
_RECORDING: Final[tuple[tuple[str, Kind], ...]] = (
    ("machine", "text"),
    ("recording", "text"),
    ("job", "text"),
    ("grinder", "text"),
    ("wheel", "text"),
    ("nominal", "float8"),
    ("simulated", "bool"),
    ("began", "timestamptz"),
    ("ended", "timestamptz"),
    ("events", "int8"),
)
VIEWS: Final[Mapping[str, tuple[tuple[str, Kind], ...]]] = {
    "recordings": (*_RECORDING, ("program", "text")),
    **{name: (*_EVENT, *columns) for name, columns in TABLES.items()},
    "jobs": (
        *_RECORDING,
        ("passes", "int8"),
        ("verdict", "text"),
        ("size", "float8"),
        ("u_size", "float8"),
        ("share", "float8"),
        ("u_share", "float8"),
        ("gain", "float8"),
        ("u_gain", "float8"),
        ("scatter", "float8"),
        ("growth", "float8"),
        ("fresh_passes", "int8"),
        ("glazed", "bool"),
        ("bite_loss", "float8"),
    ),
    "gauges": (
        ("machine", "text"),
        ("recording", "text"),
        ("began", "timestamptz"),
        ("gauge", "text"),
        ("measures", "text"),
        ("readings", "int8"),
        ("garbled", "int8"),
        ("downs", "int8"),
        ("correction", "float8"),
        ("u_correction", "float8"),
    ),
}
"""What others read, the same in PostgreSQL and in Parquet."""


class AboutRecording(Struct, frozen=True):
    """What a recording's header says of it."""

    job: str
    grinder: str
    wheel: str
    nominal: float | None
    program: str
    began: str
    simulated: bool


def row_of(event: Event) -> tuple[str, tuple[Any, ...]] | None:
    """The table of an event and its row there, without `seq` and time; None of what raw lines alone hold."""
    match event.fact:
        case Reading() as one:
            return "readings", (clean(event.source), one.value, one.unit, one.digits)
        case Taken() as one:
            place = (clean(one.part), one.z, one.angle, small(one.pass_))
            return "taken", (*place, one.value, one.u, clean(one.gauge), len(one.of))
        case Pass() as one:
            return "passes", (one.infeed, event.source == PROGRAM)
        case Station() as one:
            return "stations", (clean(one.part), one.z, one.angle)
        case Picture() as one:
            return "pictures", (clean(one.file), clean(one.sha256), small(one.size), clean(one.text))
        case Flag() as one:
            figures = [_number(one.figures.get(name)) for name, _ in TABLES["verdicts"][3:10]]
            return "verdicts", (
                clean(one.what),
                small(one.pass_),
                clean(one.gauge),
                *figures,
                clean(flag_text(one) or ""),
            )
        case _:
            return None


def about(header: Header) -> AboutRecording:
    """What *header* says."""
    job = job_of(header.job)
    grinder = job.grinder
    return AboutRecording(
        clean(job.name),
        clean(grinder.name if grinder is not None else ""),
        clean(grinder.wheel if grinder is not None else ""),
        job.fit.nominal if job.fit is not None else None,
        clean(header.program),
        clean(header.began),
        job.simulated,
    )


def moment(began: str) -> datetime | None:
    """When a recording began, by its header; None where that is no time."""
    try:
        found = datetime.fromisoformat(began)
    except ValueError:
        return None
    return found if found.tzinfo is not None else found.replace(tzinfo=UTC)


def at(event: Event) -> datetime:
    """When an event was recorded, by the wall clock."""
    return _EPOCH + timedelta(microseconds=event.at.wall // 1000)


def clean(text: str) -> str:
    """*text* as a database takes it: without the character zero, and what is no character."""
    return text.replace("\0", "\ufffd").encode("utf-8", "replace").decode()


def small(number: int) -> int:
    """*number* as far as a column holds it."""
    return max(-(2**63), min(number, 2**63 - 1))


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
