"""The inbox: words of the same user only, bounded, answered when they are on disk."""

from __future__ import annotations

import asyncio
import json
import os
import socket
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from capture.links.inbox import server
from capture.links.inbox.client import find, say
from capture.links.inbox.endpoint import LONGEST, NAME, Endpoint, NoCapture, Reply, read_endpoint
from capture.links.inbox.server import AlreadyRunning, InboxFiles, open_inbox


@pytest.fixture(autouse=True)
def runtime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A runtime folder of the test's own."""
    folder = tmp_path / "runtime"
    folder.mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    return folder


@pytest.fixture
def folder(tmp_path: Path):
    folder = tmp_path / "job"
    folder.mkdir()
    return folder


async def echo(words: Any, stamp: int):
    return Reply(ok=True, seq=int(stamp > 0), said=" ".join(words))


def with_inbox(folder: Path, work: Any, hear: Any = echo):
    """Runs *work* in a thread of its own while an inbox is open; the loop stays free."""

    async def run():
        async with open_inbox(folder, folder / "session.jsonl", "2026-03-02T09:14:07.120Z", hear) as path:
            result = await asyncio.gather(asyncio.to_thread(work, path), return_exceptions=True)
        assert len(asyncio.all_tasks()) == 1
        return result[0]

    result = asyncio.run(run())
    if isinstance(result, BaseException):
        raise result
    return result


def exchange(path: Path, request: bytes):
    place = read_endpoint(path)
    with socket.create_connection((place.host, place.port), timeout=5) as link:
        link.sendall(request)
        link.shutdown(socket.SHUT_WR)
        return json.loads(link.makefile("rb").readline())


def request(path: Path, *words: Any, token: str | None = None):
    return json.dumps({"token": token or read_endpoint(path).token, "words": words}).encode() + b"\n"


def test_words_arrive_and_are_answered(folder: Path) -> None:
    reply = with_inbox(folder, lambda path: say(["note", "µ – \n ok"], inbox=path))

    assert reply == Reply(ok=True, seq=1, said="note µ – \n ok")


def test_only_the_user_can_read_the_token_and_it_is_gone_afterwards(folder: Path, runtime: Path) -> None:
    def look(path: Path):
        place = read_endpoint(path)
        return path, place, [stat.S_IMODE(each.stat().st_mode) for each in (path, *runtime.glob("*/*.json"))]

    path, place, modes = with_inbox(folder, look)

    assert modes == [0o600, 0o600]
    assert (place.host, place.pid) == ("127.0.0.1", os.getpid())
    assert place.recording == str(folder / "session.jsonl")
    assert len(place.token) > 40
    assert not path.exists()
    assert list(runtime.glob("*/*.json")) == []


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (
            lambda path: request(path, "pass", token=read_endpoint(path).token[::-1]),
            "token is not of this capture",
        ),
        (lambda path: request(path, "pass", token="é"), "token is not of this capture"),  # noqa: S106 - a wrong one
        (lambda path: request(path, "pass")[:-1], "no whole line"),
        (lambda _: b"hello\n", "no request came"),
        (lambda _: b'{"token":1,"words":[]}\n', "no request came"),
        (lambda _: b'{"token":"x","words":["\\ud800x"]}\n', "no request came"),
        (lambda _: b"[" * 60_000 + b"\n", "no request came"),
        (lambda _: b"\xff\xfe\n", "no request came"),
        (lambda _: b"x" * (LONGEST + 100), "bytes came"),
    ],
)
def test_whatever_else_comes_is_refused_and_the_next_word_is_heard(
    folder: Path, make: Callable[[Path], bytes], why: str
) -> None:
    heard = []

    async def hear(words: Any, stamp: int):
        heard.append(words)
        return Reply(ok=True)

    def work(path: Path) -> None:
        return exchange(path, make(path)), say(["pass"], inbox=path)

    refused, taken = with_inbox(folder, work, hear)

    assert refused["ok"] is False
    assert why in refused["refused"]
    assert taken.ok
    assert heard == [["pass"]]


def test_only_this_machine_reaches_it(folder: Path) -> None:
    """An inbox open to the network would also answer at every other address of this machine."""

    def work(path: Path) -> None:
        place = read_endpoint(path)
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.2", place.port), timeout=5).close()
        return place.host

    assert with_inbox(folder, work) == "127.0.0.1"


def test_who_says_nothing_is_not_waited_for(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "PATIENCE", 0.2)

    def work(path: Path) -> None:
        place = read_endpoint(path)
        with socket.create_connection((place.host, place.port), timeout=5) as link:
            return json.loads(link.makefile("rb").readline())

    assert with_inbox(folder, work)["refused"] == "no whole line came"


def test_more_than_a_few_at_a_time_are_refused(folder: Path) -> None:
    def work(path: Path) -> None:
        place = read_endpoint(path)
        silent = [socket.create_connection((place.host, place.port)) for _ in range(server.MOST)]
        try:
            return say(["pass"], inbox=path)
        finally:
            for link in silent:
                link.close()

    assert "talking at once" in with_inbox(folder, work).refused


