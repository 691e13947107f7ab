"""The fit as words and marks: worked out from two measured parts of the sleeve."""

from __future__ import annotations

import re

import pytest

from capture.analysis.steps.trial_assembly import tries_beside
from capture.events import Reading, Stage, Station, Tried
from dashboard.sources.fit_findings import fit_of, plan_of, sources
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.views.analysis.fit import fit_body
from dashboard.views.analysis.fit_map import between, figure, lattice, thinned, travel
from dashboard.views.analysis.plan import on_sheet, plan_body, tried
from tests.dashboard.spoken import texts


def said(components):
    return " | ".join(texts(components))


@pytest.fixture
def both_sheet(sheet):
    """The sleeve with its bore: stations of both, and where they meet."""
    fit = {key: value for key, value in sheet["fit"].items() if key != "bore"}
    plug = {
        "name": "plug",
        "measures": "bore",
        "part": "bore",
        "link": {"serial": "/dev/ttyUSB2"},
        "resolution": 0.0001,
        "repeatability": 0.0002,
        "limits": 0.0005,
    }
    mike = {**sheet["gauge"][0], "limits": 0.0005}
    return {
        **sheet,
        "fit": {**fit, "engagement": {"length": 100.0, "from": 0.0, "to": 60.0}, "rule": "guarded"},
        "bore": {"material": "grey cast iron", "stations": [0, 50, 100], "angles": [0]},
        "shaft": {
            "material": "steel 4140",
            "stations": [0, 80, 160],
            "angles": [0],
            "plating": {"least": 0.1, "most": 0.2, "stock": 0.06, "runout": 0.01},
        },
        "gauge": [mike, plug],
    }


SIZES = {
    "bore": {0.0: 55.0022, 50.0: 55.0015, 100.0: 55.0025},
    "shaft": {0.0: 54.9962, 80.0: 54.9965, 160.0: 54.9960},
}


def measure(session, part, t=1.0):
    """Measures a part at its stations, each told."""
    gauge = "plug" if part == "bore" else "mike"
    session.say("person", Stage("finish"), t)
    for z, value in SIZES[part].items():
        t += 5.0
        session.say("person", Station(part, z, 0.0), t)
        session.say(gauge, Reading(value, "mm", 4, f"{value:.4f}"), t + 1)
    return t + 5.0


@pytest.fixture
def both(session, both_sheet):
    """One recording with both parts."""
    one = session(both_sheet)
    measure(one, "shaft", measure(one, "bore"))
    return one


@pytest.fixture
def library(tmp_path):
    return RecordingLibrary(tmp_path)


def test_both_parts_of_one_recording_give_the_map_and_its_smallest_place(both, library):
    """The smallest place by hand: bore 55.0015 at 50 over shaft 54.9965 at 80, at offset 30."""
    found = fit_of(sources(both.state, "both.jsonl", library), "mm")
    body = fit_body(found, "mm", "light")

    assert found["clearance"]["least"] == pytest.approx(0.0050, abs=1e-9)
    assert "bore at 50 mm, shaft at 80 mm, the shaft standing at 30 mm" in said(body)
    assert said(body).count("◆") == 2
    assert "5.0 µm" in said(body)
    assert f"{found['decision']['probability']:.1%}".replace("%", " %") in said(body)


def test_the_other_part_comes_from_another_recording_of_the_folder(
    session, both_sheet, library, both, tmp_path
):
    bore, shaft = session(both_sheet), session(both_sheet)
    measure(bore, "bore")
    measure(shaft, "shaft")
    (tmp_path / "bore.jsonl").write_bytes(bore.text())
    (tmp_path / "shaft.jsonl").write_bytes(shaft.text())
    apart = fit_of(sources(shaft.state, "shaft.jsonl", library), "mm")
    together = fit_of(sources(both.state, "both.jsonl", RecordingLibrary(tmp_path / "none")), "mm")

    assert apart["clearance"] == together["clearance"]
    assert apart["bore"]["recording"] == "bore.jsonl"


