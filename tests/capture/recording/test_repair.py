"""Checking and mending: every edit is named by its line, and only what a crash leaves is mended."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.events import Event, Instant, Reading
from capture.host.disk import lock
from capture.recording.opening import create
from capture.recording.reader import PIECE, BadRecording, read
from capture.recording.repair import MOST, chain_of, check, mend


def readings(count: int):
    return [
        Event(n, Instant(n * 10**9, n), "mike", Reading(55.0 + n / 1000, "mm", 3, f"{55 + n / 1000:.3f}\r\n"))
        for n in range(count)
    ]


@pytest.fixture
def path(tmp_path: Path, hands: Any):
    path = tmp_path / "session.jsonl"
    recorder = create(path, {"job": {"name": "Jig-borer spindle sleeve"}}, hands.clock())
    recorder.append(readings(6))
    recorder.close()
    return path


def findings(path: Path):
    return [(found.line, found.kind) for found in check(path)]


def test_a_whole_recording_has_no_findings_and_nothing_to_mend(path: Path) -> None:
    before = path.read_bytes()

    assert check(path) == []
    assert mend(path) is None
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("edit", "due"),
    [
        (lambda ls: [*ls[:3], ls[3].replace(b"55.002", b"55.003"), *ls[4:]], [(4, "chain")]),
        (lambda ls: ls[:3] + ls[4:], [(4, "chain"), (4, "order")]),
        (lambda ls: [*ls[:3], ls[2], *ls[3:]], [(4, "chain"), (4, "order")]),
        (
            lambda ls: [*ls[:3], ls[4], ls[3], *ls[5:]],
            [(line, kind) for line in (4, 5, 6) for kind in ("chain", "order")],
        ),
        (lambda ls: [ls[0].replace(b"sleeve", b"quill"), *ls[1:]], [(2, "chain")]),
        (lambda ls: [*ls[:3], ls[3][:-25] + b"}\n", *ls[4:]], [(4, "chain")]),
        (lambda ls: [*ls[:3], b"oops\n", *ls[3:]], [(4, "chain"), (4, "line"), (5, "chain"), (5, "order")]),
        (lambda ls: [*ls, b"x" * 20], [(8, "cut")]),
        (lambda ls: [*ls, b"\0" * 20], [(8, "hole")]),
        (lambda ls: [*ls, b"x" * (3 << 20) + b"\n"], [(8, "line")]),
    ],
)
def test_every_edit_is_named_by_its_line(path: Path, edit: Callable[[Any], Any], due: Any) -> None:
    path.write_bytes(b"".join(edit(path.read_bytes().splitlines(keepends=True))))

    assert findings(path) == due


def test_no_single_changed_byte_goes_unseen(path: Path) -> None:
    """The chain shows any change of an event's line; a changed header shows at the first event."""
    text = path.read_bytes()

    @given(st.integers(10, len(text) - 1), st.integers(1, 255))
    def law(place: Any, by: int) -> None:
        changed = bytearray(text)
        changed[place] ^= by
        path.write_bytes(changed)
        try:
            found = check(path)
        except BadRecording as error:
            found = [str(error)]
        assert found != []

    law()


def test_a_file_of_nothing_but_rubbish_is_not_listed_for_ever(path: Path) -> None:
    with path.open("ab") as file:
        file.write(b"oops\n" * 3 * MOST)

    assert MOST <= len(check(path)) <= MOST + 2


@pytest.mark.parametrize(
    "tail", [b"{", b'{"seq":6,"at":[6000', b"\0" * 4096, b'{"seq":6,\0\0\0\0}\n{"seq":7}\n']
)
def test_what_a_crash_leaves_is_moved_beside(path: Path, tail: bytes) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole + tail)
    mended = mend(path)

    assert mended is not None
    assert (mended.events, mended.moved, mended.to) == (6, len(tail), f"{path}.tail")
    assert path.read_bytes() == whole
    assert path.with_name("session.jsonl.tail").read_bytes() == tail
    assert list(read(path)) == readings(6)


def test_an_older_tail_is_not_written_over(path: Path) -> None:
    path.with_name("session.jsonl.tail").write_text("older")
    path.write_bytes(path.read_bytes() + b"{")
    mended = mend(path)

    assert mended is not None
    assert mended.to == f"{path}.tail-2"
    assert path.with_name("session.jsonl.tail").read_text() == "older"


@pytest.mark.parametrize(
    "edit",
    [
        lambda text: text.replace(b'"seq":3', b'"seq":4'),
        lambda text: text + b"oops\n",
        lambda text: text.replace(b"mike", b"\0\0\0\0", 1) + b" " * (PIECE * 3),
    ],
)
def test_nothing_else_is_mended(path: Path, edit: Callable[[Any], Any]) -> None:
    text = edit(path.read_bytes())
    path.write_bytes(text)
    with pytest.raises(BadRecording, match="not what a crash leaves"):
        mend(path)
    assert path.read_bytes() == text
    assert list(path.parent.iterdir()) == [path]


def test_a_recording_that_is_being_written_is_not_mended(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"{")
    with path.open("rb") as other:
        assert lock(other.fileno())
        with pytest.raises(BadRecording, match="a running capture is writing"):
            mend(path)


def test_the_last_chain_names_the_state_of_a_recording(path: Path) -> None:
    last = path.read_bytes()[-15:-3].decode()

    assert chain_of(path) == last
    path.write_bytes(path.read_bytes() + b"{")
    with pytest.raises(BadRecording, match="no end"):
        chain_of(path)
