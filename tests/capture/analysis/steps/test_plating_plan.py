"""Plating and grinding sizes, against derived cases and published limits of hard chrome."""

from __future__ import annotations

import pytest

from capture.analysis.fit.measured_part import measured
from capture.analysis.steps.plating_plan import plan
from capture.report.terminal.plan_text import plan_text
from capture.sheet.reader import job_of


@pytest.fixture
def sheet(fit_sheet):
    fit_sheet["shaft"] |= {
        "stations": [0, 60, 120, 200],
        "plating": {"least": 0.145, "most": 0.155, "stock": 0.05, "runout": 0.01},
        "hardness": 30,
    }
    fit_sheet["fit"] |= {"bore": 50.005}
    return fit_sheet


def test_diameters_for_the_plater_follow_from_the_finished_one(sheet):
    """50 mm, 0.150 and 0.050 mm per side: strip 49.700, plate to 50.100, deposit 0.200 (derived)."""
    order = plan(job_of(sheet), None)["order"]

    assert order["finished"] == pytest.approx(50.0)
    assert order["strip"] == pytest.approx(49.7)
    assert order["plated"] == pytest.approx(50.1)
    assert order["deposit"] == pytest.approx(0.2)
    assert order["least_left"] == pytest.approx(0.145)


def test_every_limit_stands_with_its_source(sheet):
    """STERC archive, 2007 and 2008: 0.0005 to 0.025 in per side stable, 0.001 to 0.003 in to grind."""
    settings = {row["name"]: row for row in plan(job_of(sheet), None)["settings"]}

    inches = [
        settings[name]["value"] / 25.4 for name in ("thinnest", "thickest", "stock_least", "stock_most")
    ]
    assert inches == pytest.approx([0.0005, 0.025, 0.001, 0.003])
    assert all(row["source"] and row["basis"] for row in settings.values())


@pytest.mark.parametrize(
    ("plating", "hardness", "key"),
    [
        ({"least": 0.005, "most": 0.006, "stock": 0.05}, 30, "too thin"),
        ({"least": 0.60, "most": 0.64, "stock": 0.05}, 30, "too thick"),
        ({"least": 0.145, "most": 0.155, "stock": 0.01}, 30, "little stock"),
        ({"least": 0.145, "most": 0.155, "stock": 0.05}, 45, "bake"),
        ({"least": 0.145, "most": 0.155, "stock": 0.05}, 50, "very hard base"),
        ({"least": 0.145, "most": 0.155, "stock": 0.05}, None, "hardness not known"),
        ({"least": 0.145, "most": 0.155, "stock": 0.05}, 30, "edges"),
        ({"least": 0.145, "most": 0.155, "stock": 0.05}, 30, "hexavalent chromium"),
    ],
)
def test_what_can_go_wrong_is_named(sheet, plating, hardness, key):
    sheet["shaft"] |= {"plating": plating}
    sheet["shaft"].pop("hardness")
    if hardness is not None:
        sheet["shaft"]["hardness"] = hardness

    assert key in {one["key"] for one in plan(job_of(sheet), None)["cautions"]}


def test_a_runout_that_eats_the_chromium_leaves_no_order_and_says_why(sheet):
    sheet["shaft"]["plating"] |= {"runout": 0.05}
    found = plan(job_of(sheet), None)

    assert found["order"] is None
    assert any("cannot be held with a runout" in one for one in found["warnings"])


def test_what_the_gauges_cannot_prove_is_said_before_the_part_goes_to_the_plater(sheet):
    """4 to 5 µm of clearance with micrometers of ±2 µm: u is 1.2 µm and more (GUM F.2.3.3)."""
    sheet["fit"] |= {"u_bore": 0.0003, "clearance": {"aim": 0.0045, "least": 0.004, "most": 0.005}}
    sheet["gauge"][0] |= {"limits": 0.002}
    found = plan(job_of(sheet), None)

    assert any("cannot be proven with these gauges" in one for one in found["warnings"])
    assert "what could prove it: gauges for bore and for shaft" in plan_text(found, "mm")


