"""What a job's calibrations are, which are overdue, and a certificate written under a gauge of a sheet."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.calibration_certificate import CalibrationCertificate, CertifiedLength
from capture.analysis.calibrations import calibration_rows, sheet_keys
from capture.sheet.faults import BadSheet
from capture.sheet.gauges.keys import with_keys
from capture.sheet.reader import read_sheet

SHEET = """\
[job]
name = "Sleeve"
units = "{units}"

# the shop's own
[[gauge]]
name = "mike"  # the big one
measures = "diameter"
link = {{ serial = "/dev/ttyUSB0", baud = 9600 }}
{more}
"""
DAY = date(2026, 3, 2)


def job(more="", units="mm"):
    return read_sheet(SHEET.format(units=units, more=more), "sheet")[0]


def ring(value=55.0003, expanded=0.0005, k=2.0):
    return CertifiedLength("diameter", value, expanded / k, expanded, k)


RING = CalibrationCertificate(
    "A-17", "setting ring", ("R-9",), "2026-01-05", "2026-01-07", (ring(),), signed=False
)


@given(st.integers(-4000, 4000))
def test_a_calibration_is_overdue_from_the_day_after_it_was_due(days):
    due = DAY + timedelta(days=days)

    (row,) = calibration_rows(job(f'certificate = "C-1"\ndue = "{due}"'), DAY)

    assert row["days"] == days
    assert row["state"] == ("overdue" if days < 0 else "valid")


def test_what_is_not_on_the_sheet_is_said_and_not_taken_for_valid():
    assert [row["state"] for row in calibration_rows(job(), DAY)] == ["no certificate"]
    assert [row["state"] for row in calibration_rows(job('certificate = "C-1"'), DAY)] == ["no day"]


@pytest.mark.parametrize(("units", "mm"), [("mm", 1.0), ("in", 25.4)])
def test_a_masters_certificate_on_the_sheet_says_its_size_and_standard_uncertainty(units, mm):
    """U 0.5 µm with k = 2 is u 0.25 µm (JCGM 100:2008, 6.2); an inch is 25.4 mm (ISO 80000-3)."""
    plain = SHEET.format(units=units, more="")
    gauge = job(units=units).gauges[0]

    text = with_keys(plain, "mike", sheet_keys(RING, ring(), "master", "2027-01-05", gauge, units))

    after = read_sheet(text, "sheet")[0]
    master = calibration_rows(after, DAY)[1]
    assert (master["of"], master["certificate"], master["due"]) == ("master", "A-17", "2027-01-05")
    assert master["value"] == pytest.approx(55.0003, abs=2e-6)
    assert master["u"] == pytest.approx(0.00025, abs=2e-7)
    assert f"master_size = {master['value'] / mm:.3f}" in text
    assert "# the shop's own" in text
    assert "# the big one" in text


def test_a_second_certificate_with_another_factor_changes_no_standard_uncertainty():
    gauge = job("expanded = 0.002\ncoverage = 2.0").gauges[0]
    known = ring(expanded=0.0006, k=3.0)

    keys = sheet_keys(RING, known, "master", None, gauge, "mm")

    after = read_sheet(with_keys(SHEET.format(units="mm", more="expanded = 0.002"), "mike", keys), "sheet")[0]
    own, master = calibration_rows(after, DAY)
    assert own["u"] == pytest.approx(0.001)
    assert master["u"] == pytest.approx(0.0002)


def test_a_gauges_own_certificate_brings_its_number_and_days():
    keys = sheet_keys(RING, None, "gauge", "2027-01-05", job().gauges[0], "mm")

    assert keys == {"certificate": "A-17", "calibrated": "2026-01-05", "due": "2027-01-05"}


@pytest.mark.parametrize("text", ["[[", SHEET.format(units="mm", more=""), "gauge = 3"])
def test_no_sheet_and_no_such_gauge_are_refused_with_what_was_due(text):
    with pytest.raises(BadSheet, match=r"TOML|due the name of a gauge"):
        with_keys(text, "plug", {"certificate": "A-17"})
