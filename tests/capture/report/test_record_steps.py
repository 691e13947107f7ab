"""What is done beside the measuring stands in the record, each figure with its source."""

from __future__ import annotations

import html
import re

from capture.analysis.fit.findings import FitQuestion, fit
from capture.events import Lap
from capture.report.page import CitedRecording, page
from capture.sheet.reader import job_of
from tests.capture.state.conftest import new_session, sheet  # noqa: F401 - fixtures


def record_of(session):
    state = session.state
    cited = CitedRecording("a.jsonl", "then", "tenths", state.seq + 1, "0", "0", "", state, {})
    found = fit(session.job, None, None, FitQuestion())
    paper = page(session.job, [cited], found, [], None, version="0", written="now")
    return html.unescape(re.sub(r"<[^>]*>", " ", paper))


def test_wheel_work_and_treatment_stand_in_the_record_with_their_sources(new_session, sheet):  # noqa: F811
    """Speeds: pi d n. Bake of 1500 MPa (45 HRC): ASTM B850-98 (2009) asks 16 h at 190 to 220 °C."""
    sheet["shaft"] |= {"hardness": 45, "plating": {"least": 0.1, "most": 0.2, "stock": 0.06}}
    sheet |= {"wheel": {"diameter": 300.0, "rpm": 2000.0, "marking": "A 60 K 8 V"}, "work": {"rpm": 100.0}}
    session = new_session(job_of(sheet))
    session.tell(("person", "stage stripped"))
    text = record_of(session)

    assert "Wheel and work for steel, hardened, finish" in text
    speed = r"wheel speed\s+31\.4 m/s\s+27\.9 m/s to 33\.0 m/s\s+usual\s+\[Machinery's Handbook"
    assert re.search(speed, text)
    assert "Wheel: A 60 K 8 V (ISO 525)" in text
    assert re.search(r"bake within 4 h of it: 16 h at least at 190 to 220 °C \[ASTM B850", text)


def test_a_record_without_wheel_or_plating_has_neither(new_session, sheet):  # noqa: F811
    text = record_of(new_session(job_of(sheet)))

    assert "Wheel and work for" not in text
    assert "Stress relief and bake" not in text


def test_how_the_part_was_held_stands_beside_its_reading(new_session, sheet):  # noqa: F811
    session = new_session(job_of(sheet))
    session.tell(("person", "clamp locked"), ("mike", 55.040))
    assert "held “locked”" in record_of(session)

    session.tell(("person", "clamp free"), ("mike", 55.041))
    assert re.search(r"locked.*free", record_of(session), re.DOTALL)


def test_each_lap_that_was_counted_stands_in_the_record(new_session, sheet):  # noqa: F811
    session = new_session(job_of(sheet))
    assert "Lapped" not in record_of(session)

    session.tell(("person", Lap(60.0, None)), ("person", Lap(None, 2.5)))
    assert re.search(
        r"Lapped\s+event\s+strokes\s+minutes\s+\d+\s+60\s+–\s+\d+\s+–\s+2\.5", record_of(session)
    )
