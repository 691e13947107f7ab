"""Whole jobs of invented hands; the full trial stands in the results."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.passes.untold import KINDS, untold_job
from capture.benchmarks.trials.passes.untold_figures import run, wrong_passes


def test_a_trial_counts_what_was_missed_added_and_misread():
    assert wrong_passes([0.005, 0.0], [0.005, 0.0], 0.001) == 0
    assert wrong_passes([0.005, 0.0], [0.005, 0.0, 0.0], 0.001) == 1
    assert wrong_passes([0.005, 0.004], [0.005], 0.001) == 1
    assert wrong_passes([0.005, None], [0.007, None], 0.001) == 1


def test_nearly_every_pass_is_found_with_its_infeed():
    found = run(4, seed=900)

    assert found.passes > 40
    assert found.right > 0.9
    assert found.infeed_p95 < 0.001


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_job_of_every_kind_is_done_to_its_end(kind: str):
    one = untold_job(901, kind)

    assert len(one.made) == len(one.found) == len(one.truth)
    assert any(one.found)


def test_there_is_no_trial_of_nothing():
    with pytest.raises(ValueError, match="at least 1 job"):
        run(0)
    with pytest.raises(ValueError, match="a kind of trial is one of"):
        untold_job(1, "wishful")
