"""`fit`, `plan` and `study` as their users run them."""

from __future__ import annotations

import pytest


@pytest.fixture
def sleeve(tmp_path, fit_sheet_text, fit_recording):
    (tmp_path / "sleeve.toml").write_text(fit_sheet_text, "utf-8")
    fit_recording(tmp_path / "one.jsonl")
    return tmp_path


def test_a_fit_is_found_in_the_recordings_beside_its_sheet(tenths, sleeve):
    """Bore 55.0020 and shaft 54.9972 at their closest, both read 0.25 µm too large by their masters."""
    found = tenths.json("fit", "sleeve.toml")

    assert found["bore"]["recording"] == found["shaft"]["recording"] == "one.jsonl"
    assert found["bore"]["stage"] == "lapped"
    assert found["clearance"]["least"] == pytest.approx(0.0048, abs=0.0002)
    assert found["decision"]["answer"] == "conforms"
    assert "CONFORMS" in tenths("fit", "sleeve.toml", "--strict")


def test_strict_is_status_one_when_the_fit_is_not_proven(tenths, sleeve, fit_recording):
    fit_recording(sleeve / "one.jsonl", away=-0.006)

    assert "DOES NOT CONFORM" in tenths("fit", "sleeve.toml", "--strict", status=1)
    assert "DOES NOT CONFORM" in tenths("fit", "sleeve.toml")


def test_the_newest_session_of_each_part_is_taken(tenths, sleeve, fit_recording):
    fit_recording(sleeve / "other.jsonl", (sleeve / "sleeve.toml").read_text().replace('"sleeve"', '"other"'))
    (sleeve / "no.jsonl").write_text("hello\n")
    found = tenths.json("fit", "sleeve.toml")

    assert found["bore"]["recording"] == "one.jsonl"
    assert tenths.json("fit", "sleeve.toml", "other.jsonl")["bore"]["recording"] == "other.jsonl"


def test_without_recordings_the_fit_says_what_holds_before_grinding(tenths, sleeve):
    (sleeve / "one.jsonl").unlink()
    text = tenths("fit", "sleeve.toml")

    assert "Before grinding" in text
    assert "NOT MEASURED: the nominal size is assumed" in text
    assert "shaft: not measured" in text
    tenths("fit", "sleeve.toml", "--strict", status=1)


def test_inches_give_the_same_fit(tenths, sleeve, fit_sheet_text, fit_recording):
    inches = in_inches(fit_sheet_text)
    (sleeve / "inch.toml").write_text(inches, "utf-8")
    fit_recording(sleeve / "inch.jsonl", inches)
    one = tenths.json("fit", "sleeve.toml", "one.jsonl")
    two = tenths.json("fit", "inch.toml", "inch.jsonl")

    for key in ("least", "most", "u_least", "u_most"):
        assert two["clearance"][key] == pytest.approx(one["clearance"][key], abs=2e-7)
    assert two["decision"]["answer"] == one["decision"]["answer"]
    assert "tenths" in tenths("fit", "inch.toml", "inch.jsonl")


def in_inches(sheet):
    lengths = {
        "nominal = 55.0": f"nominal = {55 / 25.4!r}",
        "aim = 0.005, least = 0.002, most = 0.008": ", ".join(
            f"{key} = {value / 25.4!r}" for key, value in (("aim", 0.005), ("least", 0.002), ("most", 0.008))
        ),
        "length = 150.0, from = 20.0, to = 100.0": ", ".join(
            f"{key} = {value / 25.4!r}" for key, value in (("length", 150), ("from", 20), ("to", 100))
        ),
        "[0, 40, 70, 100, 130, 150]": str([z / 25.4 for z in (0, 40, 70, 100, 130, 150)]),
        "[20, 80, 140, 200, 260]": str([z / 25.4 for z in (20, 80, 140, 200, 260)]),
        "least = 0.10, most = 0.20, stock = 0.05, runout = 0.01": ", ".join(
            f"{key} = {value / 25.4!r}"
            for key, value in (("least", 0.1), ("most", 0.2), ("stock", 0.05), ("runout", 0.01))
        ),
        "resolution = 0.0001": f"resolution = {0.0001 / 25.4!r}",
        "repeatability = 0.0003": f"repeatability = {0.0003 / 25.4!r}",
        'units = "mm"': 'units = "in"',
    }
    for metric, inch in lengths.items():
        assert metric in sheet
        sheet = sheet.replace(metric, inch)
    return sheet


