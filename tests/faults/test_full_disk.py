"""A disk that is really full, and then is not."""

from __future__ import annotations

import os
import resource
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from capture.events import Event, Instant, Note
from capture.host.clock import Clock
from capture.recording.opening import CannotRecord, create
from capture.recording.reader import read
from capture.recording.repair import check

Room = Callable[[], None]


def notes(first: int, count: int) -> list[Event]:
    return [Event(n, Instant(n, n), "person", Note("x" * 1000)) for n in range(first, first + count)]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[tuple[Path, Room]]:
    """A folder with room for 128 KiB, and a way to make room: a file system of its own, or a limit."""
    folder = tmp_path / "small"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=128k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if mounted.returncode == 0:
        remount = ["mount", "-o", "remount,size=8m", str(folder)]
        yield folder, lambda: subprocess.run(remount, check=True)
        subprocess.run(["umount", "-l", str(folder)], check=True)
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (128 << 10, hard))
    yield folder, lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_what_a_full_disk_did_not_take_is_written_when_there_is_room(small_disk: tuple[Path, Room]) -> None:
    folder, make_room = small_disk
    path = folder / "session.jsonl"
    recorder = create(path, {"job": {}}, Clock.start())
    full = [recorder.append(notes(first, 10)) for first in range(0, 300, 10)]

    assert full[0]
    assert not full[-1]
    assert "lines (0 of them readings), kept in memory" in recorder.trouble
    before = list(read(path))
    assert before == notes(0, len(before))
    assert len(before) >= 10 * full.count(True)
    make_room()
    assert recorder.flush()
    recorder.close()
    assert list(read(path)) == notes(0, 300)
    assert check(path) == []


def test_a_recording_that_cannot_begin_leaves_no_file(small_disk: tuple[Path, Room]) -> None:
    folder, _ = small_disk
    path = folder / "session.jsonl"
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while file.write(b"x" * 4096):
                pass
        except OSError:
            os.fsync(file.fileno())
    job = {"job": {"name": "x" * (200 << 10)}}
    with pytest.raises(CannotRecord, match="cannot be written"):
        create(path, job, Clock.start())

    assert not path.exists()
