"""The jobs in the database: searched by part, machine, wheel and gauge, and their figures over time."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

import psycopg
from msgspec import Struct

from capture.shop.history.findings import Series, What, series_of

SHOWN: Final = 200
"""Jobs that are shown of a search; more are counted."""
COUNTED: Final = 10_000
"""Up to which they are counted."""
MANY: Final = 20_000
"""Jobs from which on their figures are put together by month before they are read."""
_WHEEL: Final = "CASE WHEN r.wheel = '' THEN r.machine ELSE r.machine || ' / ' || r.wheel END"
_FIGURES: Final[dict[What, tuple[str, str]]] = {
    "machine-warms": ("r.machine", "x.growth"),
    "share-changes": (_WHEEL, "x.share"),
    "wear-changes": (_WHEEL, "x.gain"),
    "wheel-glazes": (_WHEEL, "x.bite_loss"),
    "gauge-drifts": ("r.machine || ' / ' || x.gauge", "x.correction"),
}
"""Of what each figure is, and its column."""


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
        rows = self._ask(
            "SELECT r.machine, r.name, r.job, r.wheel, r.began, j.passes, j.verdict, j.size, j.share,"
            f" j.growth {joined}"
            " ORDER BY r.began DESC NULLS LAST LIMIT %s",
            (*values, SHOWN),
        )
        counted = self._ask(
            f"SELECT count(*) FROM (SELECT 1 {joined} LIMIT %s) AS listed",  # noqa: S608 - our own names
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

        Raises:
            psycopg.Error: The database cannot be asked.
        """
        where, values = _where(wanted)
        known = f"{where} {'AND' if where else 'WHERE'} r.began IS NOT NULL AND "
        counted = self._ask(
            "SELECT count(*) FROM (SELECT 1 FROM store.recordings r"  # noqa: S608 - our own names
            f" JOIN store.jobs j ON j.recording = r.id{where} LIMIT %s) AS listed",
            (*values, MANY),
        )
        monthly = int(counted[0][0]) >= MANY
        found: list[Series] = []
        for what, (of, figure) in _FIGURES.items():
            table = "store.gauges" if what == "gauge-drifts" else "store.jobs"
            more = " AND x.gauge = %s" if what == "gauge-drifts" and wanted.gauge else ""
            rows = self._ask(
                f"{_figures(of, figure, monthly=monthly)[0]} FROM store.recordings r"
                f" JOIN {table} x ON x.recording = r.id {known} {figure} IS NOT NULL{more}"
                f"{_figures(of, figure, monthly=monthly)[1]}",
                (*values, wanted.gauge) if more else values,
            )
            found += series_of(what, [(of, float(at), value) for of, at, value in rows])
        return found

    def _ask(self, command: str, values: tuple[Any, ...]) -> list[tuple[Any, ...]]:
        if self._connection is None or self._connection.closed or self._connection.broken:
            self._connection = psycopg.connect(
                self._url, autocommit=True, connect_timeout=5, application_name="tenths history"
            )
            self._connection.execute("SET statement_timeout = '20s'")
        return self._connection.execute(command.encode(), values).fetchall()


def _figures(of: str, figure: str, *, monthly: bool) -> tuple[str, str]:
    """The beginning and the end of a command that gives a figure by what it is of and by day."""
    day = "extract(epoch FROM r.began) / 86400"
    if not monthly:
        return f"SELECT {of}, {day}, {figure}", ""
    middle = f"percentile_cont(0.5) WITHIN GROUP (ORDER BY {figure})"
    return f"SELECT {of}, avg({day}), {middle}", f" GROUP BY {of}, date_trunc('month', r.began)"


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
