"""The bars of the sweep, on a small number of simulated stations; `trial` with more gives the whole table."""

from __future__ import annotations

import pytest

from capture.simulator.sweep_trials import GARBAGE, garbage, trial


@pytest.mark.parametrize(("rate", "most"), [(50.0, 0.5), (20.0, 0.5), (10.0, 1.0)])
def test_an_accepted_station_is_as_near_the_truth_as_is_due(rate, most):
    """µm, 95th percentile; the uncertainty covers what it says within the chance of so few stations."""
    found = trial(rate, 16, seed=100)

    assert found.p95 <= most
    assert found.worst <= 2.0
    assert found.coverage >= 0.9
    assert found.accepted >= 0.95 * found.stations
    assert found.extra <= 1


def test_at_twenty_readings_a_second_five_rocks_do():
    assert trial(20.0, 16, seed=300).within_5 >= 0.95


def test_at_five_readings_a_second_it_is_right_or_asks_for_slower_rocks():
    found = trial(5.0, 16, seed=500)

    assert found.p95 <= 1.5
    assert found.slower >= 0.3 * found.stations


@pytest.mark.parametrize("kind", [kind for kind in GARBAGE if kind not in {"wandering", "knocked"}])
@pytest.mark.parametrize("rate", [5.0, 20.0, 50.0])
def test_a_gauge_that_is_not_rocked_gives_no_reading(kind, rate):
    assert garbage(kind, rate, seed=1) == 0


@pytest.mark.parametrize("kind", ["wandering", "knocked"])
def test_even_half_a_minute_of_knocks_gives_none(kind):
    """A stream that is made of nothing but dips may look like a hand once in an hour: see `garbage`."""
    assert sum(garbage(kind, 20.0, seed, seconds=30.0) for seed in range(4)) == 0
