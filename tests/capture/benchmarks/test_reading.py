"""Figures of reading: each is there, and is of what it says."""

from __future__ import annotations

from capture.benchmarks.reading import fold_rows, memory_rows, summary_rows


def test_a_summary_is_measured_beside_pandas_and_a_bare_loop():
    rows = list(summary_rows(events=2000, pairs=1))

    assert [row.plain is not None for row in rows] == [True, True, False]
    assert all(row.ours > 0 for row in rows)
    assert rows[-1].most is None, "a goal for a million events is no goal for a few"


def test_folds_are_measured_one_by_one():
    rows = list(fold_rows(events=2000))

    assert len({row.what for row in rows}) == len(rows) == 3
    assert all(row.unit == "µs" and row.ours > 0 for row in rows)


def test_memory_is_told_at_four_marks_and_readings_that_nobody_takes_leave_nothing():
    stream, sizes = memory_rows(events=2000)

    assert stream.note.count("→") == sizes.note.count("→") == 3
    assert stream.good
