"""What gauges sent, kept word for word."""

from __future__ import annotations

import pytest

from capture.recording.reader import read
from capture.report.raws import raws_of
from capture.sheet.reader import job_of
from capture.simulator.golden import Virtual
from capture.state import replay


@pytest.fixture
def raws(tmp_path, fit_sheet_text):
    def of(*steps: tuple[str, str | bytes]):
        shop = Virtual(tmp_path / "one.jsonl", fit_sheet_text)
        for gauge, said in steps:
            shop.say(*said.split()) if gauge == "person" else shop.receive(gauge, said)
        shop.close()
        recording = read(tmp_path / "one.jsonl")
        return raws_of(recording, replay.state_at_end(job_of(recording.header.job), recording))

    return of


def test_a_taken_reading_keeps_what_the_gauge_sent(raws):
    assert [raw.shown for raw in raws(("plug", b"+055.0021 mm\r\n")).values()] == ["+055.0021 mm"]


def test_what_is_not_printable_is_made_visible(raws):
    assert [raw.shown for raw in raws(("plug", b"55.0021\tmm\r\n")).values()] == [r"55.0021\x09mm"]


def test_what_was_set_aside_keeps_its_reason(raws):
    found = raws(("plug", b"55.0021\r\n"), ("person", "reject 0 chip under the tip"))

    assert found[0].why == "chip under the tip"


def test_a_reason_that_was_itself_undone_counts_no_more(raws):
    found = raws(("plug", b"55.0021\r\n"), ("person", "reject 0 chip"), ("person", "undo"))

    assert all(raw.why != "chip" for raw in found.values())
