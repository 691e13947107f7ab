"""The summary: its keys are a contract, its text speaks the job's units."""

from __future__ import annotations

import json

import pytest

from capture.analysis.summary import summary
from capture.report.terminal.coach_text import coach_text
from capture.report.terminal.summary_text import summary_text
from capture.sheet.reader import job_of
from capture.text.lengths import small

STATION = {"part", "z", "angle", "stage", "pass", "value", "value_20c", "u", "t", "of"}
PASS = {
    *("number", "infeed", "value", "value_20c", "u", "removed", "to_come", "predicted", "verdict", "t"),
}
TAPER = {"slope", "u_slope", "adjust", "residual", "stock_left", "advice"}


def test_the_keys_that_other_programs_rely_on_are_there(one_place, grind):
    found = summary(one_place.tell(*grind([0.006] * 4 + [0.0] * 6)))

    assert {"stations", "passes", "flags", "taper", "sweeps"} <= found.keys()
    assert found["stations"][0].keys() >= STATION
    assert found["passes"][0].keys() >= PASS
    assert found["flags"][0].keys() >= {"t", "seq", "pass", "what"}
    assert found["taper"].keys() >= TAPER


def test_it_is_plain_json_without_anything_that_json_does_not_know(one_place, grind):
    found = summary(one_place.tell(*grind([0.006] * 4 + [0.0] * 6)))

    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_a_size_without_a_probe_says_that_20_degrees_are_assumed(one_place):
    found = summary(one_place.tell(("mike", 55.0), ("probe", 22.0), ("mike", 55.0)))

    assert [row["assumed_20c"] for row in found["stations"]] == [True, False]
    assert found["stations"][0]["value_20c"] == 55.0
    # 4140: 12.3e-6 per kelvin (Callister, Table B.6), 2 K on 55 mm.
    assert found["stations"][1]["value_20c"] == pytest.approx(55.0 - 55.0 * 12.3e-6 * 2, abs=1e-7)


def test_a_temperature_that_is_too_old_speaks_no_more(one_place):
    found = summary(one_place.tell(("probe", 22.0), ("beat", 400.0), ("mike", 55.0)))

    assert found["stations"][0]["assumed_20c"] is True


def test_the_text_speaks_tenths_on_an_inch_job(sheet, new_session, grind):
    """A tenth is 0.0001 in: 2.54 µm exactly."""
    sheet["job"]["units"] = "in"
    sheet["fit"] = {"nominal": 2.1654, "clearance": {"aim": 0.0002, "least": 0.0001, "most": 0.0003}}
    session = new_session(job_of(sheet))
    session.tell(("mike", 55.0), ("person", "pass 0.0002"), ("mike", 54.998))
    about = {"job": "x", "path": "x", "events": 0, "readings": 0, "garbled": 0, "whole": True}

    text = summary_text({"recording": about, **summary(session.state)}, session.state)

    assert "2 tenths" in text
    assert "µm" not in text
    assert small(0.00508, "in") == "2.0 tenths"


def text_of(session):
    about = {"job": "x", "path": "x", "events": 0, "readings": 0, "garbled": 0, "whole": True}
    return summary_text({"recording": about, **summary(session.state)}, session.state)


def test_the_advice_after_the_last_pass_is_in_the_text_with_where_it_leads(one_place, grind):
    one_place.tell(*grind([0.006] * 3))
    found = summary(one_place.state)["coach"]
    text = text_of(one_place)

    assert f"Next, after pass 3: {found['say']}." in text
    assert f"Lands at {found['final']:.3f} mm ± " in text  # the gauge's step is 0.001 mm
    assert f"A pass takes {100 * found['machine']['share']:.0f} % ±" in text
    assert "Advice only" in text


def test_on_an_inch_job_the_advice_and_the_table_are_in_inches(sheet, new_session, grind):
    """Three stations read after every pass, 20 µm larger at the far end: there is a table to move."""
    inch = {"job": {"name": "sleeve", "units": "in"}, "grinder": {"dial": "diameter"}}
    sheet |= inch
    sheet["grinder"]["swivel"] = {"pivot": 5.5, "reading_at": 29.0, "toward_wheel": "+"}
    sheet["fit"] = {"nominal": 2.1654, "clearance": {"aim": 0.0002, "least": 0.0001, "most": 0.0003}}
    sheet["shaft"] = {"material": "steel 4140", "stations": [1, 5, 9]}
    fine = {"repeatability": 0.00001, "limits": 0.00002, "unit": "mm"}
    sheet["gauge"] = [{"name": "mike", "measures": "diameter", "link": {"serial": "a"}, **fine}]
    session = new_session(job_of(sheet))
    for infeed in (0.0004, 0.0004):
        session.tell(("person", f"pass {infeed}"), ("mike", 55.06), ("mike", 55.07), ("mike", 55.08))
    text = text_of(session)

    assert "µm" not in text
    assert " mm" not in text
    assert " in; tailstock end toward the wheel)" in text
    assert "on its indicator" in text


@pytest.mark.parametrize(("remembered", "said"), [(0.52, "agrees"), (0.90, "DOES NOT AGREE")])
def test_a_machine_that_is_remembered_is_compared(one_place, grind, remembered, said):
    one_place.tell(*grind([0.006] * 3))
    found = summary(one_place.state)["coach"]
    found["machine"] |= {"share": 0.5, "u_share": 0.03, "known": {"share": remembered, "u_share": 0.03}}

    assert f"(earlier jobs {100 * remembered:.0f} %: {said})" in coach_text(found, "mm")
