"""Questions about a sheet that is right and perhaps not meant. Their bounds: common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.sheet.doubts import doubts_of
from capture.sheet.reader import job_of

FIT = {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}}
SHEET = {
    "job": {"name": "sleeve"},
    "fit": FIT,
    "shaft": {"stations": [20, 80], "plating": {"least": 0.1, "most": 0.2, "stock": 0.06}},
    "gauge": [{"name": "mike", "measures": "diameter", "link": {"serial": "COM3"}, "resolution": 0.001}],
}


def asked(**changed):
    return {doubt.where: doubt.question for doubt in doubts_of(job_of({**SHEET, **changed}))}


def test_a_sheet_as_it_is_meant_asks_nothing():
    assert asked() == {}


def test_a_clearance_of_5_mm_in_a_fit_of_55_mm_is_asked_about():
    found = asked(fit={"nominal": 55.0, "clearance": {"aim": 5, "least": 3, "most": 8}})

    assert set(found) == {"fit.clearance.aim", "fit.clearance.least", "fit.clearance.most"}
    assert found["fit.clearance.aim"] == "5 mm of clearance in a fit of 55 mm: micrometres? 5 µm is 0.005 mm"


def test_an_inch_sheet_is_asked_in_inches():
    found = asked(
        job={"name": "sleeve", "units": "in"},
        fit={"nominal": 2.0, "clearance": {"aim": 0.2, "least": 0.1, "most": 0.3}},
        shaft={},
        gauge=[],
    )

    assert (
        found["fit.clearance.aim"]
        == "0.2 in of clearance in a fit of 2 in: thousandths? 0.2 thou is 0.0002 in"
    )


@pytest.mark.parametrize(
    ("changed", "where"),
    [
        ({"fit": {**FIT, "nominal": 2.1654}}, "fit.nominal"),
        ({"job": {"name": "x", "units": "in"}}, "fit.nominal"),
        ({"shaft": {"plating": {"least": 100, "most": 200, "stock": 60}}}, "shaft.plating.most"),
        ({"shaft": {"stations": [20_000]}}, "shaft.stations"),
        ({"gauge": [{**SHEET["gauge"][0], "resolution": 1}]}, "gauge.0.resolution"),
        ({"grinder": {"dial": "diameter", "division": 1}}, "grinder.division"),
        ({"settings": {"spark_out": {"limit": 0.5}}}, "settings.spark_out.limit"),
    ],
)
def test_a_length_in_the_wrong_unit_is_asked_about(changed, where):
    assert where in asked(**changed)


@given(nominal=st.floats(10, 500), share=st.floats(1e-6, 1e-3))
def test_a_thousand_times_the_clearance_is_asked_about_and_the_clearance_is_not(nominal, share):
    """Law: what is typed in micrometres where millimetres are due is 1000 times too large, and is seen."""
    aim = nominal * share

    def fit(scale):
        return {
            "nominal": nominal,
            "clearance": {"aim": aim * scale, "least": aim * scale / 2, "most": aim * scale * 2},
        }

    assert "fit.clearance.aim" not in asked(fit=fit(1.0))
    assert share * 1000 <= 0.005 or "fit.clearance.aim" in asked(fit=fit(1000.0))


def test_a_spindle_that_turns_otherwise_than_its_pulleys_make_it_is_asked_about():
    """1440 x 120 / 150 is 1152: with the pulleys changed over it would be 1800 (kinematics of a belt)."""
    changed_over = {"motor_rpm": 1440, "motor_pulley": 120, "spindle_pulley": 150}
    right = {"motor_rpm": 1440, "motor_pulley": 150, "spindle_pulley": 120}

    assert asked(wheel={"rpm": 1790, "drive": right}) == {}
    assert asked(wheel={"rpm": 1800, "drive": changed_over}) == {
        "wheel.rpm": "1800 1/min, and 1152 by motor and pulleys: which is right?"
    }
    assert set(asked(work={"rpm": 60, "drive": changed_over})) == {"work.rpm"}
