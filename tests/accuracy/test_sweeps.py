"""Sweeps: of the intervals stated for accepted places 93 to 97 % hold the truth, give or take chance.

The share of so many stations has a standard deviation of sqrt(0.95 * 0.05 / n), n being the sessions and not
their stations, which share a hand; the bars stand three of them off. Whole: ``tenths bench --accuracy``.
"""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.placing.sweep import trial
from capture.benchmarks.trials.placing.unrocked import unrocked

SESSIONS = 12
CHANCE = 3 * (0.95 * 0.05 / SESSIONS) ** 0.5 / 2


@pytest.mark.parametrize(
    ("kind", "rate"),
    [
        ("matched", 10.0),
        ("matched", 20.0),
        ("straight", 20.0),
        ("flowing", 20.0),
        ("pausing", 20.0),
        ("slow", 10.0),
        ("uneven", 20.0),
    ],
)
def test_the_interval_of_an_accepted_place_holds_as_often_as_it_says(kind, rate):
    found = trial(rate, SESSIONS, kind, seed=9000)

    assert found.coverage >= 0.95 - CHANCE
    assert abs(found.bias) <= 0.1


def test_true_rocks_are_accepted_within_five():
    """At 20 readings a second; 60 stations, of which one may fail by chance."""
    assert trial(20.0, SESSIONS, seed=9100).within_5 >= 0.97


@pytest.mark.parametrize("kind", ["knocked", "jolted", "pulsed", "unsteady", "creeping", "wandering"])
def test_twenty_minutes_of_what_looks_most_like_rocks_gives_no_reading(kind):
    """At 10 Hz, where knocks that agreed by chance were once accepted every half hour."""
    assert sum(unrocked(kind, 10.0, seed, seconds=600.0) for seed in (1, 2)) == 0
