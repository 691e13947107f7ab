"""The summary: its keys are a contract, its text speaks the job's units."""

from __future__ import annotations

import json

import pytest

from capture.folds.lengths import small
from capture.folds.summary import summary
from capture.folds.summary_text import summary_text
from capture.sheet_reader import job_of

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

    assert "2.0 tenths" in text
    assert "µm" not in text
    assert small(0.00508, "in") == "2.0 tenths"
