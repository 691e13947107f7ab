from __future__ import annotations

import msgspec
import pytest
from fastapi import FastAPI

from capture.events import Note, Pass, Reject
from dashboard.sources.feed import Feed
from dashboard.sources.player import Player
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw
from dashboard.web.api import LONGEST, LiveApi


@pytest.fixture
def post(asked):
    """Posts to the roads of a source, with the page's token unless told otherwise."""

    def one(source, path, what=None, *, body=None, token=True):
        server, routes = FastAPI(), LiveApi(source)
        routes.lay(server)
        content = msgspec.json.encode(what) if body is None else body
        headers = [("x-tenths-token", routes.token)] if token else []
        return asked(server, path, method="POST", headers=headers, body=content)

    return one


def settled(path, session):
    feed = Feed(path, SceneStore(draw), {}, wall=lambda: session.events[-1].at.wall)
    for _ in range(3):
        while feed.turn():
            pass
    return feed


def test_words_become_facts_of_the_recording(recording, ground, post, capture_of):
    with capture_of(recording, ground):
        answer = post(settled(recording, ground), "/say", {"words": ["pass", "0.004"]})

    assert answer.json()["said"] == "pass, infeed 0.0040 mm on diameter"
    assert ground.events[answer.json()["seq"]].fact == Pass(0.004)


def test_a_length_said_in_the_units_of_the_screen_means_the_same(recording, ground, post, capture_of):
    with capture_of(recording, ground):
        post(settled(recording, ground), "/say", {"words": ["pass", "0.0001"], "units": "in"})

    passes = [event.fact.infeed for event in ground.events if isinstance(event.fact, Pass)]
    assert passes[-1] == pytest.approx(0.00254)


def test_reject_and_undo_set_aside(recording, ground, post, capture_of):
    newest = ground.state.stations.taken.last.seq
    with capture_of(recording, ground):
        feed = settled(recording, ground)
        post(feed, "/say", {"words": ["reject", str(newest), "rejected at the screen"]})
        post(feed, "/say", {"words": ["undo"]})

    rejects = [event.fact for event in ground.events if isinstance(event.fact, Reject)]
    assert rejects[0].of == newest
    assert len(rejects) == 2
    assert newest not in ground.state.aside


def test_what_is_typed_goes_to_the_recording_as_it_is(recording, ground, post, capture_of):
    text = "<img src=x onerror=alert(1)> & 'quotes' – µm"
    with capture_of(recording, ground):
        post(settled(recording, ground), "/say", {"words": ["note", text]})

    assert ground.state.notes.last.fact == Note(text)


def test_what_the_capture_refuses_is_told(recording, ground, post, capture_of):
    with capture_of(recording, ground):
        answer = post(settled(recording, ground), "/say", {"words": ["pass", "much"]})

    assert answer.json() == {"ok": False, "refused": "infeed: came 'much', due a number"}


def test_without_a_capture_it_says_how_to_start_one(recording, ground, post):
    answer = post(settled(recording, ground), "/say", {"words": ["undo"]})

    assert answer.status == 409
    assert "tenths run" in answer.json()["refused"]


def test_a_capture_into_another_recording_is_not_spoken_to(recording, ground, session, post, capture_of):
    other = recording.with_name("other.jsonl")
    other.write_bytes(ground.text())
    before = len(ground.events)
    with capture_of(other, ground):
        answer = post(settled(recording, ground), "/say", {"words": ["undo"]})

    assert "other.jsonl" in answer.json()["refused"]
    assert len(ground.events) == before


@pytest.mark.parametrize("path", ["/say", "/play", "/newer"])
def test_without_the_pages_token_nothing_is_done(recording, ground, path, post, capture_of):
    with capture_of(recording, ground):
        before = len(ground.events)
        answer = post(settled(recording, ground), path, {"words": ["undo"]}, token=False)

    assert answer.status == 403
    assert len(ground.events) == before


@pytest.mark.parametrize("body", [b"", b"[]", b'{"words":"undo"}', b'{"words":[1]}', b"\xff", b"[" * 5000])
def test_what_is_no_request_is_refused_politely(recording, ground, body, post):
    answer = post(settled(recording, ground), "/say", body=body)

    assert answer.status == 400
    assert "not understood" in answer.json()["refused"]


def test_too_long_a_request_is_refused(recording, ground, post):
    answer = post(settled(recording, ground), "/say", body=b"x" * (LONGEST + 1))

    assert answer.status == 413


def test_to_a_replay_nothing_can_be_said(recording, post):
    answer = post(Player(recording, SceneStore(draw), {}, 1.0), "/say", {"words": ["undo"]})

    assert answer.status == 409


def test_a_wish_reaches_the_player(recording, post):
    player = Player(recording, SceneStore(draw), {}, 1.0)
    player.load()
    answer = post(player, "/play", {"do": "seek", "to": 0.5})
    player.turn()

    assert answer.json() == {"ok": True}
    assert player.store.scene.transport.position > 0.0


def test_a_live_page_cannot_be_played(recording, ground, post):
    assert post(settled(recording, ground), "/play", {"do": "play"}).status == 409


def test_health_tells_what_is_shown(recording, ground, asked):
    server = FastAPI()
    LiveApi(settled(recording, ground)).lay(server)
    answer = asked(server, "/health").json()

    assert answer == {"ok": True, "recording": "sleeve.jsonl", "kind": "live", "seq": 74, "age": 0.0}
