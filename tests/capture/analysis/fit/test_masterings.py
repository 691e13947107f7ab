"""Masterings of a recording."""

from __future__ import annotations

import pytest

from capture.analysis.fit.masterings import check, checks_of, mastered
from capture.events import Instant
from capture.state.stations import Zero


def on_master(session, *errors: float):
    session.tell(("person", "master mike 50 0.0002"), *[("mike", 50.0 + error) for error in errors])


def test_a_check_is_the_mean_of_its_readings(both_measured, fit_sheet):
    """Readings of +1, +2 and +3 µm: error 2 µm, u of the mean 1 / sqrt(3) µm (GUM 4.2.3)."""
    session = both_measured(fit_sheet, {}, {})
    on_master(session, 0.001, 0.002, 0.003)
    found = check(checks_of(session.state)["mike"][0], 1e-6)

    assert found.error == pytest.approx(0.002, abs=1e-9)
    assert found.u_reading == pytest.approx(0.001 / 3**0.5, rel=1e-6)
    assert found.u_master == 0.0002


def test_a_gauge_never_on_a_master_keeps_its_reading(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {0: 50.001})
    reading = session.state.stations.taken[-1]

    assert mastered(reading, session.job, {}).value == reading.value
    assert mastered(reading, session.job, {}).on_master is False


def test_a_check_afterwards_corrects_what_was_read_before_any(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {0: 50.001})
    reading = session.state.stations.taken[-1]
    on_master(session, 0.0004)
    found = mastered(reading, session.job, checks_of(session.state))

    assert found.value == pytest.approx(50.0006, abs=1e-9)
    assert "not checked before" in found.note


def test_a_mastering_without_a_reading_is_none(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {}, {})
    on_master(session)

    assert checks_of(session.state) == {}


def test_a_sweep_on_the_master_tells_its_own_uncertainty():
    zero = Zero(size=55.0, u_size=0.0002, at=Instant(0, 0), n=1, mean=0.0041, u_sweep=0.00015)

    assert check(zero, 0.001).u_reading == 0.00015
    assert check(zero, 0.001).u_master == 0.0002
