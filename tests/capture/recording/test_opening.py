"""Recordings begun and gone on with: never over another file, and whole after every crash."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from capture.events import Beat, Event, Instant
from capture.recording.codec import encode_event, encode_header
from capture.recording.opening import CannotRecord, create, resume
from capture.recording.reader import read
from capture.recording.repair import check
from capture.recording.writer import Recorder

JOB = {"job": {"name": "Jig-borer spindle sleeve"}}


def beats(first: int, count: int):
    return [Event(n, Instant(n * 10**9, n * 10**9), "daemon", Beat()) for n in range(first, first + count)]


@pytest.fixture
def path(tmp_path: Path):
    return tmp_path / "session.jsonl"


@pytest.fixture
def recorder(path: Path, hands: Any):
    recorder = create(path, JOB, hands.clock())
    yield recorder
    recorder.close()


def stopped(path: Path, hands: Any, count: int):
    recorder = create(path, JOB, hands.clock())
    recorder.append(beats(0, count))
    recorder.close()
    return path.read_bytes()


def test_nothing_is_written_over(path: Path, hands: Any) -> None:
    path.write_text("mine")
    with pytest.raises(CannotRecord, match="is there already"):
        create(path, JOB, hands.clock())
    assert path.read_text() == "mine"


@pytest.mark.parametrize("place", ["missing/session.jsonl", "/proc/session.jsonl", "file/session.jsonl"])
def test_a_place_that_cannot_be_written_is_said(tmp_path: Path, hands: Any, place: Any) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(CannotRecord, match=r"cannot be written: .*--out"):
        create(tmp_path / place, JOB, hands.clock())


def test_a_recording_cut_anywhere_goes_on_and_loses_only_the_last_event(path: Path, hands: Any) -> None:
    """SIGKILL or a power cut may tear the last write at any byte."""
    text = stopped(path, hands, 3)
    for cut in range(len(text) + 1):
        for tail in path.parent.glob("*.tail*"):
            tail.unlink()
        path.write_bytes(text[:cut])
        recorder, _ = resume(path, JOB, hands.clock())
        due = max(0, text[:cut].count(b"\n") - 1)
        assert recorder.due == due
        assert recorder.append(beats(due, 2))
        recorder.close()
        assert list(read(path)) == beats(0, due + 2)
        assert check(path) == []
        if recorder.mended is not None:
            aside = (path.parent / "session.jsonl.tail").read_bytes()
            assert aside
            assert text[:cut].endswith(aside)


def test_time_goes_on_after_a_stop(path: Path, hands: Any) -> None:
    stopped(path, hands, 3)
    hands.wall = 2 * 10**9 + 60 * 10**9
    recorder, clock = resume(path, JOB, hands.clock())
    recorder.close()

    assert recorder.last == Instant(2 * 10**9, 2 * 10**9)
    assert clock.now().mono == 62 * 10**9


def test_the_job_of_a_recording_cannot_change(path: Path, hands: Any) -> None:
    stopped(path, hands, 3)
    with pytest.raises(CannotRecord, match="the job sheet was changed"):
        resume(path, {"job": {"name": "Another"}}, hands.clock())


def test_a_recording_without_chains_is_gone_on_with(path: Path, hands: Any) -> None:
    stopped(path, hands, 0)
    head = encode_header(read(path).header)
    path.write_bytes(b"\n".join([head, *map(encode_event, beats(0, 3))]) + b"\n")
    recorder, _ = resume(path, JOB, hands.clock())
    recorder.append(beats(3, 2))
    recorder.close()

    assert list(read(path)) == beats(0, 5)
    assert check(path) == []
    path.write_bytes(path.read_bytes().replace(b'"daemon"', b'"Daemon"', 1))
    assert [found.kind for found in check(path)] == ["chain"]


def test_an_edited_recording_is_not_gone_on_with(path: Path, hands: Any) -> None:
    text = stopped(path, hands, 3)
    path.write_bytes(text.replace(b'"seq":1', b'"seq":7'))
    with pytest.raises(CannotRecord, match="event 7 came, but 1 was due; this is not what a crash leaves"):
        resume(path, JOB, hands.clock())
    path.write_bytes(b"something else\n")
    with pytest.raises(CannotRecord, match="not a recording"):
        resume(path, JOB, hands.clock())


def test_two_captures_cannot_write_one_recording(recorder: Recorder, path: Path, hands: Any) -> None:
    with pytest.raises(CannotRecord, match="another capture is writing this recording"):
        resume(path, JOB, hands.clock())
