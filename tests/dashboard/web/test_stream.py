from __future__ import annotations

import asyncio

import msgspec
import pytest

from dashboard.sources.scene import Scene
from dashboard.sources.scene_store import SceneStore
from dashboard.web import stream as module
from dashboard.web.stream import stream


@pytest.fixture
def store(monkeypatch):
    """A store that shows a scene's name and a word that never changes; beats come at once."""
    monkeypatch.setattr(module, "LEAST_GAP", 0.0)
    monkeypatch.setattr(module, "HEARTBEAT", 0.0)
    return SceneStore(lambda _page, scene, units: {"name": scene.name, "units": units})


def listen(store, names, units=None):
    """What a browser hears while scenes of *names* are hung one after another."""

    async def heard() -> list[str]:
        store.open()
        messages = stream(store, "grinding", units, "run")
        said = []
        for name in names:
            store.publish(Scene("live", name))
            said.append((await anext(messages)).decode())
            if not said[1:]:
                said.append((await anext(messages)).decode())
        store.close()
        said += [message.decode() async for message in messages]
        return said

    return asyncio.run(heard())


def data(message):
    return msgspec.json.decode(message.split("data: ", 1)[1])


def test_a_browser_is_greeted_and_gets_the_whole_page_first(store):
    hello, first, *_ = listen(store, ["a"])

    assert "event: hello" in hello
    assert data(first) == {"name": "a", "units": None}


def test_then_only_what_changed(store):
    _, _, second = listen(store, ["a", "b"])[:3]

    assert data(second) == {"name": "b"}


def test_silence_is_a_beat(store):
    *_, last = listen(store, ["a", "a"])

    assert last.startswith("event: beat")


def test_each_browser_has_the_units_that_it_asked_for(store):
    assert data(listen(store, ["a"], "in")[1])["units"] == "in"


def test_a_browser_that_comes_back_gets_the_whole_page_again(store):
    listen(store, ["a", "b"])
    store.closed = False

    assert data(listen(store, ["b"])[1]) == {"name": "b", "units": None}


def test_the_stream_ends_when_the_dashboard_stops(store):
    """listen() would not come back if it did not."""
    assert len(listen(store, ["a", "b", "c"])) == 4


def test_what_changes_right_behind_a_beat_waits_for_no_gap(store, monkeypatch):
    gaps, sleep = [], asyncio.sleep

    async def counted(seconds):
        gaps.append(seconds)
        await sleep(0)

    monkeypatch.setattr(module.asyncio, "sleep", counted)
    _, first, beat, second = listen(store, ["a", "a", "b"])[:4]

    assert [data(first)["name"], beat, data(second)["name"]] == ["a", "event: beat\ndata:\n\n", "b"]
    assert len(gaps) == 2, "one behind each of the two pictures"
