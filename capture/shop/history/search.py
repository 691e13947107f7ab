"""The jobs in the database: searched by part, machine, wheel and gauge, and their figures over time."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

import psycopg
from msgspec import Struct

from capture.shop.history.findings import Series, series_of
from capture.shop.tables.monthly import DAY, FIGURES, Figure

SHOWN: Final = 50
"""Jobs that are shown of a search; more are counted."""
COUNTED: Final = 10_000
"""Up to which they are counted."""
MANY: Final = 20_000
"""Jobs from which on their figures are read as they were put together by month."""


class JobSearch(Struct, frozen=True):
    """What is looked for; an empty text is not asked about."""

    words: str = ""
    """In the name of the job."""
    machine: str = ""
    wheel: str = ""
    gauge: str = ""
    since: datetime | None = None
    until: datetime | None = None


class FoundJob(Struct, frozen=True):
    """One job of a search."""

    machine: str
    recording: str
    job: str
    wheel: str
    began: datetime | None
    passes: int | None
    verdict: str | None
    size: float | None
    share: float | None
    growth: float | None


class History:
    """Reads from the database; one connection, made again where it was lost."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._connection: psycopg.Connection[Any] | None = None

    def close(self) -> None:
        """Ends the connection."""
        if self._connection is not None:
            self._connection.close()

    def search(self, wanted: JobSearch) -> tuple[list[FoundJob], int]:
        """The newest jobs, and how many there are, up to `COUNTED`.

        Raises:
            psycopg.Error: The database cannot be asked.
        """
        where, values = _where(wanted)
        joined = "FROM store.recordings r LEFT JOIN store.jobs j ON j.recording = r.id" + where
        with_and = "AND" if where else "WHERE"
        rows: list[tuple[Any, ...]] = []
        # Those without a time come last; asked for in one command with the others all would be sorted.
        for known in ("r.began IS NOT NULL ORDER BY r.began DESC", "r.began IS NULL ORDER BY r.id DESC"):
            if len(rows) < SHOWN:
                rows += self._ask(
                    "SELECT r.machine, r.name, r.job, r.wheel, r.began, j.passes, j.verdict, j.size, j.share,"
                    f" j.growth {joined} {with_and} {known} LIMIT %s",
                    (*values, SHOWN - len(rows)),
                )
        counted = self._ask(
            f"SELECT count(*) FROM (SELECT 1 FROM store.recordings r{where} LIMIT %s) AS listed",  # noqa: S608 - our own names
            (*values, COUNTED),
        )
        return [FoundJob(*row) for row in rows], int(counted[0][0])

    def names(self) -> dict[str, list[str]]:
        """The machines, wheels and gauges that there are."""
        return {
            name: [row[0] for row in self._ask(_distinct(table, column), ())]
            for name, table, column in (
                ("machine", "store.recordings", "machine"),
                ("wheel", "store.recordings", "wheel"),
                ("gauge", "store.gauges", "gauge"),
            )
        }

    def series(self, wanted: JobSearch) -> list[Series]:
        """What may change over the months, of the jobs that *wanted* names; of very many the monthly medians.

        Where a wheel is asked for, only series of wheels.

        Raises:
            psycopg.Error: The database cannot be asked.
        """
        if not (wanted.words or wanted.gauge) and self._are_many(wanted) and self._are_put_together():
            return self._by_month(wanted)
        where, values = _where(wanted)
        known = f"{where} {'AND' if where else 'WHERE'} r.began IS NOT NULL AND "
        found: list[Series] = []
        for one in _figures_of(wanted):
            more = " AND x.gauge = %s" if one.what == "gauge-drifts" and wanted.gauge else ""
            rows = self._ask(
                f"SELECT r.machine, {one.thing}, {DAY}, {one.column}, 1 FROM store.recordings r"  # noqa: S608 - our own names
                f" JOIN {one.table} x ON x.recording = r.id {known} {one.column} IS NOT NULL{more}",
                (*values, wanted.gauge) if more else values,
            )
            found += series_of(one.what, rows)
        return found

    def _are_many(self, wanted: JobSearch) -> bool:
        where, values = _where(wanted)
        counted = self._ask(
            f"SELECT count(*) FROM (SELECT 1 FROM store.recordings r{where} LIMIT %s) AS listed",  # noqa: S608 - our own names
            (*values, MANY),
        )
        return int(counted[0][0]) >= MANY

    def _are_put_together(self) -> bool:
        """Whether the figures by month are those of all jobs but the newest."""
        never = self._ask("SELECT EXISTS (SELECT FROM store.months_due WHERE since = '-infinity')", ())
        return not never[0][0]

    def _by_month(self, wanted: JobSearch) -> list[Series]:
        """The medians of whole months, the first and the last of them too."""
        found: list[Series] = []
        for one in _figures_of(wanted):
            rows = self._ask(
                "SELECT machine, thing, day, value, jobs FROM store.monthly WHERE what = %(what)s"
                " AND (%(machine)s = '' OR machine = %(machine)s)"
                " AND (%(wheel)s = '' OR thing = %(wheel)s)"
                " AND month >="
                " coalesce(date_trunc('month', %(since)s::timestamptz AT TIME ZONE 'UTC'), '-infinity')"
                " AND month < coalesce(%(until)s::timestamptz AT TIME ZONE 'UTC', 'infinity')"
                " ORDER BY month",
                {
                    "what": one.what,
                    "machine": wanted.machine,
                    "wheel": wanted.wheel,
                    "since": wanted.since,
                    "until": wanted.until,
                },
            )
            found += series_of(one.what, rows)
        return found

    def _ask(self, command: str, values: tuple[Any, ...] | dict[str, Any]) -> list[tuple[Any, ...]]:
        if self._connection is None or self._connection.closed or self._connection.broken:
            self._connection = psycopg.connect(
                self._url, autocommit=True, connect_timeout=5, application_name="tenths history"
            )
            self._connection.execute("SET statement_timeout = '20s'")
        return self._connection.execute(command.encode(), values).fetchall()


def _figures_of(wanted: JobSearch) -> list[Figure]:
    return [one for one in FIGURES if one.thing == "r.wheel" or not wanted.wheel]


def _distinct(table: str, column: str) -> str:
    """The values of an indexed column, one after the other by its index: not by reading all rows.

    (The loose index scan of PostgreSQL's wiki.)
    """
    return (
        f"WITH RECURSIVE each AS ((SELECT min({column}) AS it FROM {table}) UNION ALL"  # noqa: S608 - our own names
        f" SELECT (SELECT min({column}) FROM {table} WHERE {column} > each.it)"
        " FROM each WHERE each.it IS NOT NULL)"
        " SELECT it FROM each WHERE it IS NOT NULL AND it <> '' LIMIT 2000"
    )


def _where(wanted: JobSearch) -> tuple[str, tuple[Any, ...]]:
    parts: list[str] = []
    values: list[Any] = []
    for part, value in (
        ("r.job ILIKE %s", f"%{_literal(wanted.words)}%" if wanted.words else ""),
        ("r.machine = %s", wanted.machine),
        ("r.wheel = %s", wanted.wheel),
        ("EXISTS (SELECT FROM store.gauges g WHERE g.recording = r.id AND g.gauge = %s)", wanted.gauge),
        ("r.began >= %s", wanted.since),
        ("r.began < %s", wanted.until),
    ):
        if value:
            parts.append(part)
            values.append(value)
    return (" WHERE " + " AND ".join(parts) if parts else ""), tuple(values)


def _literal(words: str) -> str:
    """Words in which no character stands for others."""
    return words.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_").replace("\0", "")
