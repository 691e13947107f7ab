"""Works out the rows of jobs in the database, beside the archive: recordings that have come to rest."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import psycopg
from msgspec import Struct, structs

from capture.events import Event
from capture.recording.codec import decode_event, decode_header
from capture.sheet.reader import job_of
from capture.shop.archive import months
from capture.shop.tables.jobs import GaugeSummary, JobRow, gauge_rows, job_row
from capture.state import replay, session

AT_ONCE: Final = 50
RESTED: Final = 10.0
"""Seconds without a new line after which a recording's row is worked out."""
MANY: Final = 50_000
"""New lines after which it is worked out though it goes on."""


class _StoredEvents(Struct):
    """The events of a stored recording, as often as they are gone through."""

    connection: psycopg.Connection[Any]
    recording: int
    month: Any
    end: int

    def __iter__(self) -> Iterator[Event]:
        with self.connection.transaction(), self.connection.cursor("events", binary=True) as cursor:
            cursor.itersize = 5000
            cursor.execute(
                "SELECT line FROM store.lines WHERE recording = %s AND month = %s AND seq < %s ORDER BY seq",
                (self.recording, self.month, self.end),
            )
            for (line,) in cursor:
                yield decode_event(bytes(line))


class Working:
    """One connection; `turn` works out what is due."""

    def __init__(self, url: str) -> None:
        """Raises `psycopg.Error` where the database cannot be reached."""
        self._connection = psycopg.connect(
            url, autocommit=True, connect_timeout=10, application_name="tenths jobs"
        )

    def close(self) -> None:
        """Ends the connection."""
        self._connection.close()

    def turn(self, rested: float = RESTED) -> int:
        """How many recordings were worked out: those that have *rested* so many seconds, and grown since.

        Where there is none, a month of jobs is put together.
        """
        due = self._connection.execute(
            "SELECT id, month, header, next FROM store.recordings WHERE worked < next"
            " AND (stored_at <= now() - %s * interval '1 s' OR next - worked > %s)"
            " ORDER BY stored_at LIMIT %s",
            (rested, MANY, AT_ONCE),
        ).fetchall()
        for number, month, header, end in due:
            self._work(number, month, bytes(header), end)
        return len(due) or int(months.work_out(self._connection))

    def _work(self, number: int, month: Any, header: bytes, end: int) -> None:
        job = job_of(decode_header(header).job)
        try:
            state = replay.state_at_end(job, _StoredEvents(self._connection, number, month, end))
        except OverflowError:  # numbers that no gauge gives
            state = session.start(job)
        row, gauges = job_row(state), gauge_rows(state)
        with self._connection.transaction():
            self._put("jobs", number, [row])
            self._put("gauges", number, gauges)
            months.note(self._connection, number)
            self._connection.execute("UPDATE store.recordings SET worked = %s WHERE id = %s", (end, number))

    def _put(self, table: str, number: int, rows: list[Any]) -> None:
        struct: Any = JobRow if table == "jobs" else GaugeSummary
        names = struct.__struct_fields__
        self._connection.execute(f"DELETE FROM store.{table} WHERE recording = %s", (number,))  # noqa: S608 - our own names
        with self._connection.cursor() as cursor:
            cursor.executemany(
                f"INSERT INTO store.{table} (recording, {', '.join(names)})"  # noqa: S608 - our own names
                f" VALUES (%s{', %s' * len(names)})",
                [(number, *structs.astuple(row)) for row in rows],
            )
