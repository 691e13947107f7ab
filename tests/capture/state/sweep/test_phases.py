"""What a gauge is doing follows from what it did and what is seen, by one table."""

from __future__ import annotations

from typing import get_args

import pytest

from capture.state.sweep.phases import FROM_ANY, FROM_ONE, Phase, Seen, after

PHASES = get_args(Phase)


def test_everything_that_is_seen_leads_somewhere_in_one_table_and_not_in_two():
    alone = {seen for _, seen in FROM_ONE}

    assert alone | set(FROM_ANY) == set(Seen)
    assert not alone & set(FROM_ANY)


@pytest.mark.parametrize("phase", PHASES)
def test_what_belongs_to_another_phase_changes_nothing(phase):
    for seen in {seen for _, seen in FROM_ONE}:
        if (phase, seen) not in FROM_ONE:
            assert after(phase, seen) == phase


@pytest.mark.parametrize("phase", PHASES)
def test_a_gauge_that_leaves_the_bore_is_in_it_again_only_once_it_is_back(phase):
    out = after(phase, Seen.LEFT)

    assert out == "air"
    assert after(out, Seen.AWAY) == "air"
    assert after(out, Seen.BACK) == "entering"


def test_every_phase_but_the_first_is_reached():
    assert set(FROM_ANY.values()) | set(FROM_ONE.values()) == set(PHASES) - {"silent"}
