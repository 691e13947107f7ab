"""Fuzzes the recording: whatever a file holds, it is read as far as it is good, and its harm is named."""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path

from fuzzing import fuzz

from capture.analysis.summary import summary
from capture.recording.reader import BadRecording, Parser, follow, read
from capture.recording.repair import check, mend
from capture.report.terminal.summary_text import summary_text
from capture.sheet.reader import job_of
from capture.state import replay

PATH = Path(tempfile.mkdtemp(prefix="tenths-fuzz-")) / "session.jsonl"


def target(data: bytes) -> None:
    """Read, follow, sum up, check and mend; raises if a law does not hold."""
    PATH.write_bytes(data)
    try:
        recording = read(PATH)
        events = list(recording)
    except BadRecording:
        return
    if [event.seq for event in events] != list(range(len(events))):
        raise RuntimeError("numbers with a gap came out")
    pieces = Parser(PATH)
    if [event for n in range(0, len(data), 777) for event in pieces.feed(data[n : n + 777])] != events:
        raise RuntimeError("read in pieces it is another recording")
    follower = follow(PATH)
    if follower.poll() != events:
        raise RuntimeError("followed it is another recording")
    follower.close()
    state = replay.state_at_end(job_of(recording.header.job), events)
    about = {"path": "x", "events": 0, "readings": 0, "garbled": 0, "whole": True, "job": state.job.name}
    found = {"recording": about, **summary(state)}
    json.dumps(found, allow_nan=False)
    summary_text(found, state)
    damages = check(PATH)
    if recording.damage is not None and not damages:
        raise RuntimeError("a harm that stopped the reading was not found by the check")
    try:
        mended = mend(PATH)
    except BadRecording:
        return
    if mended is not None:
        Path(mended.to).unlink()
        if list(read(PATH)) != events:
            raise RuntimeError("mending changed what could be read")


if __name__ == "__main__":
    sys.exit(fuzz("recording", target))
