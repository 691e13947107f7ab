"""Tables of a recording."""

from __future__ import annotations

import re

import pytest

from capture.events import Instant
from capture.export.tables import COLUMNS, iso, rows
from capture.recording.reader import read
from capture.sheet.reader import job_of
from capture.state import replay

UNITS = {"mm": "mm", "s": "s", "deg": "deg", "degC": "Cel"}


@pytest.fixture(scope="module")
def recorded(tmp_path_factory, fit_recording):
    recording = read(fit_recording(tmp_path_factory.mktemp("fit") / "one.jsonl"))
    return recording, replay.state_at_end(job_of(recording.header.job), recording)


@pytest.mark.parametrize("what", COLUMNS)
def test_every_row_has_the_columns_that_are_explained(recorded, what):
    recording, state = recorded
    names = [column.name for column in COLUMNS[what]]

    for row in rows(what, recording, state):
        assert list(row) == names


@pytest.mark.parametrize("what", COLUMNS)
def test_a_unit_in_a_columns_name_is_its_ucum_code(what):
    for column in COLUMNS[what]:
        ending = re.search(r"_(mm|s|deg|degC)$", column.name)
        if ending:
            assert column.unit == UNITS[ending[1]]
        assert column.text.endswith(".")


def test_every_reading_of_every_gauge_is_there_with_its_bytes(recorded):
    recording, state = recorded
    found = rows("readings", recording, state)

    assert len(found) == state.kinds["reading"]
    assert found[0]["raw"] == "21.00\r\n"
    assert found[0]["value_degC"] == 21.0
    assert found[0]["value_mm"] is None


def test_time_is_written_in_utc():
    """2026-03-02T09:14:12.120Z is 1 772 442 852.120 s after 1970 (GNU date)."""
    assert iso(Instant(0, 1_772_442_852_120_000_000)) == "2026-03-02T09:14:12.120000Z"


def test_text_that_a_spreadsheet_would_run_is_quoted_in_csv_and_numbers_are_not():
    """Characters that begin a formula: OWASP, CSV Injection."""
    from capture.export.files import as_text

    bad = ["=cmd|'/c calc'!A1", "@SUM(A1)", "+1+cmd", "-2+3", "\t=1", "\r=1"]
    assert [as_text(text) for text in bad] == [f"'{text}" for text in bad]
    plain = ["mike", "+55.012", "-0.004", -0.5, 3, None]
    assert [as_text(value) for value in plain] == plain
