"""Readings, two recordings overlaid, and decisions beside those made afresh."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from capture.state import replay
from dashboard.sources.feed import with_settings
from dashboard.sources.raw_traces import RawTrace
from dashboard.views.analysis.compare import OverlaidRecording, decisions, overlay
from dashboard.views.analysis.readings import MOVES, asked, figure, moved, said
from tests.dashboard.spoken import texts


def again(session, **settings):
    job = with_settings(session.job, {k.replace("__", "."): v for k, v in settings.items()})
    return replay.redecided_state(job, session.events)


def test_decided_again_by_the_same_settings_nothing_differs(ground):
    shown = " | ".join(texts(decisions(ground.state, again(ground), "mm")))

    assert shown.startswith("0 of 13 passes differ.")
    assert "≠" not in shown


def test_other_settings_differ_where_they_say_something_else(ground):
    """With a limit of a tenth of a nanometre nothing is ever called sparked out."""
    shown = " | ".join(texts(decisions(ground.state, again(ground, spark_out__limit="0.0000001"), "mm")))

    assert "≠" in shown
    assert not shown.startswith("0 of")


def test_what_the_advice_would_have_come_to_stands_under_them(ground):
    """The session was ground at its own depths, not at those advised."""
    shown = texts(decisions(ground.state, again(ground, coach__finish="0.002"), "mm"))[-1]

    assert shown.startswith("Had the advice been followed from pass")
    assert "landing at" in shown


def test_two_recordings_are_overlaid_by_pass_from_their_own_aims(ground, session, grinding_session):
    other = grinding_session(session(), infeeds=[0.01] * 4)
    (drawn,) = overlay(
        [OverlaidRecording("one", ground.state), OverlaidRecording("other", other.state)], "mm", "light"
    )
    one, two = drawn.children.figure["data"]

    assert (one["name"], two["name"]) == ("one", "other")
    assert (len(one["x"]), len(two["x"])) == (13, 4)
    assert one["y"][-1] == pytest.approx(
        (ground.state.grind.row.outlook.size - (55.0021 - 0.005)) * 1000, abs=1e-6
    )
    assert one["marker"]["symbol"] != two["marker"]["symbol"]
    assert one["line"]["dash"] != two["line"]["dash"]


def test_overlaid_in_inches_it_is_the_same_in_tenths(ground):
    mm, inch = (
        overlay([OverlaidRecording("one", ground.state)], units, "light")[0].children.figure["data"][0]["y"]
        for units in ("mm", "in")
    )

    assert inch == pytest.approx([value / 2.54 for value in mm])


def test_a_recording_without_sizes_is_overlaid_as_nothing(session):
    (drawn,) = overlay([OverlaidRecording("new", session().state)], "mm", "dark")

    assert drawn.children.figure["data"][0]["x"] == []


def strip(unit="mm"):
    return RawTrace("mike", unit, np.array([0.0, 60.0]), np.array([25.4, 50.8]), 2)


def test_lengths_are_drawn_in_the_units_of_the_screen_and_temperatures_as_they_are():
    drawn = figure([strip(), replace(strip("degC"), gauge="probe")], (0.0, 60.0), "in", "light")

    assert drawn["data"][0]["y"] == pytest.approx([1.0, 2.0])
    assert drawn["data"][1]["y"] == [25.4, 50.8]
    assert drawn["data"][0]["x"] == [0.0, 1.0]
    assert "mike, in" in drawn["layout"]["yaxis"]["title"]["text"]
    assert "°C" in drawn["layout"]["yaxis2"]["title"]["text"]


@given(st.floats(0, 1000), st.floats(0.5, 1000), st.sampled_from(MOVES), st.floats(1, 1e6))
def test_no_button_leads_beyond_the_recording(low, wide, move, end):
    first, last = moved((low, low + wide), move, end)

    assert -1e-6 <= first < last <= end * (1 + 1e-9) + 1e-6


def test_whole_is_all_of_it():
    assert moved((5.0, 6.0), "whole", 100.0) == (0.0, 100.0)


def test_only_a_new_range_asks_for_other_readings():
    assert asked({"xaxis.range[0]": 1.0, "xaxis.range[1]": 2.0}) == (60.0, 120.0)
    assert asked({"autosize": True}) is None
    assert asked(None) is None
    assert asked({"xaxis.range[0]": "<b>", "xaxis.range[1]": 2.0}) is None


def test_what_is_drawn_is_said():
    assert said([], (0.0, 1.0)) == "No reading yet."
    assert "all 2 readings are drawn" in said([strip()], (0.0, 60.0))
