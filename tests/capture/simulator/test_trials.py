"""The judge over seeded simulated grinds: the bars of the job, with room for a small trial's luck.

The physics is the first-order machine spring (King and Hahn; Malkin and Guo) with the heat of one pass from
50 J/mm³; the bars are the job's own.
"""

from __future__ import annotations

import pytest

from capture.simulator import trials


@pytest.fixture(scope="module")
def hundred():
    return trials.run(100)


def test_spark_out_is_called_when_it_is_true(hundred):
    assert hundred.delay_median <= 0.0
    assert hundred.delay_p90 <= 1.0


def test_spark_out_is_not_called_while_metal_still_comes_off(hundred):
    assert hundred.false <= 0.01
    assert hundred.wrong <= 0.09


def test_the_naive_rule_is_late_on_the_same_grinds(hundred):
    assert hundred.naive_median >= 2.0
    assert hundred.naive_p90 >= 4.0


def test_the_stated_uncertainty_of_the_predicted_size_holds(hundred):
    assert hundred.held_at_stop >= 0.93
    assert hundred.held_at_call >= 0.93


@pytest.mark.parametrize("kind", ["pushed", "lag", "plunge", "glazing", "mistyped"])
def test_a_grind_that_is_not_the_fitted_one_is_not_called_falsely(kind):
    found = trials.run(6, kind)

    assert found.false == 0.0
    assert found.delay_median <= 2.0


def test_the_progress_of_a_trial_is_told():
    heard: list[int] = []
    trials.run(2, "air", told=heard.append)

    assert heard == [1, 2]


def test_a_trial_of_no_known_kind_or_of_nothing_is_refused():
    with pytest.raises(ValueError, match="got sideways"):
        trials.run(1, "sideways")
    with pytest.raises(ValueError, match="at least 1"):
        trials.run(0)


def test_the_table_has_a_line_a_trial(hundred):
    lines = trials.table([hundred]).splitlines()

    assert len(lines) == 3
    assert lines[2].split()[:2] == ["matched", "100"]


def test_the_naive_rule_waits_for_two_small_removals():
    values = [0.010, 0.005, 0.003, 0.0028, 0.0026, 0.0025]

    assert trials.naive_call(values, 1) == 3
    assert trials.naive_call(values[:4], 1) == trials.RESTING + 1
