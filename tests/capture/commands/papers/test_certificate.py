"""The certificate command: what a certificate says, onto a sheet, and what of a sheet is overdue."""

from __future__ import annotations

import json

import click
import pytest
from click.testing import CliRunner

from capture.cli import tenths
from capture.sheet.reader import read_sheet
from tests.capture.analysis.test_calibration_certificate import certificate

SHEET = """\
[job]
name = "Sleeve"
units = "mm"

[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "/dev/ttyUSB0", baud = 9600 }
certificate = "C-77"
due = "1999-12-31"
"""


def run(*words: object, status: int) -> str:
    answer = CliRunner().invoke(tenths, ["certificate", *map(str, words)], standalone_mode=False)
    if status == 2:
        assert isinstance(answer.exception, click.UsageError)
        return answer.exception.message
    assert answer.return_value == status, answer.output
    return answer.output


@pytest.fixture
def files(tmp_path):
    sheet, file = tmp_path / "sleeve.toml", tmp_path / "ring.xml"
    sheet.write_text(SHEET)
    file.write_bytes(certificate())
    return sheet, file


def test_a_certificate_is_written_under_the_gauge_and_listed(files):
    sheet, file = files

    said = run(file, "--sheet", sheet, "--gauge", "mike", "--due", "2999-05-01", status=0)

    assert "master_size = 55.0003" in said
    own, master = json.loads(run(sheet, "--json", status=1))["calibrations"]
    assert (own["state"], master["state"]) == ("overdue", "valid")
    assert (master["value"], master["u"], master["certificate"]) == (55.0003, 0.00025, "A-17")
    assert read_sheet(sheet.read_text(), "sheet")[0].gauges[0].master_expanded == 0.0005


def test_an_overdue_calibration_is_said_in_capitals_and_by_the_status(files):
    assert "OVERDUE by" in run(files[0], status=1)


@pytest.mark.parametrize(
    ("words", "due"),
    [
        (["--gauge", "plug"], "due one of the sheet: mike"),
        (["--gauge", "mike", "--length", "7"], "due which of the 1 lengths"),
        (["--gauge", "mike", "--due", "soon"], "due a day"),
    ],
)
def test_what_cannot_be_written_is_refused_and_the_sheet_stays(files, words, due):
    sheet, file = files

    assert due in run(file, "--sheet", sheet, *words, status=2)
    assert sheet.read_text() == SHEET
