from __future__ import annotations

import re

import msgspec
import pytest

from dashboard.scene import Scene, Transport
from dashboard.views.grinding import asking, grinding
from dashboard.views.page import page

PLAY = Transport(playing=True, speed=1.0, position=0.0, length=1.0, events=1, afresh=False)


def ids(replay):
    plain = page(token="", run="", replay=replay).to_plotly_json()
    text = msgspec.json.encode(plain, enc_hook=lambda component: component.to_plotly_json()).decode()
    return set(re.findall(r'"id":"([^"]+)"', text))


@pytest.mark.parametrize("replay", [False, True])
def test_every_key_finds_its_element_on_the_page(ground, replay):
    scene = Scene("replay" if replay else "live", "a.jsonl", ground.state, transport=PLAY if replay else None)
    own = {"infeed-label", "infeed", "reject", "undo", "ack", "closed"} if replay else set()
    keys = {key.split("@")[0].removesuffix("[]") for key in grinding(scene)}

    assert keys - own <= ids(replay)


def test_what_is_shown_is_plain_data(ground):
    """It must cross to the browser as JSON and come out equal."""
    shown = grinding(Scene("live", "a.jsonl", ground.state, age=1.0))

    assert msgspec.json.decode(msgspec.json.encode(shown)) == shown


def test_the_units_are_the_jobs_until_somebody_asks_for_others(ground, session, sheet):
    inch = session({**sheet, "job": {"name": "Sleeve", "units": "in"}, "fit": sheet["fit"]})

    assert grinding(Scene("live", "a", ground.state))["units@data-units"] == "mm"
    assert grinding(Scene("live", "a", inch.state))["units@data-units"] == "in"
    assert grinding(Scene("live", "a", ground.state), "in")["units@data-units"] == "in"


def test_the_button_stands_ready_with_the_last_infeed_in_the_dials_own_habit(
    session, sheet, grinding_session
):
    """0.006 on diameter is 0.003 on a dial that reads radius."""
    radius = grinding_session(session({**sheet, "grinder": {"dial": "radius"}}), infeeds=[0.006, 0.0])

    assert asking(radius.state, "mm")["infeed@placeholder"] == "0.003"
    assert "radius" in asking(radius.state, "mm")["infeed-label"]


def test_reject_names_the_newest_reading_taken(ground):
    assert asking(ground.state, "mm")["reject@data-seq"] == str(ground.state.stations.taken.last.seq)


def test_before_anything_was_taken_there_is_nothing_to_reject(session):
    assert asking(session().state, "mm")["reject@data-seq"] is None


def test_a_scene_without_a_state_still_fills_the_page():
    assert grinding(Scene("waiting"))["say"] == "Waiting for a recording"
