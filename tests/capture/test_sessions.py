"""Which of several recordings tells the newest of a part, and of the shop."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from capture.events import Event, Instant, Reading
from capture.recording.codec import Header, encode_event, encode_header
from capture.recording.reader import BadRecording
from capture.sessions import newest_of, opened, shop_of

SHEET: dict[str, Any] = {
    "job": {"name": "sleeve"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "bore": {"stations": [20, 80]},
    "shaft": {"stations": [20, 80]},
    "gauge": [
        {"name": "mike", "measures": "diameter", "link": {"serial": "a"}, "resolution": 0.001},
        {"name": "plug", "measures": "bore", "link": {"serial": "b"}, "resolution": 0.001},
        {"name": "probe", "measures": "temperature", "part": "shaft", "link": {"serial": "c"}},
    ],
}


def recorded(path: Path, wall: int, *told: tuple[str, float]) -> Path:
    """A recording in which these gauges gave these values, the first at *wall* seconds, one a second."""
    lines = [encode_header(Header.new(SHEET, wall * 10**9))]
    for seq, (gauge, value) in enumerate(told):
        unit = "degC" if gauge == "probe" else "mm"
        at = Instant(seq * 10**9, (wall + seq) * 10**9)
        lines.append(encode_event(Event(seq, at, gauge, Reading(value, unit, 3, ""))))
    path.write_bytes(b"\n".join(lines) + b"\n")
    return path


@pytest.fixture
def three(tmp_path):
    """Three mornings: the bore was measured first and last, the shaft in the middle."""
    bore = opened(recorded(tmp_path / "a.jsonl", 100, ("plug", 55.002), ("probe", 20.5)))
    shaft = opened(recorded(tmp_path / "b.jsonl", 200, ("mike", 54.997), ("probe", 21.5)))
    again = opened(recorded(tmp_path / "c.jsonl", 300, ("plug", 55.003)))
    return bore, shaft, again


def test_a_part_is_told_by_the_session_that_measured_it_last(three):
    bore, shaft, again = three

    assert newest_of([again, bore, shaft], "bore") is again
    assert newest_of([again, bore, shaft], "shaft") is shaft
    assert newest_of([bore], "shaft") is None
    assert newest_of([], "bore") is None


def test_within_a_session_the_newest_reading_counts(tmp_path):
    long = opened(recorded(tmp_path / "long.jsonl", 100, *[("plug", 55.0)] * 60))
    short = opened(recorded(tmp_path / "short.jsonl", 130, ("plug", 55.0)))

    assert newest_of([short, long], "bore") is long


def test_the_shops_temperature_is_the_newest_of_all(three):
    bore, shaft, again = three

    assert shop_of(one.state for one in (shaft, bore, again))["shaft"].value == 21.5
    assert shop_of([again.state]) == {}


def test_what_is_no_recording_is_named(tmp_path):
    path = tmp_path / "none.jsonl"
    path.write_text("[]\n")

    with pytest.raises(BadRecording, match=r"none\.jsonl"):
        opened(path)
