"""Figures of jobs put together by month, kept in the database: so that ten years of them are read at once.

The median of each month and thing: a few odd jobs do not bend it. A month is worked out anew some time after
a job of it was.
"""

from __future__ import annotations

from typing import Any, Final

import psycopg

from capture.shop.tables.monthly import DAY, FIGURES, MONTH

SETTLED: Final = 600.0
"""Seconds after the first new job of a month in which more may come before it is worked out anew."""


def note(connection: psycopg.Connection[Any], recording: int) -> None:
    """Notes, in the transaction that changes a job, that its month has to be worked out anew."""
    connection.execute(
        f"INSERT INTO store.months_due (month) SELECT {MONTH} FROM store.recordings r"  # noqa: S608 - our own names
        " WHERE r.id = %s AND r.began IS NOT NULL"
        # The row is locked even if it is there: a month that is being worked out waits for this job.
        " ON CONFLICT (month) DO UPDATE SET since = months_due.since",
        (recording,),
    )


def work_out(connection: psycopg.Connection[Any], settled: float = SETTLED) -> bool:
    """Works out one month that has been due for *settled* seconds; whether there was one."""
    with connection.transaction():
        row = connection.execute(
            "DELETE FROM store.months_due WHERE month = (SELECT month FROM store.months_due"
            " WHERE since <= now() - %s * interval '1 s' ORDER BY month DESC LIMIT 1"
            " FOR UPDATE SKIP LOCKED) RETURNING month",
            (settled,),
        ).fetchone()
        if row is None:
            return False
        (month,) = row
        connection.execute("DELETE FROM store.monthly WHERE month = %s", (month,))
        for one in FIGURES:
            connection.execute(
                "INSERT INTO store.monthly (what, machine, thing, month, day, value, jobs)"  # noqa: S608 - our own names
                f" SELECT %s, r.machine, {one.thing}, %s, avg({DAY}),"
                f" percentile_cont(0.5) WITHIN GROUP (ORDER BY {one.column}), count(*)"
                f" FROM store.recordings r JOIN {one.table} x ON x.recording = r.id"
                f" WHERE {one.column} IS NOT NULL AND r.began >= %s::date::timestamp AT TIME ZONE 'UTC'"
                " AND r.began < (%s::date + interval '1 month') AT TIME ZONE 'UTC'"
                " GROUP BY 2, 3",
                (one.what, month, month, month),
            )
    return True
