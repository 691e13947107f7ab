"""The inbox: words of the same user only, bounded, answered when they are on disk."""

from __future__ import annotations

import asyncio
import json
import os
import socket
import stat

import pytest

from capture.links import inbox
from capture.links.inbox import NoCapture, Reply, Taken, find, open_inbox, read_place, say


@pytest.fixture(autouse=True)
def runtime(tmp_path, monkeypatch):
    """A runtime folder of the test's own."""
    folder = tmp_path / "runtime"
    folder.mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    return folder


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "job"
    folder.mkdir()
    return folder


async def echo(words, stamp):
    return Reply(ok=True, seq=int(stamp > 0), said=" ".join(words))


def with_inbox(folder, work, hear=echo):
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


def exchange(path, request):
    place = read_place(path)
    with socket.create_connection((place.host, place.port), timeout=5) as link:
        link.sendall(request)
        link.shutdown(socket.SHUT_WR)
        return json.loads(link.makefile("rb").readline())


def request(path, *words, token=None):
    return json.dumps({"token": token or read_place(path).token, "words": words}).encode() + b"\n"


def test_words_arrive_and_are_answered(folder):
    reply = with_inbox(folder, lambda path: say(["note", "µ – \n ok"], inbox=path))

    assert reply == Reply(ok=True, seq=1, said="note µ – \n ok")


def test_only_the_user_can_read_the_token_and_it_is_gone_afterwards(folder, runtime):
    def look(path):
        place = read_place(path)
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
        (lambda path: request(path, "pass", token="x" * 43), "token is not of this capture"),
        (lambda path: request(path, "pass", token="é"), "token is not of this capture"),
        (lambda path: request(path, "pass")[:-1], "no whole line"),
        (lambda path: b"hello\n", "no request came"),
        (lambda path: b'{"token":1,"words":[]}\n', "no request came"),
        (lambda path: b'{"token":"x","words":["\\ud800x"]}\n', "no request came"),
        (lambda path: b"[" * 60_000 + b"\n", "no request came"),
        (lambda path: b"\xff\xfe\n", "no request came"),
        (lambda path: b"x" * (inbox.LONGEST + 100), "bytes came"),
    ],
)
def test_whatever_else_comes_is_refused_and_the_next_word_is_heard(folder, make, why):
    heard = []

    async def hear(words, stamp):
        heard.append(words)
        return Reply(ok=True)

    def work(path):
        return exchange(path, make(path)), say(["pass"], inbox=path)

    refused, taken = with_inbox(folder, work, hear)

    assert refused["ok"] is False
    assert why in refused["refused"]
    assert taken.ok
    assert heard == [["pass"]]


def test_who_says_nothing_is_not_waited_for(folder, monkeypatch):
    monkeypatch.setattr(inbox, "PATIENCE", 0.2)

    def work(path):
        place = read_place(path)
        with socket.create_connection((place.host, place.port), timeout=5) as link:
            return json.loads(link.makefile("rb").readline())

    assert with_inbox(folder, work)["refused"] == "no whole line came"


def test_more_than_a_few_at_a_time_are_refused(folder):
    def work(path):
        place = read_place(path)
        silent = [socket.create_connection((place.host, place.port)) for _ in range(inbox.MOST)]
        try:
            return say(["pass"], inbox=path)
        finally:
            for link in silent:
                link.close()

    assert "talking at once" in with_inbox(folder, work).refused


def test_what_was_heard_is_answered_although_the_inbox_closes(folder):
    """A stopping capture still acknowledges what it has written."""

    async def run():
        heard, written = asyncio.Event(), asyncio.Event()

        async def hear(words, stamp):
            heard.set()
            await written.wait()
            return Reply(ok=True, seq=7)

        async with asyncio.TaskGroup() as group:
            async with open_inbox(folder, folder / "s.jsonl", "now", hear) as path:
                saying = group.create_task(asyncio.to_thread(say, ["pass"], inbox=path))
                idle = socket.create_connection((read_place(path).host, read_place(path).port))
                await heard.wait()
                asyncio.get_running_loop().call_later(0.1, written.set)
            idle.close()
        return saying.result()

    assert asyncio.run(run()).seq == 7


def test_a_second_capture_on_the_same_folder_is_refused_politely(folder):
    async def second():
        async with open_inbox(folder, folder / "other.jsonl", "now", echo):
            pytest.fail("it was let in")

    def work(path):
        with pytest.raises(Taken, match=r"a capture runs here already, since 2026.*session\.jsonl"):
            asyncio.run(second())
        return say(["pass"], inbox=path).ok

    assert with_inbox(folder, work)


def test_files_of_a_killed_capture_do_not_stand_in_the_way(folder, runtime):
    dead = with_inbox(folder, lambda path: path.read_bytes())
    (folder / inbox.NAME).write_bytes(dead)
    (runtime / "tenths" / "1-1.json").write_bytes(dead)
    with pytest.raises(NoCapture, match="no capture is running"):
        find()
    with pytest.raises(NoCapture, match="no capture runs for this folder"):
        find(folder)
    with pytest.raises(NoCapture, match="has stopped"):
        say(["pass"], inbox=folder / inbox.NAME)

    assert with_inbox(folder, lambda path: say(["pass"], folder=folder)).ok
    assert list(runtime.glob("*/*.json")) == []


def test_words_find_the_only_capture_from_any_folder(folder, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    assert with_inbox(folder, lambda path: say(["pass"])).ok


def test_of_two_captures_the_folder_decides(tmp_path, monkeypatch):
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir()
    two.mkdir()
    monkeypatch.chdir(tmp_path)

    def inner(path):
        with pytest.raises(NoCapture, match=r"2 captures are running .*one.*two"):
            say(["pass"])
        monkeypatch.chdir(two)
        return say(["pass"]).said, say(["pass"], folder=one).said

    async def named(words, stamp):
        return Reply(ok=True, said="two")

    def outer(path):
        return with_inbox(two, inner, named)

    assert with_inbox(one, outer) == ("two", "pass")


def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(Taken, match="no inbox can be opened here"):
        with_inbox(tmp_path / "file", lambda path: None)


def test_too_many_words_are_not_even_sent(folder):
    with pytest.raises(NoCapture, match="too much to say at once"):
        with_inbox(folder, lambda path: say(["x" * inbox.LONGEST], inbox=path))
