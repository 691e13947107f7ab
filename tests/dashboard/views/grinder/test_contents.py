from __future__ import annotations

from itertools import islice
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.events import (
    Battery,
    Beat,
    Down,
    Event,
    Flag,
    Garbled,
    Instant,
    Master,
    Note,
    Other,
    Pass,
    Reading,
    Reject,
    Stage,
    Station,
    Up,
)
from capture.recording.reader import read
from capture.sheet.reader import job_of
from capture.state import replay
from capture.state import session as session_of
from dashboard.sources.scene import Scene
from dashboard.views.grinder.contents import asking, grinding

RECORDINGS = sorted(Path(__file__).parents[4].glob("recordings/*.jsonl"))
ODD = {
    "job": {"name": "Sleeve"},
    "fit": {"nominal": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "shaft": {"stations": [20, 80]},
    "gauge": [
        {"name": "mike", "measures": "diameter", "part": "shaft", "link": {"serial": "a"}},
        {"name": "probe", "measures": "temperature", "part": "shaft", "link": {"serial": "b"}},
    ],
}
"""A sheet with as little in it as may be."""


def test_what_is_shown_is_plain_data(ground):
    """It must cross to the browser as JSON and come out equal."""
    shown = grinding(Scene("live", "a.jsonl", ground.state, age=1.0), "mm")

    assert msgspec.json.decode(msgspec.json.encode(shown)) == shown


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
    assert grinding(Scene("waiting"), "mm")["say"] == "Waiting for a recording"


GAUGES = st.sampled_from(["mike", "probe", "stranger"])
LENGTHS = st.floats(-100.0, 100.0)
FACTS = st.one_of(
    st.builds(Reading, LENGTHS, st.sampled_from(["mm", "degC", "%"]), st.integers(0, 6), st.just("x")),
    st.builds(Garbled, st.text(max_size=9), st.text(max_size=9)),
    st.builds(Up, st.text(max_size=9)),
    st.builds(Down, st.text(max_size=9)),
    st.builds(Battery, st.floats(-10.0, 200.0)),
    st.builds(Pass, st.none() | st.floats(-0.01, 0.01)),
    st.builds(Station, st.sampled_from(["bore", "shaft"]), LENGTHS, LENGTHS),
    st.builds(Stage, st.text(max_size=9)),
    st.builds(Master, GAUGES, st.floats(1.0, 100.0), st.floats(0.0, 0.01)),
    st.builds(Reject, st.integers(0, 20), st.text(max_size=9)),
    st.builds(Note, st.text(max_size=9)),
    st.builds(
        Flag, st.sampled_from(["growing", "silent", "new"]), st.integers(0, 9), st.just(()), st.just({})
    ),
    st.just(Beat()),
    st.builds(Other, st.just("weather"), st.just({"rain": True})),
)


@settings(max_examples=60)
@given(said=st.lists(st.tuples(GAUGES, FACTS), max_size=14), units=st.sampled_from(["mm", "in"]))
def test_whatever_was_recorded_can_be_shown(said, units):
    """A recording of any sense or none: the page is drawn after every event, as plain data without NaN."""
    state = session_of.start(job_of(ODD))
    for seq, (source, fact) in enumerate(said):
        state = session_of.step(
            state, Event(seq, Instant(seq * 7_000_000_000, 1_772_442_847_000_000_000), source, fact)
        )
        shown = grinding(Scene("live", "a.jsonl", state, age=1.0), units)

        assert b"NaN" not in msgspec.json.encode(shown)
        assert msgspec.json.decode(msgspec.json.encode(shown)) == shown


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_every_recording_of_the_project_can_be_shown_at_any_event(path):
    """Of each its first part: to fold all of it, the grind is judged anew after every size."""
    recording = read(path)
    for event, state in islice(replay.replay_as_decided(job_of(recording.header.job), recording), 500):
        if event.seq % 7 == 0 or event.source == session_of.PROGRAM:
            for units in ("mm", "in"):
                assert grinding(Scene("live", path.name, state, age=1.0), units)["say"]