def test_a_recording_of_another_job_is_not_looked_into(session, both_sheet, library, tmp_path):
    bore, shaft = session({**both_sheet, "job": {"name": "Another"}}), session(both_sheet)
    measure(bore, "bore")
    measure(shaft, "shaft")
    (tmp_path / "bore.jsonl").write_bytes(bore.text())

    assert sources(shaft.state, "shaft.jsonl", library).bore is None


def test_a_recording_that_cannot_be_read_is_passed_over_and_said(session, both_sheet, library, tmp_path):
    shaft = session(both_sheet)
    measure(shaft, "shaft")
    (tmp_path / "letter.jsonl").write_text("Dear customer,\n")
    found = fit_of(sources(shaft.state, "shaft.jsonl", library), "mm")

    assert any("passed over" in one and "letter.jsonl" in one for one in found["conditions"])


def test_before_anything_is_measured_the_band_that_guarding_leaves_is_shown(session, both_sheet, library):
    found = fit_of(sources(session(both_sheet).state, "new.jsonl", library), "mm")
    body = said(fit_body(found, "mm", "light"))

    assert "No clearance yet" in body
    assert "Band left after guarding" in body
    assert "NOT MEASURED" in body


def test_a_sheet_without_a_fit_says_what_to_do(session, sheet, library):
    bare = {key: value for key, value in sheet.items() if key != "fit"}
    found = fit_of(sources(session(bare).state, "new.jsonl", library), "mm")

    assert (
        said(fit_body(found, "mm", "light")) == "The job sheet has no fit. Write one on the page Job. | Job"
    )


def test_millimetres_and_inches_say_the_same(both, library):
    """1 tenth is 2.54 µm."""
    found = fit_of(sources(both.state, "both.jsonl", library), "mm")

    assert "2.0 tenths" in said(fit_body(found, "in", "dark"))
    assert " mm" not in said(fit_body(found, "in", "dark")[:2])


def test_the_lines_over_the_travel_are_the_positions(both, library):
    found = fit_of(sources(both.state, "both.jsonl", library), "mm")
    drawn = figure(found, "mm", "light")["data"]
    least = next(trace for trace in drawn if trace["name"] == "smallest")

    assert min(least["y"]) == pytest.approx(5.0)
    assert (least["x"][0], least["x"][-1]) == (0.0, 60.0)


def test_the_table_keeps_the_smallest_place_however_many_there_are():
    positions = [
        {
            "offset": float(offset),
            "places": [
                {"bore": float(z), "value": 0.001 if (z, offset) == (37, 23) else 0.005} for z in range(100)
            ],
        }
        for offset in range(60)
    ]
    columns, rows = lattice(positions)

    assert 37.0 in columns
    assert 23.0 in [offset for offset, _ in rows]
    assert len(columns) <= 15
    assert len(rows) <= 15


def test_between_places_the_clearance_is_straight_and_beyond_them_not_known():
    known = [(0.0, 0.004), (10.0, 0.006)]

    assert between(known, 5.0) == pytest.approx(0.005)
    assert between(known, 10.0) == 0.006
    assert between(known, 11.0) is None


def test_thinning_few_changes_nothing():
    assert thinned([1, 2, 3], {2}, 4) == [1, 2, 3]


def test_the_plan_says_what_the_plater_is_asked_for(both, library):
    """By hand: bore 55.0015 less 5 µm is 54.9965; less twice 0.15 mm, plus twice 0.06 mm."""
    found = sources(both.state, "both.jsonl", library)
    body = said(plan_body(plan_of(found, found.job, "mm"), "mm", tried=False))

    assert "Finished, after grinding | 54.9965 mm" in body
    assert "Strip to | 54.6965 mm" in body
    assert "Plate to | 55.1165 mm" in body
    assert "hexavalent chromium" in body


