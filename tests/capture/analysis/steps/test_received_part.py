"""What came back from the plater against the order: geometry, and simulated parts of known truth."""

from __future__ import annotations

import random

import pytest

from capture.analysis.steps.plating_plan import plan
from capture.analysis.steps.received_part import plated_alone
from capture.events import Station
from capture.report.order import NoOrder, order_page
from capture.report.terminal.plan_text import plan_text
from capture.sheet.reader import job_of

PLATING = {"least": 0.10, "most": 0.20, "stock": 0.05, "runout": 0.01}


@pytest.fixture
def sheet(fit_sheet):
    """Finished 50 mm from a bore of 50.005; strip to 49.7, plate to 50.1."""
    fit_sheet["shaft"] |= {"stations": [0, 60, 120], "plating": PLATING, "hardness": 30}
    fit_sheet["fit"] |= {"bore": 50.005}
    return fit_sheet


def measured(session, stage, sizes):
    """The shaft at z: diameter in this stage."""
    session.tell(("person", f"stage {stage}"))
    for z, value in sizes.items():
        session.tell(("gauge", Station("shaft", z, 0.0)), ("mike", value))
    return session


def back(new_session, sheet, stripped, plated):
    session = new_session(job_of(sheet))
    if stripped:
        measured(session, "stripped", stripped)
    measured(session, "plated", plated)
    return plan(session.job, None, [session.state])["received"]


def test_thickness_stock_and_what_is_left_follow_from_before_and_after(new_session, sheet):
    """(50.10 - 49.70) / 2 = 0.20; (50.10 - 50.00) / 2 - 0.005 = 0.045; (50 - 49.7) / 2 - 0.005 = 0.145."""
    found = back(new_session, sheet, {0: 49.7, 60: 49.7, 120: 49.7}, {0: 50.1, 60: 50.1, 120: 50.1})

    assert found["reachable"] == "yes"
    row = found["places"][0]
    assert (row["thickness"], row["stock"], row["left"]) == pytest.approx((0.2, 0.045, 0.145))


@pytest.mark.parametrize(
    ("stripped", "plated", "reachable", "said"),
    [
        ({0: 49.7, 60: 49.7}, {0: 50.1, 60: 50.004}, "no", "cannot be reached"),
        ({0: 49.7, 60: 49.85}, {0: 50.1, 60: 50.1}, "no", "not stripped far enough"),
        ({0: 49.7}, {0: 50.1, 60: 50.1}, "not sure", "is not sure"),
        ({}, {0: 50.1, 60: 50.1}, "not sure", "no place was measured stripped"),
        ({0: 49.7, 60: 49.7}, {0: 50.1, 60: 50.0105}, "not sure", "cannot tell from none"),
        ({0: 49.7, 60: 49.7}, {0: 50.1, 60: 50.03}, "yes", "little stock"),
        ({0: 49.7, 60: 49.7}, {0: 50.1, 60: 50.03}, "yes", "taper as plated 70.0 µm"),
        ({0: 49.7, 60: 49.7}, {0: 50.1, 60: 50.03}, "yes", "less was deposited than ordered at 60 mm"),
    ],
)
def test_what_came_back_short_is_named(new_session, sheet, stripped, plated, reachable, said):
    found = back(new_session, sheet, stripped, plated)

    assert found["reachable"] == reachable
    assert said in " ".join(found["said"])


def test_a_shaft_that_was_not_measured_plated_says_nothing(new_session, sheet):
    session = measured(new_session(job_of(sheet)), "stripped", {0: 49.7})

    assert plan(session.job, None, [session.state])["received"] is None


def test_stripped_and_plated_may_stand_in_two_recordings(new_session, sheet):
    job = job_of(sheet)
    first = measured(new_session(job), "stripped", {0: 49.7, 60: 49.7})
    later = measured(new_session(job), "plated", {0: 50.1, 60: 50.1})

    assert plated_alone(later.state)
    assert not plated_alone(first.state)
    assert plan(job, None, [first.state, later.state])["received"]["reachable"] == "yes"


def test_yes_and_no_are_true_of_parts_whose_truth_is_known(new_session, sheet):
    """200 parts, gauge ± 1 µm by its certificate: a yes or a no is wrong in at most 5 % (ISO 14253-1)."""
    chance, wrong, sure = random.Random(20261129), 0, 0  # noqa: S311 - a simulation
    for _ in range(200):
        strip, plate = chance.uniform(49.69, 49.81), chance.uniform(50.0, 50.02)
        true = plate - 50.0 >= 0.01 and 50.0 - strip >= 0.21
        read = [value + chance.uniform(-0.001, 0.001) for value in (strip, plate)]
        said = back(new_session, sheet, {0: read[0]}, {0: read[1]})["reachable"]
        sure += said != "not sure"
        wrong += said != "not sure" and (said == "yes") != true
    assert wrong <= 0.05 * sure
    assert sure > 150


def test_the_order_names_every_diameter_with_its_limits(sheet):
    job = job_of(sheet)
    found = plan(job, None)

    text = order_page(job, found, version="0", written="today")

    for size in ("49.7000 mm", "50.1000 mm", "50.0000 mm", "0.2000 mm"):
        assert size in text
    assert found["order"]["strip_least"] < 49.7 < found["order"]["strip_most"]
    assert "hexavalent chromium" in text
    assert "Local codes" in text
    assert text.count("<script") == 0


def test_without_a_plating_no_order_is_written(sheet):
    sheet["shaft"].pop("plating")
    job = job_of(sheet)

    with pytest.raises(NoOrder, match="has no plating"):
        order_page(job, plan(job, None), version="0", written="today")


def test_a_hostile_name_of_a_job_is_text_on_the_order(sheet):
    sheet["job"]["name"] = "<script>alert(1)</script>"
    job = job_of(sheet)

    assert "<script" not in order_page(job, plan(job, None), version="0", written="today")


def test_the_text_of_the_plan_says_what_came_back(new_session, sheet):
    session = measured(new_session(job_of(sheet)), "stripped", {0: 49.7})
    measured(session, "plated", {0: 50.1})

    text = plan_text(plan(session.job, None, [session.state]), "mm")

    assert "The finish can still be reached." in text
    assert "0.2000 mm" in text
