"""The trial of roundness: its truth is kept from what is judged, and what cannot be seen is never shown."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.turning.turned import BAR, KINDS, figures, trial


def test_a_trial_is_drawn_from_its_seed_alone():
    assert trial("two-point", 3) == trial("two-point", 3)


def test_there_is_no_other_kind():
    with pytest.raises(ValueError, match="two-point"):
        figures("by eye", 1)


def test_two_points_never_claim_an_odd_lobe():
    found = figures("two-point", 2, seed=40)

    assert found.unnamed == 0
    assert found.p95 <= 1000 * BAR
    assert set(KINDS) >= {"v", "centres", "two-point"}
