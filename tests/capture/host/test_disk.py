"""Files that a person could have written: regular, small, and text."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from capture.host.disk import SMALL, read_small, read_small_text

needs_pipes = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")


def test_a_small_file_is_read_with_each_line_end_as_one(tmp_path):
    path = tmp_path / "sheet.toml"
    path.write_bytes(b'[job]\r\nname = "K\xc3\xb6rper"\n')

    assert read_small_text(path) == '[job]\nname = "Körper"\n'
    assert read_small(path) == path.read_bytes()


def test_a_file_of_gigabytes_is_refused_and_not_read(tmp_path):
    path = tmp_path / "sheet.toml"
    with path.open("wb") as file:
        file.truncate(8 << 30)

    with pytest.raises(OSError, match=f"more than {SMALL} bytes came"):
        read_small_text(path)


@needs_pipes
def test_a_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "sheet.toml")

    with pytest.raises(OSError, match="a regular file was due"):
        read_small_text(tmp_path / "sheet.toml")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs a device without end")
def test_a_device_without_end_is_refused(tmp_path):
    (tmp_path / "sheet.toml").symlink_to("/dev/zero")

    with pytest.raises(OSError, match="a regular file was due"):
        read_small_text(tmp_path / "sheet.toml")


def test_what_is_no_text_is_refused_with_the_byte(tmp_path):
    (tmp_path / "sheet.toml").write_bytes(b"[job]\xff")

    with pytest.raises(OSError, match="byte 5 is none"):
        read_small_text(tmp_path / "sheet.toml")
