"""Run-out on the centres: what it costs in chromium, against circles worked out point by point."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.steps.job_steps import steps_of
from capture.analysis.steps.plating_plan import plan
from capture.analysis.steps.setup_runout import RunOutRow, cost_of, runouts_of, setup_runout
from capture.sheet.reader import job_of
from capture.state.words.commands import CommandRejected, parse_command

ORDER = {"finished": 55.0, "strip": 54.7, "plated": 55.12, "least_wanted": 0.1}


def planned(**received):
    return {"order": ORDER, "received": received or None}


@given(st.floats(0.0, 0.2), st.floats(0.0, 359.0), st.floats(54.2, 54.9))
def test_the_chromium_left_is_that_between_two_circles_that_are_not_concentric(full, angle, base):
    """The ground circle about the axis, the base about a centre full / 2 off: thickness along each ray."""
    towards = np.radians(np.arange(0.0, 360.0, 0.05))
    off = np.radians(angle)
    e, r = full / 2.0, base / 2.0
    surface = e * np.cos(towards - off) + np.sqrt(r**2 - (e * np.sin(towards - off)) ** 2)
    chromium = 55.0 / 2.0 - surface
    assert surface.max() - surface.min() == pytest.approx(full, abs=1e-7)

    row = RunOutRow(1, 20.0, full, angle, "plated", "plated", "eye")
    cost = cost_of(row, planned(places=[{"z": 20.0, "stripped": base, "plated": None}]))

    assert cost["left"] == pytest.approx(chromium.min(), abs=1e-7)
    assert cost["opposite"] == pytest.approx(chromium.max(), abs=1e-7)
    thinnest = np.degrees(towards[np.argmin(chromium)])
    if full > 0.001:
        assert abs((cost["thin_at"] - thinnest + 180.0) % 360.0 - 180.0) < 0.2


def test_a_runout_that_leaves_too_little_stops_the_grind_before_it_begins(new_session, sheet):
    sheet["shaft"] |= {"plating": {"least": 0.1, "most": 0.2, "stock": 0.06}}
    session = new_session(job_of(sheet))
    session.tell(("person", "stage plated"))
    assert "run-out not measured" in " ".join(steps_of(session.state)["open"])

    session.tell(("person", "runout 20 0.120 90"), ("person", "runout 200 0.004"))
    found = steps_of(session.state, planned=plan(session.job, None, [session.state]))

    assert "run-out not measured" not in " ".join(found["open"])
    assert "set up anew before grinding" in " ".join(found["open"])
    worst = found["runout"]["worst"]
    assert (worst["z"], worst["thin_at"], worst["enough"], worst["cleans_up"]) == (20.0, 90.0, False, False)
    assert worst["takes"] == pytest.approx(0.060)
    assert any("as ordered" in line for line in found["runout"]["said"])


def test_before_the_first_pass_and_at_the_end_are_told_apart(new_session, sheet):
    sheet["shaft"] |= {"plating": {"least": 0.1, "most": 0.2, "stock": 0.06}}
    session = new_session(job_of(sheet))
    session.tell(
        ("person", "stage stripped"),
        ("person", "pass 0.01"),
        ("person", "runout 20 0.002 0"),
        ("person", "stage plated"),
        ("person", "runout 20 0.008 90"),
        ("person", "stage finish"),
        ("person", "pass 0.004"),
        ("person", "runout 20 0.005 180"),
    )

    assert [one.of for one in runouts_of(session.state, session.job)] == ["base", "plated", "ground"]
    found = setup_runout(session.state, session.job)
    assert found["true"] is False
    assert "still runs out by 5.0 µm" in found["said"][-1]

    session.tell(("person", "runout 20 0.001"))
    assert setup_runout(session.state, session.job)["true"] is True


def test_what_came_back_is_reckoned_with_the_runout_that_was_measured(new_session, sheet):
    sheet["shaft"] |= {"plating": {"least": 0.1, "most": 0.2, "stock": 0.06, "runout": 0.01}}
    session = new_session(job_of(sheet))
    for stage, size in (("stripped", 54.7), ("plated", 55.12)):
        session.tell(("person", f"stage {stage}"), ("person", "station shaft 20 0"), ("mike", size))
    by_sheet = plan(session.job, None, [session.state])["received"]
    session.tell(("person", "runout 20 0.030 90"))
    measured = plan(session.job, None, [session.state])["received"]

    assert (by_sheet["runout"], by_sheet["runout_from"]) == (0.01, "sheet")
    assert (measured["runout"], measured["runout_from"]) == (0.03, "measured")
    assert by_sheet["left_least"] - measured["left_least"] == pytest.approx(0.01)


@pytest.mark.parametrize("words", ["runout", "runout 20", "runout 20 -0.01", "runout 20 7", "runout 20 0 x"])
def test_a_runout_that_makes_no_sense_is_refused(session, words):
    with pytest.raises(CommandRejected, match="due"):
        parse_command(words.split(), session.state)
