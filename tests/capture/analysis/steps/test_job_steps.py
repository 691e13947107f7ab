"""The steps beside the measuring: what is open, what is asked, and the trial assembly beside the fit."""

from __future__ import annotations

import re

import pytest

from capture.analysis.fit.findings import FitQuestion, fit
from capture.analysis.fit.measured_part import measured
from capture.analysis.grind.wheel_and_work import bending
from capture.analysis.steps.job_steps import steps_of
from capture.analysis.steps.trial_assembly import predicted_feel
from capture.analysis.summary import summary
from capture.events import Lap, Station
from capture.report.terminal.steps_text import steps_text
from capture.sheet.faults import BadSheet
from capture.sheet.reader import job_of, read_sheet

WHEEL = """
[job]
name = "sleeve"
[wheel]
diameter = 400.0
rpm = {rpm}
marked_speed = 35.0
"""


def said(session, **more):
    return " | ".join(steps_of(session.state, **more)["open"])


def test_a_sheet_whose_wheel_runs_over_its_marked_speed_is_refused():
    """35 m/s on 400 mm are 1671 a minute (pi d n); 1700 is refused before anything is opened."""
    assert read_sheet(WHEEL.format(rpm=1670), "a.toml")[0].wheel.rpm == 1670

    with pytest.raises(BadSheet, match=r"wheel\.rpm.*1\.02 times its limit"):
        read_sheet(WHEEL.format(rpm=1700), "a.toml")


def test_what_is_cut_follows_plating_stage_and_hardness(new_session, sheet):
    sheet["shaft"] |= {"hardness": 20, "plating": {"least": 0.1, "most": 0.2, "stock": 0.05}}
    session = new_session(job_of(sheet))

    assert steps_of(session.state)["work"]["material"] == "hard chrome"
    session.tell(("person", "stage stripped"))
    assert steps_of(session.state)["work"]["material"] == "steel, soft"
    session.tell(("person", "stage finish"))
    assert steps_of(session.state)["work"]["material"] == "hard chrome"


def test_the_deepest_pass_of_the_coach_follows_what_is_cut(new_session, sheet):
    """Handbook: 0.002 in rough for steel; hard chrome 0.01 mm at most (common practice)."""
    sheet["shaft"] |= {"plating": {"least": 0.1, "most": 0.2, "stock": 0.05}, "stations": [80]}
    sheet["gauge"] = [one for one in sheet["gauge"] if one["measures"] != "infeed"]
    deepest = {}
    for stage, start in (("stripped", 55.6), ("finish", 55.9)):
        size = start
        session = new_session(job_of(sheet))
        session.tell(("person", f"stage {stage}"), ("mike", size))
        for _ in range(4):
            fed = session.state.grind.coaching.landing.infeed
            deepest[stage] = max(deepest.get(stage, 0.0), fed)
            size -= fed
            session.tell(("person", f"pass {fed}"), ("mike", round(size, 3)))

    assert 0.01 < deepest["stripped"] <= 0.0508 + 1e-9
    assert deepest["finish"] <= 0.01 + 1e-9


@pytest.mark.parametrize(("stage", "size", "most"), [("finish", 55.9, 0.01), ("stripped", 55.6, 0.0508)])
def test_the_usual_infeed_is_a_rough_one_while_more_than_the_last_stock_stands(
    new_session, sheet, stage, size, most
):
    """Machinery's Handbook, 31st edition, p. 1318: steel 0.002 in rough; chrome 0.01 mm (common practice)."""
    sheet["shaft"] |= {"plating": {"least": 0.1, "most": 0.2, "stock": 0.05}, "stations": [80]}
    session = new_session(job_of(sheet))
    session.tell(("person", f"stage {stage}"), ("mike", size))
    usual = {one["name"]: one["usual"] for one in steps_of(session.state)["work"]["figures"]}

    assert usual["infeed of a pass"]["high"] == pytest.approx(most)
    assert steps_of(session.state)["work"]["cut"] == "rough"


