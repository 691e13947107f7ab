"""Pipes in place of the small files of a folder: each is refused in one line, and none is waited for."""

from __future__ import annotations

import os

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")


def test_a_pipe_in_place_of_a_sheet_is_refused(tenths, tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")

    for words in (("capture", "pipe.toml"), ("fit", "pipe.toml"), ("machine", "pipe.toml")):
        said = tenths(*words, status=2)
        assert said.splitlines()[-1].endswith("a regular file was due"), words


def test_a_pipe_in_place_of_the_machines_beside_a_sheet_is_refused(tenths, job, tmp_path):
    os.mkfifo(tmp_path / "machines.toml")

    assert "a regular file was due" in tenths("capture", str(job), status=2)


def test_a_pipe_in_place_of_a_dialect_is_refused(tenths, job, tmp_path):
    os.mkfifo(tmp_path / "taught.toml")
    job.write_text(job.read_text("utf-8") + 'dialect = "taught.toml"\n', "utf-8")

    said = tenths("capture", str(job), status=2)

    assert "taught.toml: a pipe, a device or a folder came" in said
    assert not list(tmp_path.glob("*.jsonl")), "what is refused leaves no recording behind"
