"""Taper: of the stated intervals of the slope at the stations 93 to 97 % hold it, more of bent parts."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.grinding.intervals import tapers

ROUNDS = 4000


def test_the_slope_of_a_cone_lies_in_its_interval_as_often_as_it_says():
    """The standard deviation of the share is 0.35 %."""
    found = tapers(ROUNDS, seed=3)

    assert 0.94 <= found.within <= 0.97
    assert found.false <= 0.002


@pytest.mark.parametrize("kind", ["barrel", "mouth", "barrel, surface"])
def test_what_bends_the_line_makes_its_interval_rather_too_wide(kind):
    """Not so wide that it says nothing: an error is typically more than 0.7 of what is stated."""
    found = tapers(ROUNDS, kind, seed=3)

    assert 0.94 <= found.within <= 0.985
    assert found.ratio >= 0.7


@pytest.mark.parametrize(("kind", "least"), [("mouth, surface", 0.855), ("told too little", 0.88)])
def test_what_few_stations_cannot_show_is_seen_where_there_are_more(kind, least):
    """Two stations show nothing of it, three little: the bars are what is measured, less three deviations."""
    assert tapers(ROUNDS, kind, seed=3).within >= least
