"""Standard fits beside a clearance, against printed tables."""

from __future__ import annotations

import pytest

from capture.analysis.fit.orientation import orientation


def named(rows, name):
    return next(row for row in rows if row["name"] == name)


def test_fifty_millimetres_belongs_to_the_range_below_and_two_inches_to_the_next():
    """ISO 286 H7/g6: 9 to 50 µm to 50 mm, 10 to 59 µm over it (Machinery's Handbook, 31st ed.)."""
    assert named(orientation(50.0, None), "H7/g6")["most"] == pytest.approx(0.050)
    assert named(orientation(50.8, None), "H7/g6")["most"] == pytest.approx(0.059)


def test_the_closest_running_class_is_looser_than_a_matched_fit():
    """ANSI B4.1 RC1 at 2 in: 0.0004 to 0.0012 in (Machinery's Handbook, 31st ed., Table 8a)."""
    row = named(orientation(50.8, (0.004, 0.006)), "RC1")

    assert (row["least"] / 25.4, row["most"] / 25.4) == pytest.approx((0.0004, 0.0012))
    assert row["contains"] is False


def test_a_clearance_lies_in_a_fit_when_both_its_ends_do():
    assert named(orientation(50.0, (0.010, 0.049)), "H7/g6")["contains"] is True
    assert named(orientation(50.0, (0.010, 0.051)), "H7/g6")["contains"] is False


def test_a_size_beyond_the_tables_has_no_rows():
    assert orientation(600.0, None) == []
