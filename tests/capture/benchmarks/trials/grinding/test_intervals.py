"""Trials of intervals tell a right uncertainty from a wrong one."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.grinding.intervals import SOAKS, TAPERS, soaks, tapers, watched


@pytest.mark.parametrize("run", [soaks, tapers])
def test_an_uncertainty_told_too_small_is_seen(run):
    """The same rounds: what is told less holds less."""
    assert run(60, "told too little").ratio > run(60, "matched").ratio


@pytest.mark.parametrize(("run", "kinds"), [(soaks, SOAKS), (tapers, TAPERS), (watched, SOAKS)])
def test_every_kind_runs_and_another_there_is_not(run, kinds):
    assert all(run(3, kind).rounds == 3 for kind in kinds)
    with pytest.raises(ValueError, match="a kind of trial is one of matched"):
        run(1, "cooked")
