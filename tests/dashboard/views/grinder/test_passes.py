from __future__ import annotations

import pytest

from dashboard.views.elements.figure import figures
from dashboard.views.grinder.passes import LAST, passes, trend


def test_the_newest_pass_stands_first(ground):
    rows = passes(ground.state, "mm")["passes[]"]

    assert [row[0][0] for row in rows] == [str(n) for n in range(13, 13 - LAST, -1)]


def test_a_pass_without_infeed_says_none(ground):
    rows = passes(ground.state, "mm")["passes[]"]

    assert rows[0][1][0] == "none"
    assert rows[-1][1][0] == "6 µm"


def test_the_widest_bar_is_the_pass_that_took_most(session, grinding_session):
    rows = passes(grinding_session(session(), infeeds=[0.006] * 4 + [0.0] * 3).state, "mm")["passes[]"]
    taken = {float(row[2][0].split()[0]): float(row[2][2]) for row in rows if row[2][0] != "–"}

    assert taken[max(taken)] == 1.0
    assert sorted(taken, key=taken.__getitem__) == sorted(taken)


def test_before_the_first_pass_it_says_how_to_say_one(session):
    assert "Press a button" in passes(session().state, "mm")["passes-none"]


def test_the_trend_shows_each_pass_at_its_deviation_from_the_aim(ground):
    shown = trend(ground.state, "mm")["trend#figure"]
    sizes = shown["traces"][3]

    assert sizes["x"] == list(range(1, 14))
    for row, y in zip(ground.state.grind.passes, sizes["y"], strict=True):
        assert y == pytest.approx((row.outlook.size - 54.9971) * 1000, abs=0.006)


def test_the_band_is_that_of_the_sheet(ground):
    """Clearance 0.003 to 0.008 aimed at 0.005: from 3 µm under the aim to 2 µm over it."""
    band = trend(ground.state, "mm")["trend#figure"]["traces"][0]

    assert band["y"] == [-3.0, -3.0, 2.0, 2.0]


def test_inches_are_told_in_tenths(ground):
    """1 tenth is 2.54 µm."""
    metric, inch = (trend(ground.state, units)["trend#figure"] for units in ("mm", "in"))

    assert inch["title"].startswith("tenths")
    for mm, tenths in zip(metric["traces"][3]["y"], inch["traces"][3]["y"], strict=True):
        assert tenths * 2.54 == pytest.approx(mm, abs=0.02)


def test_every_point_lies_within_the_axes(ground):
    shown = trend(ground.state, "mm")["trend#figure"]
    low, high = shown["y"]

    assert all(low <= y <= high for y in shown["traces"][3]["y"])
    assert all(low <= y <= high for y in shown["traces"][0]["y"])


def test_the_figure_has_a_trace_for_each_row_of_numbers(ground):
    numbers = trend(ground.state, "mm")["trend#figure"]["traces"]

    assert all(len(figure["trend"]["data"]) == len(numbers) for figure in figures().values())


def test_without_sizes_and_aim_there_is_no_trend(session, sheet):
    free = {key: value for key, value in sheet.items() if key != "fit"}

    shown = trend(session(free).state, "mm")

    assert shown["trend#figure"] is None
    assert "puts a point here" in shown["trend-none"]


def test_a_trend_without_a_point_says_what_will_appear_and_one_with_points_is_silent(session, ground):
    assert "puts a point here" in trend(session().state, "mm")["trend-none"]
    assert trend(ground.state, "mm")["trend-none"] == ""
