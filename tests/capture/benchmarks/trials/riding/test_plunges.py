"""The trial of plunges: its own truth, and that what it counts is what happened."""

from __future__ import annotations

import pytest

from capture.benchmarks.rides import rows_of_plunges
from capture.benchmarks.trials.riding.plunge_truth import RiddenPlunge, any_plain, any_plunge_apart, plunged
from capture.benchmarks.trials.riding.plunges import Plunged, plunge_plain
from capture.metrology.grinding.decay import lag, left_after


def test_its_truth_is_the_closed_form_of_the_first_order_lag():
    """``rate tau (1 - exp(-t / tau))`` at the stop, then ``exp(-t / tau)`` of it (from memory)."""
    one = RiddenPlunge(feeds=((0.001, 40.0),), tau=5.0, begins=15.0)
    truth, _ = plunged(one, 1)

    at_stop = lag(0.001, 5.0, 40.0)
    assert truth.to_come[int(55.0 / 0.02)] == pytest.approx(at_stop, rel=0.01)
    assert truth.to_come[int(65.0 / 0.02)] == pytest.approx(left_after(at_stop, 5.0, 10.0), rel=0.02)


@pytest.mark.parametrize("draw", [any_plain, any_plunge_apart])
def test_what_is_cut_and_what_is_to_come_are_all_that_was_fed(draw):
    one = draw(3, 10.0)
    truth, _ = plunged(one, 3)
    fed = sum(rate * seconds for rate, seconds in one.feeds)
    stop = int(truth.stops / 0.02)

    assert one.size - truth.cold[stop] + truth.to_come[stop] == pytest.approx(fed, abs=0.0025)


def test_a_plunge_is_followed_to_its_call():
    found = plunge_plain(1, 10.0)

    assert found.right == 2
    assert found.extra == 0
    assert found.come < 0.001


def test_rows_count_early_and_missed_words():
    early = Plunged(2, 0, True, 1.0, -2.0, 0.0011, 0.0, 0.0005, None)
    missed = Plunged(1, 1, True, None, None, 0.0, None, None, None)
    rows = {row.what: row for row in rows_of_plunges("x", [early, missed])}

    assert rows["x: infeeds and dwells found"].ours == 75.0
    assert rows["x: end of the decay not said"].ours == 1.0
    assert rows["x: said early"].good is False
    assert rows["x: said at twice the limit"].good is False
