"""The bars of the sweep, on a small number of simulated stations; `trial` with more gives the whole table."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.placing.sweep import HANDS, session, trial


@pytest.mark.parametrize(("rate", "most"), [(50.0, 0.5), (20.0, 0.5), (10.0, 1.0)])
def test_an_accepted_station_is_as_near_the_truth_as_is_due(rate, most):
    """µm, 95th percentile; the uncertainty covers what it says within the chance of so few stations."""
    found = trial(rate, 16, seed=100)

    assert found.p95 <= most
    assert found.worst <= 2.0
    assert found.coverage >= 0.9
    asked = found.slower if rate < 20.0 else 0  # readings too few for the hand: it is asked to rock slower
    assert found.accepted + asked >= 0.95 * found.stations
    assert found.accepted >= 0.65 * found.stations
    assert found.extra <= 1


def test_at_twenty_readings_a_second_five_rocks_do():
    assert trial(20.0, 16, seed=300).within_5 >= 0.97


def test_at_five_readings_a_second_it_is_right_or_asks_for_slower_rocks():
    found = trial(5.0, 16, seed=500)

    assert found.p95 <= 1.5
    assert found.slower >= 0.3 * found.stations


def test_every_hand_has_sessions_and_no_other_has():
    assert all(session(10.0, 1, kind).stations for kind in HANDS)
    with pytest.raises(ValueError, match="a hand is one of matched"):
        session(10.0, 1, "steady")


def test_whoever_listens_hears_of_every_session():
    heard: list[int] = []

    trial(10.0, 3, progress=heard.append)

    assert heard == [1, 2, 3]