def test_stock_for_taper_spring_and_margin_is_asked_for(sheet):
    """Twice the taper, the spring and the margin, half of it per side (common practice, no source)."""
    sheet["settings"] = {"plan": {"taper": 0.02, "spring": 0.03, "margin": 0.04}}
    found = plan(job_of(sheet), None)

    assert found["stock"]["due_per_side"] == pytest.approx((2 * 0.02 + 0.03 + 0.04) / 2)
    assert any("taper, spring and margin" in one for one in found["warnings"])


def with_bore(both_measured, sheet, bore):
    del sheet["fit"]["bore"]
    session = both_measured(sheet, bore, {})
    return plan(session.job, measured(session.state, "bore", session.job, source="here"))


def test_each_station_of_the_shaft_needs_what_the_bore_it_meets_allows(both_measured, sheet):
    """The shaft's 0 mm only ever stands at the bore's 0; 120 mm meets every place (travel 0 to 120 mm)."""
    found = with_bore(both_measured, sheet, {0: 50.010, 40: 50.006, 80: 50.008})
    aims = {row["z"]: row["aim"] for row in found["shaft_stations"]}

    assert aims[0] == pytest.approx(50.005)
    assert aims[60] == pytest.approx(50.001)
    assert aims[120] == pytest.approx(50.001)
    assert aims[200] == pytest.approx(50.003)
    assert [row["aim"] for row in found["bore_stations"]] == pytest.approx([50.005, 50.001, 50.003])
    assert found["parallel"]["aim"] == pytest.approx(50.002)
    assert found["parallel"]["loosest"] == pytest.approx(0.008)


def test_a_bore_that_changes_by_more_than_the_clearance_may_takes_no_parallel_shaft(both_measured, sheet):
    found = with_bore(both_measured, sheet, {0: 50.015, 40: 50.006, 80: 50.008})

    assert found["parallel"] is None
    assert any("no one diameter fits everywhere" in one for one in found["warnings"])


def test_the_nominal_size_is_called_an_assumption(sheet):
    del sheet["fit"]["bore"]
    found = plan(job_of(sheet), None)

    assert found["bore"]["from"] == "nominal"
    assert any("ASSUMED" in one for one in found["conditions"])
    assert "NOT MEASURED" in plan_text(found, "mm")


def test_inches_are_the_same_plan(sheet):
    """0.2 mm of chromium is 0.00787 in."""
    text = plan_text(plan(job_of(sheet), None), "in")

    assert "0.00787 in" in text
    assert "1.96850 in" in text


def test_warnings_and_cautions_of_a_plan_are_said_in_either_unit(sheet):
    """0.0254 mm, the least stock by its source, is 0.001 in; 0.8 µm Ra is called 32 µin (ASME B46.1)."""
    sheet["shaft"]["plating"] = {"least": 0.1, "most": 0.2, "stock": 0.01, "runout": 0.02}
    mm, inch = (plan(job_of(sheet), None, units=units) for units in ("mm", "in"))
    little = [
        next(one["text"] for one in found["cautions"] if one["key"] == "little stock") for found in (mm, inch)
    ]

    assert little[0] == "Little to grind: 0.01 mm per side is under the usual 0.0254 mm."
    assert little[1] == "Little to grind: 0.00039 in per side is under the usual 0.001 in."
    assert any("runout of 0.02 mm is over 0.01 mm" in one for one in mm["warnings"])
    assert any("runout of 0.00079 in is over 0.00039 in" in one for one in inch["warnings"])
    assert any("32 µin Ra" in one["text"] for one in inch["cautions"])


def test_without_plating_or_fit_the_missing_is_said(sheet):
    del sheet["shaft"]["plating"]
    assert "has no plating" in plan_text(plan(job_of(sheet), None), "mm")
    del sheet["fit"]
    assert "has no fit" in plan_text(plan(job_of(sheet), None), "mm")
