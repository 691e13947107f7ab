"""A gauge that nobody rocks: of no stream a reading is accepted in the minutes that are tried here."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.placing.unrocked import UNROCKED, an_hour, unrocked


@pytest.mark.parametrize("kind", UNROCKED)
@pytest.mark.parametrize("rate", [5.0, 20.0])
def test_a_gauge_that_is_not_rocked_gives_no_reading(kind, rate):
    assert unrocked(kind, rate, seed=1) == 0


def test_an_hour_is_six_times_ten_minutes():
    assert an_hour("still", 5.0, 1 / 6) == 0.0


def test_another_stream_there_is_not():
    with pytest.raises(ValueError, match="no such stream: rocked"):
        unrocked("rocked", 5.0, seed=1)
