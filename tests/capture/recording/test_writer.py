"""Writing a recording: durable, never over another, in one piece whatever the disk and people do."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from capture.events import AnyFact, Beat, Event, Instant, Note, Other
from capture.recording.opening import CannotRecord, create, resume
from capture.recording.reader import PIECE, follow, read
from capture.recording.repair import chain_of, check
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


def test_what_is_appended_reads_back_and_its_chain_holds(
    every_fact: SearchStrategy[AnyFact],
    number_facts: Callable[..., list[Event]],
    tmp_path_factory: pytest.TempPathFactory,
    hands: Any,
) -> None:
    folder = tmp_path_factory.mktemp("recordings")

    @given(st.lists(st.lists(every_fact, max_size=4), max_size=4))
    def law(batches: Any) -> None:
        path = folder / "session.jsonl"
        path.unlink(missing_ok=True)
        recorder = create(path, JOB, hands.clock())
        events = number_facts([fact for batch in batches for fact in batch])
        for batch in batches:
            first = recorder.due
            assert recorder.append(events[first : first + len(batch)])
        recorder.close()
        assert list(read(path)) == events
        assert check(path) == []

    law()


def test_an_event_with_another_number_is_refused(recorder: Recorder) -> None:
    with pytest.raises(ValueError, match="event 3 was given to write, but 0 is due"):
        recorder.append(beats(3, 1))


class Disk:
    """A disk that does what a script says, by replacing one call of the host."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.left = None
        self.syncs = True
        self._write, self._sync = os.write, os.fdatasync
        monkeypatch.setattr(os, "write", self.write)
        monkeypatch.setattr(os, "fdatasync", self.sync)

    def write(self, file: int, data: Any):
        if self.left is None:
            return self._write(file, data)
        if self.left == 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        size = self._write(file, bytes(data[: self.left]))
        self.left -= size
        return size

    def sync(self, file: int):
        if not self.syncs:
            raise OSError(errno.EIO, "Input/output error")
        self._sync(file)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch):
    return Disk(monkeypatch)


@pytest.mark.parametrize("room", [0, 1, 70, 400])
def test_a_full_disk_keeps_events_in_memory_and_writes_them_when_it_is_back(
    recorder: Recorder, path: Path, disk: Disk, room: int
) -> None:
    assert recorder.append(beats(0, 2))
    disk.left = room
    assert not recorder.append(beats(2, 20))
    assert not recorder.append(beats(22, 1))
    assert "not on disk: 21 lines (0 of them readings), kept in memory" in recorder.trouble
    assert "No space left" in recorder.trouble
    assert list(read(path))[:2] == beats(0, 2)
    assert recorder.kept > 0
    disk.left = None
    assert recorder.append(beats(23, 1))

    assert recorder.trouble == ""
    assert recorder.kept == 0
    assert list(read(path)) == beats(0, 24)
    assert check(path) == []


