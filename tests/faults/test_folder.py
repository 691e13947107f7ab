"""A folder that cannot be written, and a recording that somebody removes meanwhile."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def read_only(tmp_path: Path) -> Iterator[Path]:
    """A folder that even the superuser cannot write, or one that this user cannot."""
    folder = tmp_path / "read-only"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "ro,size=64k", "tmpfs", str(folder)]
    mounted = os.geteuid() == 0 and subprocess.run(mount, capture_output=True, check=False).returncode == 0
    if not mounted:
        folder.chmod(0o500)
    yield folder
    if mounted:
        subprocess.run(["umount", "-l", str(folder)], check=True)
    folder.chmod(0o700)


def test_a_folder_that_cannot_be_written_is_refused_in_one_line_that_says_what_to_do(tenths, job, read_only):
    said = tenths("capture", str(job), "--out", str(read_only / "session.jsonl"), status=2)

    assert len(said.splitlines()) == 1
    assert "cannot be written" in said
    assert "choose another place with --out" in said
    assert list(read_only.iterdir()) == []


def test_a_recording_that_is_removed_is_written_again_whole_and_said(tenths, job, port, wait_until):
    capture = tenths.capture(str(job))
    port.send(b"55.001 mm\r\n")
    capture.until("reading", 1)
    (tenths.folder / capture.recording).unlink()
    port.send(b"55.002 mm\r\n")
    wait_until((tenths.folder / capture.recording).exists, "the recording to be back")
    capture.until("reading", 2)
    said = capture.stop()

    assert "was removed or moved while it was being written" in said
    assert [fact["value"] for fact in capture.facts("reading")] == [55.001, 55.002]
    assert tenths("check", str(capture.recording)).endswith("whole\n")
