"""What is measured on the wire is the real thing: every reading goes through a port and comes to the disk."""

from __future__ import annotations

import pytest
import serial

from capture.benchmarks.cables import cables
from capture.benchmarks.page import page_rows
from capture.benchmarks.rows import NoFigure
from capture.benchmarks.wire import measure_listeners


@pytest.mark.parametrize("other", ["plain", "threads"])
def test_every_reading_that_was_sent_is_on_disk_after_it_was_sent(other: str):
    gauges = 1 if other == "plain" else 3
    with cables(2 * gauges) as laid:
        ways = {"capture": laid[:gauges], other: laid[gauges:]}
        found = measure_listeners(ways, measures="diameter", rate=20.0, count=10, patience=1.5)

    for heard in found:
        assert heard.lost == 0
        assert len(heard.delays) == 10 * gauges
        assert all(delay > 0 for delay in heard.delays)
        assert heard.cpu > 0
        assert 0 < heard.reached <= 1


def test_a_gauge_that_nobody_hears_is_no_figure():
    with cables(2) as laid:
        taken = serial.Serial(laid[1].port, exclusive=True)
        with taken, pytest.raises(NoFigure, match="capture never read 1 of its gauges"):
            measure_listeners({"capture": laid}, measures="diameter", rate=20.0, count=2)


def test_both_pages_show_what_the_gauge_sent():
    rows = list(page_rows(pairs=1, count=3))

    ways = ("wire to page", "wire to the bore's page")
    assert [row.what for row in rows] == [f"{way}, {name}" for way in ways for name in ("p50", "p95")]
    assert all(row.ours > 0 and row.plain is not None and row.plain > 0 for row in rows)
