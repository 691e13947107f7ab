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
def library(recording, ground):
    """A folder with a recording, and others around it that must not be reached."""
    inside = recording.parent / "shop"
    inside.mkdir()
    recording.rename(inside / "sleeve.jsonl")
    (recording.parent / "outside.jsonl").write_bytes(ground.text())
    (inside / "sub").mkdir()
    (inside / "sub" / "inside.jsonl").write_bytes(ground.text())
    return RecordingLibrary(inside)


def test_recordings_are_found_by_name(library, ground):
    assert list(library.recordings()) == ["sleeve.jsonl"]
    assert library.opened("sleeve.jsonl").state == ground.state


@pytest.mark.parametrize("name", OUTSIDE)
def test_no_name_reaches_outside_the_folder(library, name):
    with pytest.raises(BadRecording, match="no recording of this name"):
        library.opened(name)


def test_a_link_that_leads_out_of_the_folder_is_not_followed(library):
    (library.folder / "linked.jsonl").symlink_to(library.folder.parent / "outside.jsonl")

    assert "linked.jsonl" not in library.recordings()


def test_a_recording_is_read_once_until_it_grows(library, ground):
    first = library.opened("sleeve.jsonl")
    again = library.opened("sleeve.jsonl")
    before = len(ground.events)
    ground.say("daemon", type(ground.events[-1].fact)(), 900.0)
    with first.path.open("ab") as file:
        file.write(ground.lines(before))
    grown = library.opened("sleeve.jsonl")

    assert again is first
    assert grown.state.seq == ground.state.seq > first.state.seq


def test_a_recording_that_is_too_large_is_refused_with_a_way_out(library):
    with pytest.raises(TooLarge, match="tenths export"):
        library.opened("sleeve.jsonl", most=100)
