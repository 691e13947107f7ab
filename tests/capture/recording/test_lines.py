"""The lines of a recording, byte for byte, as it grows."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.recording.lines import HEADER, LineFollower

RECORDINGS = Path(__file__).parents[3] / "recordings"


def followed(follower):
    lines = []
    while more := follower.poll():
        lines += more
    return lines


@pytest.mark.parametrize("path", sorted(RECORDINGS.glob("*.jsonl")), ids=lambda path: path.stem)
def test_the_lines_are_the_recording_without_a_tail_that_was_cut(path):
    data = path.read_bytes()

    follower = LineFollower(path)
    lines = followed(follower)

    assert b"".join(line.data + b"\n" for line in lines) == data[: data.rfind(b"\n") + 1]
    assert [line.seq for line in lines] == list(range(HEADER, len(lines) - 1))
    assert lines[-1].data.endswith(b'"chain":"%b"}' % lines[-1].chain.encode())
    assert follower.damage is None


@given(first=st.integers(-5, 2600), length=st.integers(0, 2600))
def test_any_lines_are_given_again(first, length):
    follower = LineFollower(RECORDINGS / "bore.jsonl")
    lines = followed(follower)

    found = list(follower.between(first, first + length))

    due = [line.data for line in lines if max(first, HEADER) <= line.seq < first + length]
    assert found == due


def test_a_line_is_given_out_when_its_end_is_written(tmp_path):
    data = (RECORDINGS / "good.jsonl").read_bytes()
    path = tmp_path / "growing.jsonl"
    follower = LineFollower(path)
    assert follower.poll() == []
    seen = b""
    with path.open("ab", buffering=0) as file:
        for start in range(0, 4000, 37):
            file.write(data[start : start + 37])
            seen += b"".join(line.data + b"\n" for line in follower.poll())
            assert seen == data[: data.rfind(b"\n", 0, start + 37) + 1]


def test_a_changed_line_stops_it_and_is_named(tmp_path):
    path = tmp_path / "changed.jsonl"
    lines = (RECORDINGS / "good.jsonl").read_bytes().splitlines(keepends=True)
    lines[100] = lines[100].replace(b'"value":2', b'"value":3').replace(b'"beat"', b'"beau"')
    path.write_bytes(b"".join(lines))
    follower = LineFollower(path)

    good = followed(follower)

    assert b"".join(line.data + b"\n" for line in good) == b"".join(lines[:100])
    assert follower.damage is not None
    assert (follower.damage.kind, follower.damage.line) == ("chain", 101)


def test_a_recording_that_is_replaced_is_read_from_its_start(tmp_path):
    path = tmp_path / "one.jsonl"
    path.write_bytes((RECORDINGS / "good.jsonl").read_bytes())
    follower = LineFollower(path)
    followed(follower)
    other = tmp_path / "other"
    other.write_bytes((RECORDINGS / "bore.jsonl").read_bytes())
    other.replace(path)

    lines = followed(follower)

    assert follower.turn == 1
    assert b"".join(line.data + b"\n" for line in lines) == (RECORDINGS / "bore.jsonl").read_bytes()
