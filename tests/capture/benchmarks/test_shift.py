"""A shift of a riding gauge: what is counted is what it cost and kept."""

from __future__ import annotations

from itertools import pairwise

import pytest

from capture.benchmarks.shift import LIFTED_SHOWS, RATE, parts, shift_rows


def test_each_part_begins_once_and_the_gauge_is_lifted_between():
    shown = list(parts(400.0))

    begun = [at for at, _, fresh in shown if fresh]
    assert len(begun) == 2
    assert {value for at, value, _ in shown if begun[1] - 14.0 < at < begun[1]} == {LIFTED_SHOWS}
    gaps = [b[0] - a[0] for a, b in pairwise(shown)]
    assert max(gaps) == pytest.approx(1.0 / RATE, abs=0.5 / RATE)


def test_work_and_memory_are_told_of_the_first_hours_and_the_last():
    share, last, kept = shift_rows(minutes=0.05)

    assert share.ours > 0.0
    assert last.ratio is not None
    assert "1,200 readings" in share.note
    assert kept.note.count("→") == 7
