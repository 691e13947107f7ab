from __future__ import annotations

import pytest

from capture.recording.reader import BadRecording
from dashboard.sources.recording_library import RecordingLibrary, TooLarge

OUTSIDE = [
    "../outside.jsonl",
    "/etc/passwd",
    "..\\outside.jsonl",
    "sub/inside.jsonl",
    "",
    ".",
    "..",
    "sleeve.jsonl/..",
]


@pytest.fixture
def shelf(recording, ground):
    """A folder with a recording, and others around it that must not be reached."""
    inside = recording.parent / "shop"
    inside.mkdir()
    recording.rename(inside / "sleeve.jsonl")
    (recording.parent / "outside.jsonl").write_bytes(ground.text())
    (inside / "sub").mkdir()
    (inside / "sub" / "inside.jsonl").write_bytes(ground.text())
    return RecordingLibrary(inside)


def test_recordings_are_found_by_name(shelf, ground):
    assert list(shelf.recordings()) == ["sleeve.jsonl"]
    assert shelf.opened("sleeve.jsonl").state == ground.state


@pytest.mark.parametrize("name", OUTSIDE)
def test_no_name_reaches_outside_the_folder(shelf, name):
    with pytest.raises(BadRecording, match="no recording of this name"):
        shelf.opened(name)


def test_a_link_that_leads_out_of_the_folder_is_not_followed(shelf):
    (shelf.folder / "linked.jsonl").symlink_to(shelf.folder.parent / "outside.jsonl")

    assert "linked.jsonl" not in shelf.recordings()


def test_a_recording_is_read_once_until_it_grows(shelf, ground):
    first = shelf.opened("sleeve.jsonl")
    again = shelf.opened("sleeve.jsonl")
    before = len(ground.events)
    ground.say("daemon", type(ground.events[-1].fact)(), 900.0)
    with first.path.open("ab") as file:
        file.write(ground.lines(before))
    grown = shelf.opened("sleeve.jsonl")

    assert again is first
    assert grown.state.seq == ground.state.seq > first.state.seq


def test_a_recording_that_is_too_large_is_refused_with_a_way_out(shelf):
    with pytest.raises(TooLarge, match="tenths export"):
        shelf.opened("sleeve.jsonl", most=100)