def test_the_usual_infeed_in_the_last_stock_is_a_finishing_one(new_session, sheet):
    sheet["shaft"] |= {"plating": {"least": 0.1, "most": 0.2, "stock": 0.05}, "stations": [80]}
    session = new_session(job_of(sheet))
    session.tell(("person", "stage finish"), ("mike", 55.005))  # 8 µm over 55.002 - 0.005

    assert steps_of(session.state)["work"]["cut"] == "finish"


def test_the_setup_is_asked_for_until_it_is_checked(session):
    assert "centres, dog, wheel, guard, coolant flow not yet checked" in said(session)

    session.tell(*(("person", f"checked {one} ok") for one in ("centres", "dog", "wheel", "guard")))
    assert "before the first pass: coolant flow not yet checked" in said(session)

    session.tell(("person", "checked dog no loose on the flat"))
    assert "dog was found not ok (loose on the flat)" in said(session)


def test_a_hard_base_is_asked_about_relief_bake_cracks_and_burn(new_session, sheet):
    sheet["shaft"] |= {"hardness": 45, "plating": {"least": 0.1, "most": 0.2, "stock": 0.05}}
    session = new_session(job_of(sheet))

    session.tell(("person", "stage stripped"))
    assert "stress-relieved before plating" in said(session)
    session.tell(("person", "checked stress-relief ok"), ("person", "stage plated"))
    assert "stress-relieved" not in said(session)
    assert "to be baked" in said(session)
    session.tell(
        ("person", "checked bake ok 200 °C 18 h"), ("person", "stage finish"), ("person", "pass 0.004")
    )
    assert "cracks and burn" in said(session)
    session.tell(("person", "checked cracks ok penetrant"), ("person", "checked burn ok"))
    assert "cracks and burn" not in said(session)


def test_after_a_lap_washing_and_waiting_are_asked_for_in_turn(session):
    session.tell(("person", "lap 60"))
    assert "wash bore" in said(session)
    session.tell(("person", "checked washed ok"))
    assert "come to one temperature" in said(session)
    session.tell(("person", "checked waited ok"))
    assert "one temperature" not in said(session)
    session.tell(("person", Lap(30.0, None)))
    assert "wash bore" in said(session)


def test_a_change_of_clamp_is_asked_about_with_what_it_may_have_done(session):
    for stage, how, shift in (("lapped 1", "free", 0.0), ("lapped 2", "clamped", -0.002)):
        session.tell(("person", f"clamp {how}"), ("person", f"stage {stage}"))
        for z in (10.0, 40.0):
            session.tell(("person", Station("bore", z, 0.0)), ("plug", 55.002 + shift))

    assert re.search(r"held “free” before and “clamped” now.* differ by [-−]2\.0 µm", said(session))


def test_places_read_held_in_two_ways_are_asked_for_until_they_are_read_alike(session):
    def read(z, how):
        session.tell(("person", f"clamp {how}"), ("person", Station("bore", z, 0.0)), ("plug", 55.002))

    session.tell(("person", "stage lapped 1"))
    read(10.0, "free")
    read(40.0, "clamped")
    assert "held in different ways (free, clamped)" in said(session)
    read(10.0, "clamped")
    assert "held in different ways" not in said(session)


def test_a_shaft_that_is_held_otherwise_than_for_the_pass_before_is_asked_about(session):
    for number, how in enumerate(("steady open", "steady open", "steady closed")):
        assert "for the pass before" not in said(session)
        session.tell(("person", f"pass {0.004 * bool(number)}"), ("person", f"clamp {how}"))
        session.tell(("person", Station("shaft", 20.0, 0.0)), ("mike", 55.0 - 0.004 * number))

    assert "held “steady open” for the pass before and “steady closed” now" in said(session)


