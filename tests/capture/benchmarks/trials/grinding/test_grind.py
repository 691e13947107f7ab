"""Trials of the judge of a grind, as trials; what the judge does in them is held in `tests/accuracy`."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.grinding import grind
from capture.benchmarks.trials.grinding.grind_figures import RESTING, naive_call, table


def test_the_progress_of_a_trial_is_told():
    heard: list[int] = []
    grind.run(2, "air", progress=heard.append)

    assert heard == [1, 2]


def test_a_trial_of_no_known_kind_or_of_nothing_is_refused():
    with pytest.raises(ValueError, match="got sideways"):
        grind.run(1, "sideways")
    with pytest.raises(ValueError, match="at least 1"):
        grind.run(0)


def test_the_table_has_a_line_a_trial_and_every_session_is_in_a_group():
    found = grind.run(4, "dressed")
    lines = table([found]).splitlines()

    assert len(lines) == 3
    assert lines[2].split()[:2] == ["dressed", "4"]
    assert sum(group.sessions for group in found.groups) == 4


def test_the_naive_rule_waits_for_two_small_removals():
    values = [0.010, 0.005, 0.003, 0.0028, 0.0026, 0.0025]

    assert naive_call(values, 1) == 3
    assert naive_call(values[:4], 1) == RESTING + 1
