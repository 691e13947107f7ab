"""What is measured on the wire is the real thing: every reading goes through a port and comes to the disk."""

from __future__ import annotations

import pytest

from capture.benchmarks.cables import cables
from capture.benchmarks.page import page_rows
from capture.benchmarks.wire import hear


@pytest.mark.parametrize("how", ["capture", "plain", "threads"])
def test_every_reading_that_was_sent_is_on_disk_after_it_was_sent(how: str):
    gauges = 1 if how == "plain" else 3
    with cables(gauges) as laid:
        heard = hear(how, laid, measures="diameter", rate=20.0, count=10)

    assert heard.lost == 0
    assert len(heard.delays) == 10 * gauges
    assert all(delay > 0 for delay in heard.delays)
    assert heard.cpu > 0


def test_both_pages_show_what_the_gauge_sent():
    rows = list(page_rows(pairs=1, count=3))

    ways = ("wire to page", "wire to the bore's page")
    assert [row.what for row in rows] == [f"{way}, {name}" for way in ways for name in ("p50", "p95")]
    assert all(row.ours > 0 and row.plain is not None and row.plain > 0 for row in rows)
