"""The home page's requests: only with the token, only in the folder, and a capture that a person can stop."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from fastapi import FastAPI
from msgspec import json

from capture.links.inbox.endpoint import NAME, Endpoint
from capture.recording.reader import read
from capture.sheet.reader import read_sheet
from dashboard.setup import capture_child
from dashboard.setup.home_api import EXAMPLES, HomeApi
from dashboard.setup.sheet_api import SheetApi
from dashboard.sources.feed import Feed
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw
from dashboard.web.api import LiveApi

BARE = """
[job]
name = "Bare"
[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "socket://127.0.0.1:9" }
"""
"""Its gauge is never there, and that is recorded."""
GOOD = Path(__file__).parents[3] / "recordings" / "good.jsonl"


@pytest.fixture
def shop(tmp_path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    yield folder
    capture_child.stop(folder)


@pytest.fixture
def ask(shop, asked):
    """Asks a home page of the folder *shop*, with the token unless told otherwise."""
    feed = Feed(shop, SceneStore(draw), {})
    server, shelf, roads = FastAPI(), RecordingLibrary(shop), LiveApi(feed)
    HomeApi(feed, shelf, SheetApi(shelf, roads), roads).lay(server)

    def one(path, what=None, *, token=True):
        if what is None:
            return asked(server, path).json()
        headers = [("x-tenths-token", roads.token)] if token else []
        return asked(server, path, method="POST", headers=headers, body=json.encode(what))

    one.feed = feed
    return one


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_is_a_sheet_without_a_fault_or_a_question(ask, shop, example):
    answer = ask("/home/new", {"example": example, "name": "new.toml"}).json()
    seen = ask("/home")

    assert answer == {"ok": True, "sheet": "new.toml"}
    assert read_sheet((shop / "new.toml").read_text("utf-8"), "new.toml")[0].gauges
    assert [(job["sheet"], job["faults"]) for job in seen["jobs"]] == [("new.toml", 0)]


@pytest.mark.parametrize(
    "name", ["", "../out.toml", "/etc/x.toml", ".hidden.toml", "con.toml", "a.txt", "a" * 200 + ".toml"]
)
def test_a_name_that_is_no_file_name_is_refused(ask, shop, name):
    answer = ask("/home/new", {"example": "bore-only", "name": name}).json()

    assert not answer["ok"]
    assert "write a file name" in answer["refused"]
    assert list(shop.parent.rglob("*.toml")) == []


def test_nothing_is_written_over(ask, shop):
    (shop / "old.toml").write_text("kept", "utf-8")

    assert not ask("/home/new", {"example": "bore-only", "name": "old.toml"}).json()["ok"]
    assert (shop / "old.toml").read_text("utf-8") == "kept"


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/home/new", {"example": "bore-only", "name": "new.toml"}),
        ("/home/start", {"sheet": "new.toml"}),
        ("/home/stop", {}),
        ("/home/show", {"recording": "good.jsonl"}),
    ],
)
def test_without_the_pages_token_nothing_is_done(ask, shop, path, body):
    assert ask(path, body, token=False).status == 403
    assert list(shop.iterdir()) == []


@pytest.mark.parametrize("name", ["missing.toml", "../outside.toml", "/etc/passwd"])
def test_a_sheet_outside_the_folder_is_not_captured(ask, shop, name):
    (shop.parent / "outside.toml").write_text('[job]\nname = "x"\n', "utf-8")

    assert not ask("/home/start", {"sheet": name}).json()["ok"]
    assert not ask("/home/show", {"recording": name}).json()["ok"]
    assert capture_child.running(shop) is None


def test_a_capture_is_started_once_stopped_and_gone_on_with(ask, shop):
    (shop / "bare.toml").write_text(BARE, "utf-8")

    began = ask("/home/start", {"sheet": "bare.toml"}).json()
    twice = ask("/home/start", {"sheet": "bare.toml"}).json()
    live = ask("/home")
    stopped = ask("/home/stop", {}).json()
    first = len(list(read(shop / began["recording"])))
    again = ask("/home/start", {"sheet": "bare.toml", "recording": began["recording"]}).json()
    ask("/home/stop", {})

    assert live["live"] == began["recording"]
    assert not twice["ok"]
    assert "a capture runs here already" in twice["refused"]
    assert stopped["ok"]
    assert again["recording"] == began["recording"]
    assert len(list(read(shop / began["recording"]))) > first
    assert capture_child.running(shop) is None


def test_a_folder_that_names_another_process_as_its_capture_does_not_end_it(ask, shop):
    """A folder may come from anybody, with an inbox file in it."""
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as other:
        with socket.create_server(("127.0.0.1", 0)) as listener:
            place = Endpoint("127.0.0.1", listener.getsockname()[1], "t", other.pid, "a.jsonl", "now")
            (shop / NAME).write_bytes(json.encode(place))
            answer = ask("/home/stop", {}).json()

        assert not answer["ok"]
        assert other.poll() is None
        other.kill()


def test_a_sheet_that_is_refused_says_so_in_its_own_words(ask, shop):
    (shop / "bad.toml").write_text('[job]\nnam = "x"\n[settings.form]\nbow = -1\n', "utf-8")

    answer = ask("/home/start", {"sheet": "bad.toml"}).json()
    (job,) = ask("/home")["jobs"]

    assert "job.name: missing" in answer["refused"]
    assert "settings.form.bow: came -1" in answer["refused"]
    assert job["faults"] == 3  # the name, the key that it was mistyped as, and the bow


def test_a_recording_that_a_person_chose_stays_while_a_newer_one_is_offered(ask, shop):
    for name in ("a.jsonl", "b.jsonl"):
        shutil.copy(GOOD, shop / name)

    assert ask("/home/show", {"recording": "a.jsonl"}).json()["ok"]
    for _ in range(300):
        ask.feed.turn()
        ask.feed.look_at_once()

    assert ask.feed.path == shop.resolve() / "a.jsonl"
    assert ask.feed.store.scene.newer == "b.jsonl"


def test_a_file_that_is_no_recording_is_listed_as_unreadable(ask, shop):
    (shop / "odd.jsonl").write_bytes(b"\xff\x00 no header")

    (one,) = ask("/home")["recordings"]

    assert (one["name"], one["readable"]) == ("odd.jsonl", False)


def test_no_name_of_a_job_turns_writing_about(ask, shop):
    """U+202E (UAX #9) shows what follows backwards."""
    (shop / "bare.toml").write_text(BARE.replace("Bare", "Bare\u202e55.012"), "utf-8")
    head, _, lines = GOOD.read_text("utf-8").partition("\n")
    plain = json.decode(head)
    plain["job"]["job"]["name"] = "Sleeve\u202e55.012"
    (shop / "turned.jsonl").write_text(json.encode(plain).decode() + "\n" + lines, "utf-8")
    seen = ask("/home")

    assert seen["recordings"][0]["job"] == "Sleeve\ufffd55.012"
    assert seen["jobs"][0]["name"] == "Bare\ufffd55.012"
    assert "\u202e" not in str(seen)
