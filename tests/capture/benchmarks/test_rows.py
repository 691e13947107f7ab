"""Figures beside plain ones: what a ratio is, and when a goal is reached."""

from __future__ import annotations

import pytest

from capture.benchmarks.rows import Row, in_turn, medians, quantile


def test_a_ratio_is_ours_to_the_plain_one():
    row = Row("wire to disk", 2.6, "ms", "a loop", 2.0, most=1.3)

    assert row.ratio == pytest.approx(1.3)
    assert row.good


def test_a_goal_that_is_missed_is_said():
    assert Row("wire to disk", 2.7, "ms", "a loop", 2.0, most=1.3).good is False
    assert Row("readings lost", 1, "", most=0.0).good is False
    assert Row("readings lost", 0, "", most=0.0).good is True
    assert Row("fold", 1.0, "µs").good is None


def test_both_are_run_in_turn():
    runs: list[str] = []

    def run(name: str, value: float) -> list[float]:
        runs.append(name)
        return [value]

    ours, plain = in_turn(lambda: run("ours", 1.0), lambda: run("plain", 2.0), 3)

    assert runs == ["plain", "ours"] * 3
    assert list(medians(ours)) == [1.0]
    assert list(medians(plain)) == [2.0]


def test_a_quantile_of_nothing_is_refused():
    with pytest.raises(ValueError, match="nothing was measured"):
        quantile([], 0.5)


@pytest.mark.parametrize(("share", "due"), [(0.0, 1.0), (0.5, 3.0), (0.95, 5.0), (1.0, 5.0)])
def test_a_quantile_is_one_of_the_values(share: float, due: float):
    assert quantile([5.0, 3.0, 1.0, 4.0, 2.0], share) == due
