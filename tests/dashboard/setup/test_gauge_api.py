"""The roads of the gauges' page: by whom, for what, and a whole lesson with the real child on a real port."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import tty

import pytest
from fastapi import FastAPI
from msgspec import json

from capture.events import Up
from dashboard.setup import command_child, gauge_api
from dashboard.setup.gauge_api import GaugeApi
from dashboard.setup.sheet_api import SheetApi
from dashboard.sources.feed import Feed
from dashboard.sources.player import Player
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw
from dashboard.web.api import LiveApi

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
ROADS = (
    "/gauges/look",
    "/gauges/offers",
    "/teach/begin",
    "/teach/news",
    "/teach/say",
    "/teach/keep",
    "/teach/end",
)
SHEET = '[job]\nname = "Sleeve"\n'


@pytest.fixture
def gauge():
    """The near end of a gauge's cable, and how to send from its far end."""
    master, slave = pty.openpty()
    tty.setraw(slave)

    class Gauge:
        port = os.ttyname(slave)

        def send(self, data):
            os.write(master, data)

    yield Gauge()
    os.close(master)
    os.close(slave)


@pytest.fixture
def shop(tmp_path, session, sheet, gauge, monkeypatch):
    """A folder with a sheet, and a recording of a job whose gauge is on that cable."""
    monkeypatch.setattr(gauge_api, "LOOK", ("gauges", "--no-bluetooth"))
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "sleeve.toml").write_text(SHEET, "utf-8")
    job = {**sheet, "gauge": [{**sheet["gauge"][0], "link": {"serial": gauge.port}}]}
    (folder / "sleeve.jsonl").write_bytes(session(job).text())
    return folder


class Shown:
    """The roads of one dashboard, asked as its page asks."""

    def __init__(self, asked, source, folder) -> None:
        self.server, self.source = FastAPI(), source
        routes, library = LiveApi(source), RecordingLibrary(folder)
        self.token, self._asked = routes.token, asked
        self.routes = GaugeApi(source, library, SheetApi(library, routes), routes)
        self.routes.lay(self.server)

    def post(self, path, what=None, *, token=None, body=None):
        content = json.encode(what or {}) if body is None else body
        headers = [("x-tenths-token", self.token if token is None else token)]
        return self._asked(self.server, path, method="POST", headers=headers, body=content)

    def ask(self, path, **what):
        return self.post(path, what).json()

    def look(self):
        """The way to the gauge of the job."""
        found = self.ask("/gauges/look")
        assert found["ok"], found
        return next(way["key"] for way in found["ways"] if way["gauge"] == "mike")

    def until(self, lesson, kind, **wanted):
        since = 0
        for _ in range(40):
            news = self.ask("/teach/news", lesson=lesson, since=since)
            since = news["version"]
            one = news["news"].get(kind)
            if one is not None and wanted.items() <= one.items():
                return one
        raise AssertionError(f"no {kind} with {wanted}")


@pytest.fixture
def page(asked, shop):
    feed = Feed(shop / "sleeve.jsonl", SceneStore(draw), {})
    for _ in range(3):
        while feed.turn():
            pass
    shown = Shown(asked, feed, shop)
    yield shown
    if shown.routes._lesson is not None:
        shown.routes._lesson.end()


