"""`bench`, as its user runs it."""

from __future__ import annotations


def test_it_answers_a_program_with_ratios(tenths):
    said = tenths.json("bench", "--quick", "--only", "fold")

    assert said["quick"] is True
    assert "cores" in said["machine"]
    assert len(said["rows"]) == 3
    for row in said["rows"]:
        assert row["ratio"] == row["ours"] / row["plain"]
        assert row["against"]


def test_it_answers_a_person_with_a_table(tenths):
    said = tenths("bench", "--quick", "--only", "fold")

    assert "ratio" in said.splitlines()[1]
    assert said.count("×") >= 3


def test_a_kind_of_figure_that_there_is_not_is_refused(tenths):
    said = tenths("bench", "--only", "weight", status=2)

    assert "came 'weight', due one of start, fold" in said
