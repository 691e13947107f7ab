"""What can be said before grinding, against a derived case and the certificate's arithmetic."""

from __future__ import annotations

from math import hypot, sqrt

import pytest

from capture.analysis.fit.feasibility import feasibility
from capture.analysis.fit.measured_part import measured
from capture.sheet.reader import job_of


def test_a_band_of_two_to_eight_shrinks_to_what_guarding_leaves(fit_sheet):
    """u(clearance) 0.8761 µm leaves 3.441 to 6.559 µm of 2 to 8 at 95 % (derived from JCGM 106)."""
    fit_sheet["fit"] |= {"bore": 50.0, "u_bore": 0.0006}
    u_shaft = sqrt(0.0008761**2 - 0.0006**2)
    fit_sheet["gauge"][0] |= {"limits": u_shaft * sqrt(3), "resolution": 0.0, "repeatability": 0.0}
    pair = feasibility(job_of(fit_sheet), None)["pairs"][0]

    assert pair["u"] == pytest.approx(0.0008761, rel=1e-9)
    assert pair["band"] == pytest.approx([0.003441, 0.006559], abs=2e-6)
    assert pair["shaft"] == pytest.approx([50 - 0.006559, 50 - 0.003441], abs=2e-6)
    assert pair["enough"] is True


def test_a_micrometer_of_four_micrometres_cannot_prove_the_fit_and_what_could_is_said(fit_sheet):
    """DIN 863-1 allows 4 µm to 50 mm: alone that leaves nothing of 2 to 8 µm."""
    fit_sheet["fit"] |= {"bore": 50.0, "u_bore": 0.0003}
    fit_sheet["gauge"][0] |= {"limits": 0.004, "resolution": 0.001}
    found = feasibility(job_of(fit_sheet), None)

    assert found["pairs"][0]["band"] is None
    assert found["gauges"][0]["enough"] is False
    due = found["pairs"][0]["limits_due"]
    fit_sheet["gauge"][0]["limits"] = due * 0.999
    assert feasibility(job_of(fit_sheet), None)["pairs"][0]["enough"] is True
    fit_sheet["gauge"][0]["limits"] = due * 1.01
    assert feasibility(job_of(fit_sheet), None)["pairs"][0]["enough"] is False


def test_an_unmeasured_bore_is_an_assumption(fit_sheet):
    found = feasibility(job_of(fit_sheet), None)

    assert found["bore"]["from"] == "nominal"
    assert found["bore"]["u"] == pytest.approx(hypot(0.001 / sqrt(3), 0.5e-6, 1e-6 / sqrt(12)))
    assert found["aim"] == pytest.approx(49.995)


def test_a_measured_bore_sets_the_aim_by_its_smallest_place(both_measured, fit_sheet):
    session = both_measured(fit_sheet, {0: 50.004, 40: 50.002, 80: 50.003}, {})
    bore = measured(session.state, "bore", session.job, source="here")
    found = feasibility(session.job, bore)

    assert found["bore"]["from"] == "measured"
    assert found["aim"] == pytest.approx(49.997)
    assert found["limits"] == pytest.approx([49.994, 50.000])


def test_a_gauge_without_limits_has_no_band(fit_sheet):
    fit_sheet["fit"] |= {"bore": 50.0}
    del fit_sheet["gauge"][0]["limits"]
    pair = feasibility(job_of(fit_sheet), None)["pairs"][0]

    assert pair["band"] is None
    assert "limits" in pair["said"]
