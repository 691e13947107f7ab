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


def impossible(fit_sheet, **fit):
    """4 to 5 µm by gauges of ±2 µm."""
    fit_sheet["fit"] |= {
        "bore": 50.0,
        "u_bore": 0.0002,
        "clearance": {"aim": 0.0045, "least": 0.004, "most": 0.005},
    }
    fit_sheet["fit"] |= fit
    fit_sheet["gauge"][0] |= {"limits": 0.002, "resolution": 0.001}
    return job_of(fit_sheet)


def test_a_band_of_one_micrometre_is_not_provable_with_a_gauge_of_two_and_that_is_said(fit_sheet):
    found = feasibility(impossible(fit_sheet), None)

    assert found["provable"]["enough"] is False
    assert "cannot be proven with these gauges" in found["cannot"][0]
    assert any("limits of ±" in one for one in found["cannot"])


@pytest.mark.parametrize("most", [0.0052, 0.007, 0.010])
def test_gauges_as_close_as_is_said_could_prove_it(fit_sheet, most):
    """The gauges that are proposed leave the band that grinding needs (guarded rule, JCGM 106:2012)."""
    clearance = {"aim": 0.0045, "least": 0.004, "most": most}
    due = feasibility(impossible(fit_sheet, clearance=clearance), None)["provable"]["limits_due"]

    for limits, enough in ((due * 0.999, True), (due * 1.01, False)):
        u_bore = hypot(limits / sqrt(3), limits / 8, limits / 4 / sqrt(12))
        fit_sheet["fit"] |= {"u_bore": u_bore}
        fit_sheet["gauge"][0] |= {"limits": limits, "resolution": limits / 4}
        fit_sheet["gauge"][0].pop("repeatability", None)
        assert feasibility(job_of(fit_sheet), None)["provable"]["enough"] is enough


def test_limits_as_far_apart_as_is_said_could_be_proven_with_these_gauges(fit_sheet):
    """1.645 u are guarded at each end (ISO 14253-1:2017 default)."""
    wide = feasibility(impossible(fit_sheet), None)["provable"]["width_due"]
    for width, enough in ((wide * 1.001, True), (wide * 0.98, False)):
        job = impossible(fit_sheet, clearance={"aim": 0.005, "least": 0.004, "most": 0.004 + width})
        assert feasibility(job, None)["provable"]["enough"] is enough


def test_the_simple_rule_accepts_and_is_told_that_this_is_no_proof(fit_sheet):
    found = feasibility(impossible(fit_sheet, rule="simple"), None)

    assert found["provable"]["enough"] is False
    assert any("no proof" in one for one in found["cannot"])


def test_a_fit_that_can_be_proven_has_nothing_that_cannot(fit_sheet):
    fit_sheet["fit"] |= {"bore": 50.0, "u_bore": 0.0003}
    fit_sheet["gauge"][0] |= {"limits": 0.001, "resolution": 0.0005}
    found = feasibility(job_of(fit_sheet), None)

    assert found["provable"]["enough"] is True
    assert found["cannot"] == []


def test_what_cannot_be_proven_is_said_in_either_unit(fit_sheet):
    """1 µm is 0.4 tenths."""
    assert any("tenths" in one for one in feasibility(impossible(fit_sheet), None, units="in")["cannot"])


def test_a_gauge_without_limits_has_no_band(fit_sheet):
    fit_sheet["fit"] |= {"bore": 50.0}
    del fit_sheet["gauge"][0]["limits"]
    pair = feasibility(job_of(fit_sheet), None)["pairs"][0]

    assert pair["band"] is None
    assert "limits" in pair["said"]
