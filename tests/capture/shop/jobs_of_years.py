"""Jobs of three machines over twenty months, of which one machine warms more."""

from __future__ import annotations

import psycopg


def lay_jobs(url: str) -> None:
    """Puts 600 jobs into the tables of a database."""
    with psycopg.connect(url) as one:
        one.execute(
            """
            WITH made AS (
              INSERT INTO store.recordings
                (machine, name, header, month, next, chain, job, grinder, wheel, program, simulated, began)
              SELECT 'g' || i % 3, 'r' || i || '~0', 'x', '2020-01-01', 10, 'x',
                (ARRAY['spindle sleeve', '50% quill', 'pin'])[1 + i % 3], '',
                (ARRAY['60 J', '80 K'])[1 + i % 2], 'x', true,
                timestamptz '2020-01-01 00:00+00' + i * interval '1 day'
              FROM generate_series(0, 599) AS i RETURNING id, machine, began)
            INSERT INTO store.jobs (recording, events, passes, verdict, share, growth)
            SELECT id, 10, 5, 'at-size', 0.5, CASE machine WHEN 'g1' THEN 0.00002 ELSE 0 END *
              extract(day FROM began - timestamptz '2020-01-01 00:00+00') + 0.0001 * (id % 7) FROM made
            """
        )
        one.execute(
            "INSERT INTO store.gauges (recording, gauge, measures, readings, garbled, downs, correction)"
            " SELECT id, 'mike', 'diameter', 1, 0, 0, 0.00001 * (id % 5) FROM store.recordings"
            " WHERE machine = 'g2'"
        )