def files(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("path", ROADS)
def test_without_the_pages_token_nothing_is_started_or_told(page, path, monkeypatch):
    monkeypatch.setattr(command_child, "TENTHS", ("no-such-command",))

    assert page.post(path, token="wrong").status == 403  # noqa: S106 - it is none


@pytest.mark.parametrize("path", ROADS[1:])
def test_a_body_that_is_no_wish_is_refused(page, path):
    assert page.post(path, body=b'{"lesson": 7}').status == 400


@pytest.mark.parametrize("key", ["/dev/ttyS0", "usb:0403:6001", "socket://127.0.0.1:9", "1-0", "", "../x"])
def test_only_what_the_last_look_has_listed_can_be_opened(page, key):
    """A request names a key, never a device."""
    for path in ("/teach/begin", "/gauges/offers", "/teach/keep"):
        answer = page.post(path, {"key": key, "name": "mike", "measures": "bore"})

        assert answer.status == 409
        assert "no longer in sight" in answer.text


def test_a_key_of_an_older_look_opens_nothing(page):
    key = page.look()
    page.look()

    assert "no longer in sight" in page.ask("/teach/begin", key=key)["refused"]


def test_a_wish_that_the_child_does_not_know_is_never_given_to_it(page):
    lesson = page.ask("/teach/begin", key=page.look())["lesson"]
    for wish in (
        {"do": "open", "port": "/dev/ttyS0"},
        {"do": "take", "shown": "1", "unit": "mm", "out": "x"},
        7,
    ):
        assert page.post("/teach/say", {"lesson": lesson, "wish": wish}).status == 400


def test_a_port_that_the_running_capture_reads_is_not_opened(page, session, sheet, gauge, monkeypatch):
    one = session({**sheet, "gauge": [{**sheet["gauge"][0], "link": {"serial": gauge.port}}]})
    one.say("mike", Up("a cable"), 1.0)
    store = page.source.store
    monkeypatch.setattr(store, "scene", type(store.scene)("live", "now.jsonl", one.state, age=0.0))
    key = page.look()

    assert "mike is read by the running capture" in page.ask("/teach/begin", key=key)["refused"]


def test_of_a_recording_that_is_played_the_sheet_opens_nothing(asked, shop, gauge):
    """It may be anybody's recording: a port that it names is not listed for that."""
    player = Player(shop / "sleeve.jsonl", SceneStore(draw), {}, 1.0)
    player.load()
    player.turn()
    found = Shown(asked, player, shop).ask("/gauges/look")

    assert player.store.scene.state is not None
    assert gauge.port not in [way["title"] for way in found["ways"]]


@pytest.mark.parametrize(
    "spec", ["/etc/hostname", "/nonexistent", "socket://127.0.0.1:9", "spy:///dev/null?file=/x", "."]
)
def test_a_sheet_names_no_port_that_is_none(spec):
    assert gauge_api._device(spec) == ""


def test_one_lesson_at_a_time_and_only_its_own_page_steers_it(page, monkeypatch):
    key = page.look()
    first = page.ask("/teach/begin", key=key)["lesson"]
    second = page.ask("/teach/begin", key=key)
    stranger = page.ask("/teach/say", lesson="x" * len(first), wish={"do": "back"})
    monkeypatch.setattr(gauge_api, "OTHERS", 0.0)
    third = page.ask("/teach/begin", key=key)

    assert "in another window" in second["refused"]
    assert "over" in stranger["refused"]
    assert third["ok"]
    assert "over" in page.ask("/teach/news", lesson=first)["refused"]


def test_a_gauge_is_taught_compared_kept_and_nothing_is_written_over(page, shop, gauge):
    key = page.look()
    lesson = page.ask("/teach/begin", key=key)["lesson"]
    page.until(lesson, "trouble", why="")
    keep = {
        "lesson": lesson,
        "name": "mike",
        "measures": "diameter",
        "step": "0.001",
        "unit": "mm",
    }
    for number, shown in enumerate(("123.456", "-98.765", "0.004")):
        gauge.send(f"V{float(shown):+09.3f}\r\n".encode())
        page.until(lesson, "came", since=12)
        if not number:
            page.until(lesson, "line", found=True)
        page.ask("/teach/say", lesson=lesson, wish={"do": "take", "shown": shown, "unit": "mm"})
        page.until(lesson, "answered", number=number + 1, why="")
    page.look()  # as another page may, in the middle of this lesson
    early = page.ask("/teach/keep", **keep)
    gauge.send(b"V+0055.120\r\n")
    page.until(lesson, "reads", shown="55.120")
    page.ask("/teach/say", lesson=lesson, wish={"do": "agree"})
    page.until(lesson, "step", agreed=1)
    wrong = page.ask(
        "/teach/keep", **{**keep, "name": "../x", "measures": "", "step": "much", "sheet": "no.toml"}
    )
    untouched = files(shop)
    kept = page.ask("/teach/keep", **{**keep, "sheet": "sleeve.toml"})
    again = page.ask("/teach/keep", **keep)

    assert "compared it with the display" in early["refused"]
    assert set(wrong["fields"]) == {"name", "measures", "step", "sheet"}
    assert untouched == ["sleeve.jsonl", "sleeve.toml"]
    assert kept["sheet"] == "sleeve.toml"
    assert files(shop) == ["mike.dialect.toml", "sleeve.jsonl", "sleeve.toml"]
    assert (shop / "sleeve.toml").read_text("utf-8") == SHEET + "\n" + kept["lines"]
    assert f'link = {{serial = "{gauge.port}"}}' in kept["lines"]
    assert "exists and is not overwritten" in again["fields"]["name"]
    assert page.ask("/teach/end", lesson=lesson) == {"ok": True}


def test_what_a_child_that_refuses_says_is_told(page, monkeypatch):
    monkeypatch.setattr(gauge_api, "LOOK", ("gauges", "--seconds", "soon"))

    assert "'soon' is not a valid float" in page.ask("/gauges/look")["refused"]


def test_a_dashboard_that_stops_waits_for_no_child(page, monkeypatch):
    page.source.store.closed = True
    monkeypatch.setattr(command_child, "TENTHS", (sys.executable, "-c", "import time; time.sleep(60)"))

    assert page.post("/gauges/look").status == 409


def test_a_lesson_dies_with_the_dashboard_however_that_dies(gauge):
    """The child holds the gauge's port: it must not outlive who started it."""
    script = (
        "import os, sys, time\n"
        "from dashboard.setup.command_child import LessonChild\n"
        f"lesson = LessonChild(['--serial', {gauge.port!r}])\n"
        "while not lesson.newest('trouble'): time.sleep(0.05)\n"
        "print(lesson._process.pid, flush=True)\n"
        "os.kill(os.getpid(), 9)\n"
    )
    killed = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    taught = int(killed.stdout)
    for _ in range(100):
        if not running(taught):
            break
        subprocess.run(["sleep", "0.1"], check=True)

    assert killed.returncode == -9
    assert not running(taught)


def running(number):
    try:
        with open(f"/proc/{number}/stat") as file:  # noqa: PTH123 - a file of the system
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
