"""How long a search of ten years takes: a million jobs of 64 machines in a real database.

``python -m capture.benchmarks.trials.shop.search FOLDER``.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import psycopg

from capture.benchmarks.trials.shop.engines import Postgres
from capture.shop.archive.months import work_out
from capture.shop.archive.schema import migrate
from capture.shop.history.findings import findings_of
from capture.shop.history.search import History, JobSearch

_MAKE: Final = """
INSERT INTO store.recordings
  (machine, name, header, month, next, chain, job, grinder, wheel, program, simulated, began, ended, worked)
SELECT 'grinder-' || i % 64, 'r' || i || '~0', 'x', '2020-01-01', 10, 'x',
  (ARRAY['spindle sleeve', 'quill', 'pin', 'piston rod', 'tailstock barrel'])[1 + i % 5] || ' '
    || (i::bigint * 7919) % 40000,
  '', (ARRAY['60 J', '80 K', '120 L'])[1 + i % 3], 'x', true,
  timestamptz '2016-01-01 00:00+00' + i * (interval '3650 days' / 1000000), now(), 10
FROM generate_series(1, 1000000) AS i;
INSERT INTO store.jobs (recording, events, passes, verdict, size, share, growth, gain, bite_loss)
SELECT id, 10, 12, 'at-size', 55 + random() / 1000, 0.4 + random() / 5, random() / 500, 0.9 + random() / 10,
  random() / 50 FROM store.recordings;
INSERT INTO store.gauges (recording, gauge, measures, readings, garbled, downs, correction)
SELECT id, 'mike ' || id % 128, 'diameter', 100, 0, 0, random() / 1000 FROM store.recordings;
"""
SEARCHES: Final = {
    "nothing asked": JobSearch(),
    "a part's words": JobSearch(words="sleeve 123"),
    "words that no job has": JobSearch(words="camshaft"),
    "words that every fifth job has": JobSearch(words="quill"),
    "a machine": JobSearch(machine="grinder-7"),
    "a machine and a wheel": JobSearch(machine="grinder-7", wheel="80 K"),
    "a wheel": JobSearch(wheel="120 L"),
    "a gauge": JobSearch(gauge="mike 77"),
    "a month": JobSearch(since=datetime(2019, 5, 1, tzinfo=UTC), until=datetime(2019, 6, 1, tzinfo=UTC)),
    "words, machine and a year": JobSearch(
        words="sleeve",
        machine="grinder-5",
        since=datetime(2019, 1, 1, tzinfo=UTC),
        until=datetime(2020, 1, 1, tzinfo=UTC),
    ),
}


TWO_YEARS: Final = datetime(2023, 12, 29, tzinfo=UTC)
"""Before the last job."""


def _say(figures: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(figures) + "\n")
    sys.stdout.flush()


def main() -> None:
    """Makes the jobs, and asks each search five times."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    server = Postgres(place=parser.parse_args().folder)
    try:
        url = server.create("decade")
        migrate(url)
        with psycopg.connect(url, autocommit=True) as one:
            one.execute("DROP INDEX store.recordings_by_word")
            for command in _MAKE.split(";\n"):
                one.execute(command.encode())
            one.execute("CREATE INDEX recordings_by_word ON store.recordings USING gin (job gin_trgm_ops)")
            one.execute("ANALYZE")
            one.execute(
                "INSERT INTO store.months_due SELECT DISTINCT date_trunc('month', began AT TIME ZONE 'UTC'),"
                " '-infinity'::timestamptz FROM store.recordings"
            )
            begun, months = time.monotonic(), 0
            while work_out(one):
                months += 1
            _say({"months put together": months, "seconds a month": (time.monotonic() - begun) / months})
        history = History(url)
        for name, search in SEARCHES.items():
            taken = []
            for _ in range(5):
                begun = time.monotonic()
                _, number = history.search(search)
                taken.append(time.monotonic() - begun)
            _say({"search": name, "found": number, "first": taken[0], "most": max(taken)})
        for name, search in (("two years", JobSearch(since=TWO_YEARS)), ("all", JobSearch())):
            begun = time.monotonic()
            series = history.series(search)
            read = time.monotonic() - begun
            found = findings_of(series)
            whole = time.monotonic() - begun
            _say({"changes": name, "series": len(series), "read": read, "whole": whole, "found": len(found)})
        history.close()
    finally:
        server.close()


if __name__ == "__main__":
    main()
