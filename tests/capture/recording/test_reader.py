"""Reading and following a recording: whole, live, cut, edited, not ours."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from capture.events import AnyFact, Beat, Event, Instant, Note, Other, Reading
from capture.recording.codec import (
    LONGEST,
    Header,
    encode_event,
    encode_header,
    first_chain,
    join_chain,
    next_chain,
)
from capture.recording.reader import BadRecording, Follower, Parser, follow, read

HEADER = Header.new({"job": {"name": "Jig-borer spindle sleeve"}}, 1_772_442_847_120_000_000)


def written(events: Any, header: Header = HEADER):
    """A recording as bytes, by the format's description."""
    head = encode_header(header)
    text, chain = [head + b"\n"], first_chain(head)
    for event in events:
        body = encode_event(event)
        chain = next_chain(chain, body)
        text.append(join_chain(body, chain))
    return b"".join(text)


def beats(count: int):
    return [Event(n, Instant(n * 10**9, n), "daemon", Beat()) for n in range(count)]


@pytest.fixture
def path(tmp_path: Path):
    return tmp_path / "session.jsonl"


def test_a_recording_reads_back_equal(
    every_fact: SearchStrategy[AnyFact],
    number_facts: Callable[..., list[Event]],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    path = tmp_path_factory.mktemp("recordings") / "session.jsonl"

    @given(st.lists(every_fact, max_size=8))
    def law(facts: Any) -> None:
        events = number_facts(facts)
        path.write_bytes(written(events))
        recording = read(path)
        assert recording.header == HEADER
        assert list(recording) == events
        assert recording.whole

    law()


def test_it_reads_the_same_however_its_bytes_are_cut(
    every_fact: SearchStrategy[AnyFact], number_facts: Callable[..., list[Event]], path: Path
) -> None:
    @given(st.lists(every_fact, max_size=5), st.lists(st.integers(1, 200), max_size=30))
    def law(facts: Any, sizes: list[int]) -> None:
        events = number_facts(facts)
        text = written(events)
        parser, heard = Parser(path), []
        for size in sizes:
            heard += parser.feed(text[:size])
            text = text[size:]
        heard += parser.feed(text)
        parser.finish()
        assert heard == events
        assert parser.damage is None

    law()


def test_a_tail_cut_anywhere_loses_only_the_last_event(
    path: Path, number_facts: Callable[..., list[Event]]
) -> None:
    facts = [Reading(55.0123, "mm", 4, "+055.0123 mm\r\n"), Note("µ – ok"), Other("ring", {"a": [1]}), Beat()]
    events = number_facts(facts)
    text = written(events)
    starts = [0]
    while (end := text.find(b"\n", starts[-1])) >= 0:
        starts.append(end + 1)
    for cut in range(starts[1], len(text) + 1):
        path.write_bytes(text[:cut])
        recording = read(path)
        whole_lines = sum(start <= cut for start in starts[1:]) - 1
        assert list(recording) == events[:whole_lines]
        assert recording.whole == (cut in starts)
        if recording.damage is not None:
            assert recording.damage.kind == "cut"
            assert recording.damage.line == whole_lines + 2
            assert recording.damage.offset == starts[whole_lines + 1]


def test_a_header_cut_anywhere_is_named(path: Path) -> None:
    head = encode_header(HEADER)
    for cut in range(len(head) + 1):
        path.write_bytes(head[:cut])
        with pytest.raises(BadRecording, match=r"session\.jsonl:1: "):
            read(path)


@pytest.mark.parametrize(
    ("edit", "line", "kind", "why"),
    [
        (lambda ls: ls[:3] + ls[4:], 4, "order", "event 3 came, but 2 was due"),
        (lambda ls: [*ls[:4], ls[3], *ls[4:]], 5, "order", "event 2 came, but 3 was due"),
        (lambda ls: [*ls[:3], b"oops\n", *ls[3:]], 4, "line", "'oops' came, but an event was due"),
        (lambda ls: [*ls[:3], b"\n", *ls[3:]], 4, "line", "an event was due"),
        (lambda ls: [*ls, b"\0" * 50], 8, "hole", "no end after 50 bytes"),
        (lambda ls: [*ls, b"\0" * 50 + b"\n"], 8, "hole", "zeros came, but event 6 was due"),
        (lambda ls: [*ls, b"and more\n"], 8, "line", "'and more' came"),
        (lambda ls: [*ls, b"x" * (LONGEST + 9)], 8, "line", "more than 1048576 bytes"),
        (
            lambda ls: [*ls[:3], ls[3].replace(b"[2000000000,", b"[200000000,"), *ls[4:]],
            4,
            "order",
            "time had",
        ),
        (
            lambda ls: [*ls[:-1], ls[-1].replace(b"[5000000000,", b"[9223372036854775808,")],
            7,
            "order",
            "ns, but",
        ),
        (lambda ls: [*ls[:3], ls[3].replace(b'"beat"', b'"reading"'), *ls[4:]], 4, "line", "event 2"),
        (lambda ls: [*ls[:3], ls[3].replace(b"daemon", b"da\xffmon"), *ls[4:]], 4, "line", "utf-8"),
    ],
)
def test_what_stands_before_a_damage_is_read_and_the_damage_named(
    path: Path, edit: Callable[[Any], Any], line: Any, kind: str, why: str
) -> None:
    text = edit(written(beats(6)).splitlines(keepends=True))
    path.write_bytes(b"".join(text))
    recording = read(path)

    assert list(recording) == beats(6)[: line - 2]
    assert recording.damage is not None
    assert (recording.damage.line, recording.damage.kind) == (line, kind)
    assert why in str(recording.damage)
    assert str(recording.damage).startswith(f"{path}:{line}: ")
    assert recording.damage.offset == sum(len(each) for each in text[: line - 1])


def test_a_recording_of_another_program_without_chains_reads_well(path: Path) -> None:
    lines = [encode_header(HEADER)] + [encode_event(event) for event in beats(4)]
    path.write_bytes(b"\n".join(lines) + b"\n")
    recording = read(path)

    assert list(recording) == beats(4)
    assert recording.whole


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (b"", "the file is empty"),
        (b"hello\n", "not a recording: 'hello' came"),
        (b"\n", "not a recording"),
        (b'{"format":7,"what":1}\n', "format 7 came"),
        (b"x" * (LONGEST + 10), "not a recording"),
        (b"\x89PNG\r\n", "not a recording"),
    ],
)
def test_a_file_that_is_not_ours_is_refused(path: Path, text: bytes, why: str) -> None:
    path.write_bytes(text)
    with pytest.raises(BadRecording, match=why):
        read(path)


