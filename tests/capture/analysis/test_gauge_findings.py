"""Gauge studies from recordings, against the example of AIAG, Measurement Systems Analysis, 4th ed."""

from __future__ import annotations

import pytest

from capture.analysis.gauge_findings import study
from capture.events import Mastered
from capture.report.terminal.study_text import study_text
from capture.sheet.reader import job_of

AIAG = {
    "A": [
        [0.29, -0.56, 1.34, 0.47, -0.8, 0.02, 0.59, -0.31, 2.26, -1.36],
        [0.41, -0.68, 1.17, 0.5, -0.92, -0.11, 0.75, -0.2, 1.99, -1.25],
        [0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31],
    ],
    "B": [
        [0.08, -0.47, 1.19, 0.01, -0.56, -0.2, 0.47, -0.63, 1.8, -1.68],
        [0.25, -1.22, 0.94, 1.03, -1.2, 0.22, 0.55, 0.08, 2.12, -1.62],
        [0.07, -0.68, 1.34, 0.2, -1.28, 0.06, 0.83, -0.34, 2.19, -1.5],
    ],
    "Cleo": [
        [0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49],
        [-0.11, -1.13, 1.09, 0.2, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77],
        [-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16],
    ],
}
"""Three people, three trials, ten parts (AIAG MSA 4th ed., average-and-range example)."""


@pytest.fixture
def three_people(new_session, fit_sheet):
    fit_sheet["shaft"]["stations"] = [10 * i for i in range(10)]
    session = new_session(job_of(fit_sheet))
    for person, trials in AIAG.items():
        for number, trial in enumerate(trials, 1):
            session.tell(("person", f"stage study {person} {number}"))
            session.tell(*[("mike", value) for value in trial])
    return session


def gauge(session, name="mike"):
    return next(row for row in study(session.state, session.job)["gauges"] if row["gauge"] == name)


def test_the_published_study_comes_out_of_a_recording(three_people):
    people = gauge(three_people)["people"]

    # The printed figures rest on averages rounded to four decimals.
    by_range = people["range"]
    assert by_range["EV"] == pytest.approx(0.20188, abs=5e-5)
    assert by_range["AV"] == pytest.approx(0.22963, abs=5e-5)
    assert by_range["GRR"] == pytest.approx(0.30575, abs=5e-5)
    assert by_range["PV"] == pytest.approx(1.10456, abs=5e-5)
    assert by_range["percent"] == pytest.approx(26.7, abs=0.05)
    assert by_range["ndc"] == 5
    by_variance = people["variance"]
    assert by_variance["EV"] == pytest.approx(0.199933, abs=2e-6)
    assert by_variance["AV"] == pytest.approx(0.226838, abs=2e-6)
    assert by_variance["GRR"] == pytest.approx(0.302373, abs=2e-6)
    assert by_variance["PV"] == pytest.approx(1.042327, abs=2e-6)


def test_a_gauge_that_scatters_so_cannot_prove_a_fit_of_micrometres(three_people):
    row = gauge(three_people)

    assert row["proof"]["enough"] is False
    assert row["people"]["range"]["of_tolerance"] == pytest.approx(100 * 6 * 0.30575 / 0.006, rel=1e-3)
    assert "3 people, 10 places, 3 trials" in study_text(study(three_people.state, three_people.job), "mm")


def test_a_reading_missing_from_one_trial_is_named(three_people):
    last = three_people.state.stations.taken[-1]
    three_people.tell(("person", f"reject {last.of[0]} slipped"))
    row = gauge(three_people)

    assert row["people"] is None
    assert any("Cleo read part" in one for one in row["said"])


def test_bias_and_linearity_come_from_the_masters(new_session, fit_sheet):
    """Two masters 20 mm apart, 0.5 µm and 1.5 µm too much: 0.05 µm a mm, 1 µm at 50 mm (derived)."""
    session = new_session(job_of(fit_sheet))
    for size, error in ((40.0, 0.0005), (60.0, 0.0015)):
        session.tell(("person", f"master mike {size} 0.0001"))
        session.tell(*[("mike", size + error + away) for away in (-0.0001, 0.0, 0.0001)])
    row = gauge(session)

    assert [one["bias"] for one in row["masters"]] == pytest.approx([0.0005, 0.0015], abs=1e-9)
    assert row["linearity"]["slope"] == pytest.approx(0.05e-3, abs=1e-9)
    assert row["linearity"]["at_nominal"]["value"] == pytest.approx(0.001, abs=1e-9)
    assert row["repeatability"]["sd"] == pytest.approx(0.0001, rel=1e-6)