def test_what_is_tried_changes_the_plan_and_nothing_else(both, library):
    found = sources(both.state, "both.jsonl", library)
    job, faults = tried(found.job, {"stock": "0,10", "aim": "0.006"}, "mm")
    body = said(plan_body(plan_of(found, job, "mm"), "mm", tried=True))

    assert faults == {}
    assert "Finished, after grinding | 54.9955 mm" in body
    assert "To grind off, per side | 0.1000 mm" in body
    assert "not by the sheet" in body
    assert found.job.shaft.plating.stock == 0.06


def test_inches_that_are_typed_are_inches(both, library):
    job, _ = tried(sources(both.state, "both.jsonl", library).job, {"stock": "0.002"}, "in")

    assert job.shaft.plating.stock == pytest.approx(0.0508)


@pytest.mark.parametrize(
    ("typed", "field", "due"),
    [
        ({"stock": "much"}, "stock", "“much” will not do: write a number, 0 or more"),
        ({"runout": "-0.01"}, "runout", "write a number, 0 or more"),
        ({"least": "0.3"}, "least", "it must not be above the most"),
        ({"aim": "0.02"}, "aim", "it must lie between 0.0030 mm and 0.0080 mm"),
        ({"stock": "inf"}, "stock", "write a number"),
        ({"stock": "nan"}, "stock", "write a number"),
    ],
)
def test_a_fault_in_what_is_tried_stands_at_its_field(both, library, typed, field, due):
    sheet_job = sources(both.state, "both.jsonl", library).job
    job, faults = tried(sheet_job, typed, "mm")

    assert due in faults[field]
    assert job == sheet_job


def test_the_fields_show_what_the_sheet_has(both):
    assert on_sheet(both.job, "mm") == {
        "least": "0.1",
        "most": "0.2",
        "stock": "0.06",
        "runout": "0.01",
        "aim": "0.005",
    }
    assert on_sheet(both.job, "in")["aim"] == "0.000197"


def test_a_place_that_binds_is_laid_over_the_map(both, library):
    """Bound with the shaft at 30: the smallest place there is the bore at 50, by hand as above."""
    both.say("person", Tried(31.0, 90.0, "binds"), 900.0)
    found = fit_of(sources(both.state, "both.jsonl", library), "mm")
    tries = tries_beside(both.state.steps.tries, found["clearance"], "mm")

    shown = said(travel(found, "mm", "light", tries))

    assert (tries[0]["offset"], tries[0]["bore"]) == (30.0, 50.0)
    assert "30 mm ▼ binds" in shown
    assert "5.0 ◆ ▼ binds" in shown
    assert "the tightest place at that depth is 50 mm in the bore, 80 mm on the shaft" in shown
    assert "binds" not in said(travel(found, "mm", "light"))
    assert figure(found, "mm", "light", tries)["data"][-1]["text"] == ["binds"]


def test_the_budget_is_said_in_the_units_and_words_of_the_trade(session, both_sheet, library):
    """No key of the sheet, no power of ten: an expansion in µm/(m·K) (the unit of handbook tables)."""
    warm = {**both_sheet, "gauge": [*both_sheet["gauge"], PROBE]}
    one = session(warm)
    one.say("probe", Reading(23.0, "degC", 1, "x"), 0.5)
    measure(one, "shaft", measure(one, "bore"))
    body = fit_body(fit_of(sources(one.state, "both.jsonl", library), "mm"), "mm", "light")
    budget = next(each for each in body if "Uncertainty of the smallest" in said([each]))

    assert "µm/(m·K)" in said([budget])
    assert re.search(r"[a-z]\.[a-z]+_|\de-\d|\d 1\b", said([budget])) is None


PROBE = {
    "name": "probe",
    "measures": "temperature",
    "part": "shaft",
    "link": {"serial": "c"},
    "unit": "degC",
    "limits": 0.1,
}
