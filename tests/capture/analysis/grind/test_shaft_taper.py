"""Taper by the newest round of stations."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from capture.analysis.grind.shaft_taper import taper_of
from capture.analysis.summary import summary


def test_slope_and_table_movement_come_from_the_newest_round(session):
    """The table moves R (D2 - D1) / (2 L), by geometry; 85 % of a large one at first (common practice)."""
    state = session.tell(
        ("person", "pass 0.004"),
        *[("mike", 55.000), ("mike", 55.000), ("mike", 55.012), ("mike", 55.012)],
    )

    taper = taper_of(state)

    assert taper["slope"] == pytest.approx(0.012 / 60)
    assert taper["adjust"] == pytest.approx(0.85 * 600 * 0.012 / (2 * 60))
    assert taper["stock_left"] == pytest.approx(55.0 - (55.002 - 0.005))
    assert taper["residual"] == pytest.approx(0.0, abs=1e-9)


def test_readings_of_different_passes_are_not_mixed(session):
    state = session.tell(
        ("mike", 55.05),
        ("mike", 55.05),
        ("person", "station shaft 80 0"),
        ("person", "pass 0.004"),
        ("mike", 55.0),
    )

    taper = taper_of(state)

    assert taper["slope"] is None
    assert "at least two stations" in taper["advice"]


def test_a_taper_below_what_the_gauge_sees_is_left_alone(session):
    state = session.tell(
        ("person", "pass 0.004"), *[("mike", 55.000), ("mike", 55.000), ("mike", 55.000), ("mike", 55.001)]
    )

    assert taper_of(state)["adjust"] == 0.0
    assert "do not chase" in taper_of(state)["advice"]


def test_without_a_swivel_the_slope_is_still_said(sheet, new_session):
    from capture.sheet.reader import job_of

    del sheet["grinder"]
    sheet["gauge"] = sheet["gauge"][:1]
    session = new_session(job_of(sheet))

    state = session.tell(
        ("person", "pass 0"), *[("mike", 55.0), ("mike", 55.0), ("mike", 55.01), ("mike", 55.01)]
    )

    assert taper_of(state)["slope"] == pytest.approx(0.010 / 60)
    assert taper_of(state)["adjust"] is None
    assert "swivel" in taper_of(state)["advice"]


def test_a_program_has_the_advice_in_millimetres_whatever_the_job_is_in(session):
    """51 µm at the indicator are 0.00201 in (1 in = 25.4 mm, exact)."""
    state = session.tell(
        ("person", "pass 0.004"),
        *[("mike", 55.000), ("mike", 55.000), ("mike", 55.012), ("mike", 55.012)],
    )
    inch = replace(state, job=replace(state.job, units="in"))

    assert summary(inch)["taper"]["advice"] == summary(state)["taper"]["advice"]
    assert "(indicator +51.0 µm; tailstock end toward the wheel)" in taper_of(inch)["advice"]
    assert "(indicator +0.00201 in; tailstock end toward the wheel)" in taper_of(inch, "in")["advice"]