def test_how_the_bore_is_held_while_it_is_lapped_is_asked_until_it_is_told(session):
    session.tell(("person", "stage lapped 1"), ("person", Station("bore", 10.0, 0.0)), ("plug", 55.002))
    assert "bore: how it is held while it is lapped and measured is not known" in said(session)

    session.tell(("person", "clamp free"), ("person", Station("bore", 10.0, 0.0)), ("plug", 55.002))
    assert "is not known: say clamp" not in said(session)
    assert [one["clamp"] for one in summary(session.state)["stations"]] == [None, "free"]


def test_no_bake_or_run_out_of_chromium_is_asked_while_the_bore_is_lapped_before_plating(new_session, sheet):
    """The order of the job: the bore is lapped and measured first, and the shaft plated for it."""
    sheet["shaft"] |= {"hardness": 45, "plating": {"least": 0.1, "most": 0.2, "stock": 0.05}}
    session = new_session(job_of(sheet))
    session.tell(("person", "stage lapped 1"), ("person", Station("bore", 10.0, 0.0)), ("plug", 55.002))
    assert "baked after plating" not in said(session)
    assert "run-out not measured" not in said(session)

    session.tell(("person", "stage plated"), ("person", Station("shaft", 80.0, 0.0)), ("mike", 55.15))
    session.tell(("person", "stage lapped 2"))
    assert "baked after plating" in said(session)
    assert "run-out not measured" in said(session)


def test_slender_work_is_asked_for_a_steady_rest(new_session, sheet):
    """F L^3 / (48 E I): 600 mm of 55 mm steel bends 0.0486 µm for each newton in its middle (beam theory)."""
    session = new_session(job_of({**sheet, "work": {"between_centres": 600.0}}))
    work = steps_of(session.state)["work"]

    assert work["slender"]["ratio"] == pytest.approx(600 / 55)
    assert bending(600.0, 55.0) == pytest.approx(4.863e-5, rel=1e-3)
    assert "no steady rest" in said(session)
    with_rest = new_session(job_of({**sheet, "work": {"between_centres": 600.0, "steady_rest": True}}))
    assert "no steady rest" not in said(with_rest)


@pytest.mark.parametrize(
    ("clearance", "feel"),
    [(-0.001, "binds"), (0.0015, "tight"), (0.005, "close"), (0.02, "free"), (0.05, "loose")],
)
def test_five_words_foretell_the_feel(clearance, feel):
    """Common practice, no source."""
    assert predicted_feel(clearance) == feel


def tried(both_measured, fit_sheet, words):
    session = both_measured(fit_sheet, {0: 50.005, 80: 50.005}, {0: 50.0, 120: 50.0, 200: 50.0})
    session.tell(*(("person", one) for one in words))
    parts = [measured(session.state, part, session.job, source="a") for part in ("bore", "shaft")]
    clearance = fit(session.job, *parts, FitQuestion())["clearance"]
    return steps_of(session.state, clearance=clearance)["tries"]


def test_a_try_that_goes_as_foretold_says_so(both_measured, fit_sheet):
    row = tried(both_measured, fit_sheet, ["tried 60 0 close 20.5 light oil"])[0]

    assert (row["foretold"], row["differs"], row["temperature"]) == ("close", False, 20.5)
    assert row["least"] == pytest.approx(0.005, abs=1e-4)
    assert "as 5.0 µm of least clearance predicts" in row["said"][0]


def test_a_try_that_binds_where_there_is_clearance_points_at_what_the_gauge_cannot_see(
    both_measured, fit_sheet
):
    row = tried(both_measured, fit_sheet, ["tried 60 90 binds dry"])[0]

    assert row["differs"]
    assert "odd lobes" in row["said"][0]
    assert "tightest place at that depth" in row["said"][1]


def test_a_try_beyond_the_travel_is_kept_without_a_comparison(both_measured, fit_sheet):
    row = tried(both_measured, fit_sheet, ["tried 900 0 free"])[0]

    assert (row["foretold"], row["differs"]) == (None, False)


def test_the_text_says_where_each_figure_is_from(session):
    text = steps_text(steps_of(session.state), "mm")

    assert "Machinery's Handbook" in text
    assert "common practice, no source" in text
    assert "from memory" in text
