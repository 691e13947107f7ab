"""The rows of the judged grinds: a group each for what the judge can tell apart, and progress on the way."""

from __future__ import annotations

from capture.benchmarks.accuracy import accuracy_rows, measures
from capture.benchmarks.trials.grinding import grind_apart
from capture.benchmarks.trials.grinding.grind import KINDS


def test_a_trial_has_a_row_a_figure_and_the_groups_that_the_judge_can_tell_apart():
    rows = {row.what: row for row in accuracy_rows("slender", sessions=3)}

    assert rows["slender: delay, median"].against == "two small differences in a row"
    assert rows["slender: false calls"].most is None
    groups = {what.split(":")[0] for what in rows if "probe" in what}
    assert groups
    assert groups <= {f"slender, {c}, {p}" for c in ("wet", "dry") for p in ("probe", "no probe")}
    assert all(f"{group}: 95 % held at every pass" in rows for group in groups)


def test_every_kind_can_be_asked_for_and_says_how_far_it_is(monkeypatch):
    monkeypatch.setattr("capture.benchmarks.accuracy.CHUNK", 1)
    said: list[str] = []

    apart = {f"apart {kind}" for kind in grind_apart.KINDS}
    assert set(measures(quick=True, progress=said.append)) == set(KINDS) | apart
    list(accuracy_rows("matched", sessions=2, progress=said.append))

    assert said == ["matched: 1 of 2 sessions", "matched: 2 of 2 sessions"]


def test_a_false_call_in_a_matched_session_misses_a_goal():
    (row,) = [row for row in accuracy_rows("matched", sessions=1) if "false" in row.what]

    assert row.most is not None
    assert row.good is True
