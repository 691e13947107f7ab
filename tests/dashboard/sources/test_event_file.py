"""Events by number out of the file are the events of the recording."""

from __future__ import annotations

import pytest

from capture.recording.reader import BadRecording, read
from dashboard.sources import event_file
from dashboard.sources.event_file import EventFile


@pytest.fixture(autouse=True)
def small_pieces(monkeypatch):
    """So small that a short recording has many."""
    monkeypatch.setattr(event_file, "PIECE", 700)


def loaded(path):
    found = EventFile(path)
    batches = [event for events in found.load() for event in events]
    return found, batches


def test_every_event_is_found_by_its_number_in_any_order(recording, ground):
    found, batches = loaded(recording)

    assert batches == list(read(recording)) == ground.events
    assert [found[i] for i in range(len(found))] == ground.events
    assert [found[i] for i in reversed(range(len(found)))] == ground.events[::-1]
    assert found[-1] == ground.events[-1]
    assert found[3:6] == ground.events[3:6]


def test_only_a_few_pieces_are_kept_decoded(recording):
    found, _ = loaded(recording)
    for number in range(len(found)):
        found[number]

    assert len(found._pieces) > 2 * event_file.KEPT
    assert len(found._decoded) == event_file.KEPT


def test_a_number_beyond_the_end_is_refused(recording, ground):
    found, _ = loaded(recording)

    with pytest.raises(IndexError):
        found[len(ground.events)]


def test_what_stands_before_damage_is_found(recording, ground):
    whole = recording.read_bytes()
    recording.write_bytes(whole[:-20])
    found, batches = loaded(recording)

    assert found.damage is not None
    assert batches == ground.events[:-1]
    assert [found[i] for i in range(len(found))] == ground.events[:-1]


def test_a_file_that_was_replaced_is_said(recording):
    found, _ = loaded(recording)
    recording.write_bytes(recording.read_bytes()[:900])

    with pytest.raises(BadRecording, match="changed since it was opened"):
        found[len(found) - 1]
