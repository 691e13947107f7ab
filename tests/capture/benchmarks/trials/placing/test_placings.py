"""Hands that place a streaming gauge: the trial counts what it should."""

from __future__ import annotations

import pytest

from capture.benchmarks.placings import placing_rows
from capture.benchmarks.trials.placing.placings import judged, placed
from capture.events import Taken
from capture.simulator.hand import KINDS, HandPlacing


@pytest.mark.parametrize("kind", KINDS)
def test_a_job_of_five_stations_is_measured_by_each_kind_of_gauge(kind):
    found = placed(kind, 20.0, seed=3)

    assert found.due >= 5
    assert (found.missed, found.false) == (0, 0)
    assert max(map(abs, found.errors)) < 0.0015, "half a micrometre and the display of one"


def test_a_size_of_no_placing_is_false_and_a_placing_without_one_missed():
    taken = [
        (5.0, Taken("shaft", 20.0, 0.0, 0, 55.001, 0.0005, (1,))),
        (50.0, Taken("shaft", 80.0, 0.0, 0, 55.1, 0.0005, (2,))),
    ]
    placings = [
        HandPlacing(4.0, 5.5, 55.0),
        HandPlacing(8.0, 9.0, 55.0),
        HandPlacing(10.0, 11.0, 55.0, again=True),
    ]

    found = judged(taken, placings, 0.1)

    assert (found.due, found.missed, found.false) == (2, 1, 1)
    assert found.errors == (pytest.approx(0.001),)


def test_the_rows_name_their_bars():
    rows = list(placing_rows(jobs=1, progress=lambda _: None))

    assert {row.most for row in rows if row.what.endswith(("p95", "false"))} == {1.5, 0.1}