def test_what_was_heard_is_answered_although_the_inbox_closes(folder: Path) -> None:
    """A stopping capture still acknowledges what it has written."""

    async def run():
        heard, written = asyncio.Event(), asyncio.Event()

        async def hear(words: Any, stamp: int):
            heard.set()
            await written.wait()
            return Reply(ok=True, seq=7)

        async with asyncio.TaskGroup() as group:
            async with open_inbox(folder, folder / "s.jsonl", "now", hear) as path:
                saying = group.create_task(asyncio.to_thread(say, ["pass"], inbox=path))
                idle = socket.create_connection((read_endpoint(path).host, read_endpoint(path).port))
                await heard.wait()
                asyncio.get_running_loop().call_later(0.1, written.set)
            idle.close()
        return saying.result()

    assert asyncio.run(run()).seq == 7


def test_a_second_capture_on_the_same_folder_is_refused_politely(folder: Path) -> None:
    async def second():
        async with open_inbox(folder, folder / "other.jsonl", "now", echo):
            pytest.fail("it was let in")

    def work(path: Path) -> None:
        with pytest.raises(AlreadyRunning, match=r"a capture runs here already, since 2026.*session\.jsonl"):
            asyncio.run(second())
        return say(["pass"], inbox=path).ok

    assert with_inbox(folder, work)


def test_files_of_a_killed_capture_do_not_stand_in_the_way(folder: Path, runtime: Path) -> None:
    dead = with_inbox(folder, lambda path: path.read_bytes())
    (folder / NAME).write_bytes(dead)
    (runtime / "tenths" / "1-1.json").write_bytes(dead)
    with pytest.raises(NoCapture, match="no capture is running"):
        find()
    with pytest.raises(NoCapture, match="no capture runs for this folder"):
        find(folder)
    with pytest.raises(NoCapture, match="has stopped"):
        say(["pass"], inbox=folder / NAME)

    assert with_inbox(folder, lambda _: say(["pass"], folder=folder)).ok
    assert list(runtime.glob("*/*.json")) == []


def test_words_find_the_only_capture_from_any_folder(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    assert with_inbox(folder, lambda _: say(["pass"])).ok


def test_of_two_captures_the_folder_decides(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir()
    two.mkdir()
    monkeypatch.chdir(tmp_path)

    def inner(path: Path):
        with pytest.raises(NoCapture, match=r"2 captures are running .*one.*two"):
            say(["pass"])
        monkeypatch.chdir(two)
        return say(["pass"]).said, say(["pass"], folder=one).said

    async def named(words: Any, stamp: int):
        return Reply(ok=True, said="two")

    def outer(path: Path):
        return with_inbox(two, inner, named)

    assert with_inbox(one, outer) == ("two", "pass")


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(AlreadyRunning, match="no inbox can be opened here"):
        with_inbox(tmp_path / "file", lambda _: None)


def test_too_many_words_are_not_even_sent(folder: Path) -> None:
    with pytest.raises(NoCapture, match="too much to say at once"):
        with_inbox(folder, lambda path: say(["x" * LONGEST], inbox=path))


@pytest.mark.parametrize("host", ["192.0.2.7", "example.org", "0.0.0.0"])  # noqa: S104 - none is connected to
def test_an_inbox_file_that_names_another_host_is_refused(tmp_path: Path, host: str) -> None:
    path = tmp_path / "inbox.json"
    place = {"host": host, "port": 9, "token": "x", "pid": 1, "recording": "r", "began": "now"}
    path.write_text(json.dumps(place))
    with pytest.raises(NoCapture, match="but a capture listens on"):
        say(["undo"], inbox=path)


def test_a_pipe_in_place_of_an_inbox_file_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "inbox.json")
    with pytest.raises(NoCapture, match="not a regular file"):
        read_endpoint(tmp_path / "inbox.json")


def test_after_a_folder_is_moved_lock_and_file_are_made_again_and_no_second_capture_begins(
    folder: Path,
) -> None:
    files = InboxFiles(folder)
    files.announce(Endpoint("127.0.0.1", 9, "x", 1, "session.jsonl", "now"))
    moved = folder.with_name("moved")
    folder.rename(moved)
    assert files.renew(folder / "session.jsonl") == ""
    folder.mkdir()
    assert files.renew(folder / "session-2.jsonl") == ""

    assert read_endpoint(files.path).recording == str(folder / "session-2.jsonl")
    for place in (folder, moved):
        with pytest.raises(AlreadyRunning):
            InboxFiles(place)
    files.close()
    assert not files.path.exists()
    InboxFiles(folder).close()


def test_a_second_capture_that_was_quicker_in_a_folder_made_again_is_told_of(folder: Path) -> None:
    files = InboxFiles(folder)
    files.announce(Endpoint("127.0.0.1", 9, "x", 1, "session.jsonl", "now"))
    folder.rename(folder.with_name("moved"))
    folder.mkdir()
    quicker = InboxFiles(folder)

    assert "is not its own now" in files.renew(folder / "session.jsonl")
    quicker.close()
    files.close()