def test_an_inch_sheet_with_millimetre_readings_is_refused_with_what_to_do(tenths, sleeve, fit_sheet_text):
    (sleeve / "inch.toml").write_text(in_inches(fit_sheet_text), "utf-8")
    wrong = (sleeve / "one.jsonl").read_text().replace('"value":55.', '"value":1396.')
    (sleeve / "wrong.jsonl").write_text(strip_chains(wrong))

    said = tenths("fit", "inch.toml", "wrong.jsonl", status=2)
    assert "set the unit of this gauge" in said
    assert len(said.splitlines()) == 1


def strip_chains(text):
    import re

    return re.sub(r',"chain":"[^"]*"', "", text)


@pytest.mark.parametrize(
    ("words", "due"),
    [
        (("--stage", "bore=honed"), "no readings in stage 'honed'"),
        (("--stage", "hole=lapped"), "due bore=STAGE or shaft=STAGE"),
        (("--temperature", "bore=warm"), "due PLACE=T"),
        (("--at", "hot"), "due a temperature"),
        (("--set", "form.bow=x"), "form.bow"),
    ],
)
def test_a_wrong_request_is_refused_in_one_line(tenths, sleeve, words, due):
    said = tenths("fit", "sleeve.toml", *words, status=2)

    assert due in said
    assert len(said.splitlines()) == 1


def test_a_working_temperature_is_asked_about(tenths, sleeve):
    rows = tenths.json("fit", "sleeve.toml", "--at", "bore=20,shaft=25")["temperatures"]

    assert [row["what"] for row in rows] == ["at 20 °C", "in the shop", "asked for"]
    # 55 mm of steel 4140 (12.3e-6 /K, Callister Table B.6) grow 3.38 µm in 5 K.
    assert rows[0]["least"] - rows[2]["least"] == pytest.approx(0.00338, abs=1e-5)


def test_a_plan_is_a_table_for_the_plater(tenths, sleeve):
    text = tenths("plan", "sleeve.toml", "--bore", "one.jsonl")

    assert "strip to" in text
    assert "hexavalent chromium" in text
    assert "licensed platers" in text
    found = tenths.json("plan", "sleeve.toml", "--bore", "one.jsonl")
    assert found["bore"]["from"] == "measured"
    assert found["order"]["strip"] == pytest.approx(found["order"]["finished"] - 0.3)
    assert tenths.json("plan", "sleeve.toml")["bore"] == found["bore"]


def test_a_plan_without_any_recording_goes_by_the_nominal_size_and_says_so(tenths, sleeve):
    (sleeve / "new").mkdir()
    (sleeve / "new" / "sleeve.toml").write_bytes((sleeve / "sleeve.toml").read_bytes())

    assert tenths.json("plan", "new/sleeve.toml")["bore"]["from"] == "nominal"


def test_a_plan_for_a_bore_that_was_not_measured_is_refused(tenths, sleeve, fit_sheet_text):
    from capture.simulator.golden import Virtual

    Virtual(sleeve / "empty.jsonl", fit_sheet_text).close()
    assert "no readings of the bore" in tenths("plan", "sleeve.toml", "--bore", "empty.jsonl", status=2)


def test_a_study_says_what_each_gauge_shows(tenths, sleeve):
    found = tenths.json("study", "one.jsonl")
    plug = next(row for row in found["gauges"] if row["gauge"] == "plug")

    # Read on a master of 55 mm: 55.00023 at first, 55.00033 at the end.
    assert plug["masters"][0]["bias"] == pytest.approx(0.00028, abs=1e-5)
    assert plug["drift"][0]["drift"] == pytest.approx(0.0001, abs=1e-6)
    assert "Repeatability" in tenths("study", "one.jsonl")