def test_repeated_readings_of_one_place_show_repeatability(new_session, fit_sheet):
    """1 to 5 steps: the standard deviation of five equal steps is sqrt(2.5) of one."""
    session = new_session(job_of(fit_sheet))
    for step in range(1, 6):
        session.tell(("person", "station bore 40"), ("plug", 50 + step * 0.0001))
    row = gauge(session, "plug")

    assert row["repeatability"]["sd"] == pytest.approx(0.0001 * 2.5**0.5, rel=1e-6)
    assert row["repeatability"]["dof"] == 4
    assert any("ten at one place" in one for one in row["said"])
    assert row["proof"]["by"] == "by its certificate"


def test_nothing_read_twice_is_nothing_known(new_session, fit_sheet):
    session = new_session(job_of(fit_sheet))
    session.tell(("person", "station shaft 40"), ("mike", 50.0))
    row = gauge(session)

    assert row["repeatability"] is None
    assert row["proof"] is None
    assert len(row["said"]) >= 4


def test_drift_between_checks_is_listed(new_session, fit_sheet):
    session = new_session(job_of(fit_sheet))
    for value in (50.0, 50.0018):
        session.tell(("person", "master mike 50 0.0001"), ("mike", value))
    session.tell(("person", "station shaft 0"))
    run = gauge(session)["drift"][0]

    assert run["drift"] == pytest.approx(0.0018)
    assert run["exceeded"] is True
    assert "OVER its limit" in study_text(study(session.state, session.job), "in")


def test_sweeps_in_two_setting_rings_are_readings_on_masters(new_session, fit_sheet):
    """Rings 20 mm apart, 0.5 µm and 1.5 µm too much: 0.5 µm in 10 mm, 0.50 tenths in 1 in (derived)."""
    session = new_session(job_of(fit_sheet))
    for size, error in ((40.0, 0.0005), (60.0, 0.0015)):
        for away in (-0.0001, 0.0, 0.0001):
            swept = Mastered("plug", size + error + away, 0.0001, (1, 2, 3))
            session.tell(("person", f"master plug {size} 0.0001"), ("desk", swept))
    row = gauge(session, "plug")

    assert [one["n"] for one in row["masters"]] == [3, 3]
    assert [one["bias"] for one in row["masters"]] == pytest.approx([0.0005, 0.0015], abs=1e-9)
    assert row["repeatability"]["sd"] == pytest.approx(0.0001, rel=1e-6)
    found = study(session.state, session.job)
    assert "+0.50 µm in 10 mm" in study_text(found, "mm")
    assert "+0.50 tenths in 1 in" in study_text(found, "in")


def test_a_sweep_on_a_master_stands_in_place_of_single_readings_before_it(new_session, fit_sheet):
    session = new_session(job_of(fit_sheet))
    session.tell(("person", "master plug 50 0.0001"), ("plug", 50.7))
    session.tell(("desk", Mastered("plug", 50.0004, 0.0001, (2,))))

    assert gauge(session, "plug")["masters"][0]["bias"] == pytest.approx(0.0004)


def test_a_comparator_without_zero_has_a_repeatability_and_no_bias(new_session, fit_sheet):
    session = new_session(job_of(fit_sheet))
    for shown in (0.0043, 0.0041):
        swept = Mastered("plug", shown, 0.0001, (1, 2, 3))
        session.tell(("person", "master plug 50 0.0001"), ("desk", swept))
    row = gauge(session, "plug")

    assert row["repeatability"]["sd"] == pytest.approx(0.0002 / 2**0.5)
    assert row["masters"][0]["bias"] is None
    assert any("gives no zero" in one for one in row["said"])
    assert "On 50.0000 mm: 2 readings." in study_text(study(session.state, session.job), "mm")