def test_a_write_that_takes_only_a_part_is_gone_on_with(
    recorder: Recorder, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = os.write
    monkeypatch.setattr(os, "write", lambda file, data: write(file, bytes(data[:7])))
    assert recorder.append(beats(0, 5))

    assert list(read(path)) == beats(0, 5)


def test_after_a_failed_sync_everything_since_the_last_good_one_is_written_again(
    recorder: Recorder, path: Path, disk: Disk
) -> None:
    """The host may drop pages after a failed sync and call them clean: a second sync proves nothing."""
    assert recorder.append(beats(0, 1))
    size = path.stat().st_size
    disk.syncs = False
    assert not recorder.append(beats(1, 1))
    with path.open("r+b") as file:
        file.seek(size)
        file.write(b"\0" * (path.stat().st_size - size))
    disk.syncs = True

    assert recorder.flush()
    assert list(read(path)) == beats(0, 2)


def test_a_removed_recording_is_written_again(recorder: Recorder, path: Path, hands: Any) -> None:
    assert recorder.append(beats(0, 3))
    path.unlink()
    assert recorder.append(beats(3, 1))

    assert "was removed or moved" in recorder.notice
    assert list(read(path)) == beats(0, 4)
    with pytest.raises(CannotRecord, match="another capture is writing"):
        resume(path, JOB, hands.clock())


def test_a_removed_folder_is_made_again(tmp_path: Path, hands: Any) -> None:
    path = tmp_path / "job" / "session.jsonl"
    path.parent.mkdir()
    recorder = create(path, JOB, hands.clock())
    recorder.append(beats(0, 1))
    path.unlink()
    path.parent.rmdir()
    assert recorder.append(beats(1, 1))
    recorder.close()

    assert list(read(path)) == beats(0, 2)


def test_a_recording_moved_away_goes_on_where_it_was_and_a_stranger_in_its_place_is_left_alone(
    recorder: Recorder, path: Path, tmp_path: Path
) -> None:
    recorder.append(beats(0, 3))
    path.rename(tmp_path / "elsewhere.jsonl")
    path.write_text("a stranger")
    assert recorder.append(beats(3, 1))

    assert path.read_text() == "a stranger"
    assert recorder.path == tmp_path / "session-2.jsonl"
    assert list(read(recorder.path)) == beats(0, 4)
    assert list(read(tmp_path / "elsewhere.jsonl")) == beats(0, 3)


@pytest.mark.parametrize("size", [0, 1, 60, 100, 150, 200, 301, 400])
def test_a_recording_cut_by_somebody_else_goes_on_whole_beside_the_stump(
    recorder: Recorder, path: Path, size: int
) -> None:
    """At whatever byte: every event that was acknowledged reads back."""
    recorder.append(beats(0, 5))
    os.truncate(path, size)
    assert recorder.append(beats(5, 1))
    assert recorder.append(beats(6, 1))

    assert f"to {size} bytes by somebody else" in recorder.notice
    assert path.stat().st_size == size
    assert recorder.path == path.with_name("session-2.jsonl")
    assert list(read(recorder.path)) == beats(0, 7)
    assert check(recorder.path) == []
    assert recorder.kept == 0


def test_what_a_cut_took_and_memory_no_longer_has_is_said_line_by_line(
    recorder: Recorder, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("capture.recording.writer._RECENT", 1)
    for n in range(5):
        recorder.append(beats(n, 1))
    os.truncate(path, path.read_bytes().index(b'{"seq":1') + 5)
    assert recorder.append(beats(5, 1))

    assert "3 events that stood there are lost" in recorder.notice
    found = list(read(recorder.path))
    assert [event.seq for event in found] == list(range(6))
    assert [isinstance(event.fact, Other) for event in found] == [False, True, True, True, False, False]
    assert check(recorder.path) == []
    assert recorder.chain == chain_of(recorder.path)


def test_a_cut_that_comes_on_a_full_disk_is_made_good_when_it_is_back(
    recorder: Recorder, path: Path, disk: Disk
) -> None:
    recorder.append(beats(0, 5))
    os.truncate(path, 200)
    disk.left = 20
    assert not recorder.append(beats(5, 1))
    assert not path.with_name("session-2.jsonl").exists()
    disk.left = None
    assert recorder.append(beats(6, 1))

    assert list(read(recorder.path)) == beats(0, 7)


def test_a_large_batch_is_synced_in_pieces(
    recorder: Recorder, path: Path, disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No more than one piece is ever between two syncs, so that a power cut tears no more."""
    sizes = [path.stat().st_size]
    sync = os.fdatasync
    monkeypatch.setattr(os, "fdatasync", lambda file: (sync(file), sizes.append(path.stat().st_size)))
    notes = [Event(n, Instant(n, n), "person", Note("x" * 300_000)) for n in range(8)]
    assert recorder.append(notes)

    assert max(b - a for a, b in pairwise(sizes)) <= PIECE
    assert list(read(path)) == notes


def test_a_follower_hears_each_event_once_through_a_failed_write(
    recorder: Recorder, path: Path, disk: Disk
) -> None:
    follower = follow(path)
    recorder.append(beats(0, 2))
    heard = follower.poll()
    disk.left = 30
    recorder.append(beats(2, 2))
    heard += follower.poll()
    disk.left = None
    recorder.flush()
    heard += follower.poll()
    follower.close()

    assert heard == beats(0, 4)


class FailingFile:
    """A host whose next sync of each opened file fails once, as one does after one lost page."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._sync = os.fdatasync
        self.failing: set[int] = set()
        monkeypatch.setattr(os, "fdatasync", self.sync)

    def sync(self, file: int) -> None:
        if file in self.failing:
            self.failing.discard(file)
            raise OSError(errno.EIO, "Input/output error")
        self._sync(file)


def test_an_event_whose_sync_failed_is_shown_to_nobody_until_it_is_written_again(
    recorder: Recorder, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Linux tells a lost page once to each opened file; the next sync then succeeds (fsync(2), EIO)."""
    host = FailingFile(monkeypatch)
    old = follow(path)
    recorder.append(beats(0, 1))
    assert old.poll() == beats(0, 1)
    host.failing = {recorder._file}
    assert not recorder.append(beats(1, 1))
    newcomer = follow(path)
    assert old.poll() == []
    assert newcomer.poll() == beats(0, 1)
    assert recorder.flush()
    assert old.poll() == newcomer.poll() == beats(1, 1)
    old.close()
    newcomer.close()


def test_a_follower_whose_own_sync_failed_waits_until_the_file_is_written_again(
    recorder: Recorder, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    host = FailingFile(monkeypatch)
    follower = follow(path)
    recorder.append(beats(0, 1))
    assert follower.poll() == beats(0, 1)
    recorder.append(beats(1, 1))
    assert follower._file is not None
    host.failing = {follower._file}
    assert [follower.poll() for _ in range(3)] == [[], [], []]
    os.utime(path, ns=(1, 1))
    assert follower.poll() == beats(1, 1)
    follower.close()