def test_a_file_that_is_not_there_is_said(path: Path) -> None:
    with pytest.raises(BadRecording, match="cannot be read: No such file"):
        read(path)


def test_a_million_events_are_read_in_batches(path: Path) -> None:
    """Bounded memory: no batch holds more than what a few MiB of text hold."""
    count = 60_000
    path.write_bytes(written(beats(count)))
    sizes = [len(batch) for batch in read(path).batches()]

    assert sum(sizes) == count
    assert len(sizes) > 1


@pytest.fixture
def follower(path: Path):
    follower = follow(path)
    yield follower
    follower.close()


def test_a_follower_waits_for_the_file_and_gives_each_event_once(path: Path, follower: Follower) -> None:
    assert follower.poll() == []
    text = written(beats(5))
    path.write_bytes(text[:10])
    assert follower.poll() == []
    heard = []
    for end in range(10, len(text) + 1, 7):
        path.write_bytes(text[:end])
        heard += follower.poll()
    path.write_bytes(text)

    assert heard + follower.poll() == beats(5)
    assert follower.poll() == []
    assert follower.turn == 0
    assert follower.header == HEADER


def test_a_follower_starts_again_when_the_file_is_replaced(
    path: Path, follower: Follower, tmp_path: Path
) -> None:
    path.write_bytes(written(beats(5)))
    assert len(follower.poll()) == 5
    (tmp_path / "new").write_bytes(written(beats(2)))
    (tmp_path / "new").replace(path)

    assert follower.poll() == beats(2)
    assert follower.turn == 1


def test_a_follower_starts_again_when_the_file_is_cut_short(path: Path, follower: Follower) -> None:
    text = written(beats(5))
    path.write_bytes(text)
    assert len(follower.poll()) == 5
    os.truncate(path, len(text) // 2)
    heard = follower.poll()

    assert heard == beats(5)[: len(heard)]
    assert follower.turn == 1


def test_a_follower_stops_at_a_damage_and_names_it(path: Path, follower: Follower) -> None:
    path.write_bytes(written(beats(3)) + b"oops\n")

    assert follower.poll() == beats(3)
    assert "oops" in str(follower.damage)
    with path.open("ab") as file:
        file.write(b"more\n")
    assert follower.poll() == []


def test_a_follower_of_a_removed_file_waits_for_it(path: Path, follower: Follower) -> None:
    path.write_bytes(written(beats(3)))
    follower.poll()
    path.unlink()
    assert follower.poll() == []
    path.write_bytes(written(beats(4)))

    assert follower.poll() == beats(4)
    assert follower.turn == 1


def test_nothing_is_given_out_before_it_is_synced(
    path: Path, follower: Follower, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Durable before shown: what a sync failed on may be lost, though the next succeeds (fsync(2))."""
    path.write_bytes(written(beats(3)))

    def fails(file: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fdatasync", fails)
    assert follower.poll() == []
    monkeypatch.undo()
    assert follower.poll() == []
    path.write_bytes(written(beats(3)))
    os.utime(path, ns=(1, 1))
    assert follower.poll() == beats(3)


def test_a_pipe_that_bears_the_name_of_a_recording_is_refused_and_not_waited_for(tmp_path):
    path = tmp_path / "session.jsonl"
    os.mkfifo(path)
    with pytest.raises(BadRecording, match="a regular file was due"):
        read(path)
    with pytest.raises(BadRecording, match="a regular file was due"):
        follow(path).poll()
