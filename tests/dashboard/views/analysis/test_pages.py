"""When the pages on request are worked out anew: when they may say something else, not at every beat."""

from __future__ import annotations

import pytest

from capture.events import Beat
from dashboard.sources.scene import Scene, Transport
from dashboard.views.analysis.pages import PAGES as PROGRAM
from dashboard.views.analysis.pages import grown, opening, settled
from dashboard.views.analysis.readings import marks
from dashboard.views.registry import PAGES


def scene(session, **more):
    return Scene("live", "sleeve.jsonl", session.state, **more)


def test_a_beat_changes_nothing_and_a_reading_that_is_taken_does(session, reading):
    one = session()
    before = settled(scene(one))
    one.say("daemon", Beat(), 1.0)
    beat = settled(scene(one))
    one.say("mike", reading(55.01), 2.0)
    one.say("mike", reading(55.01), 3.0)

    assert beat == before
    assert settled(scene(one)) != before


def test_what_is_long_in_the_working_changes_with_the_recording_alone(session, reading):
    one = session()
    before = opening(scene(one))
    one.say("mike", reading(55.01), 2.0)

    assert opening(scene(one)) == before
    assert opening(Scene("live", "other.jsonl", one.state)) != before


def test_raw_readings_are_asked_for_as_they_grow(session, reading):
    one = session()
    before = grown(scene(one))
    for n in range(120):
        one.say("mike", reading(55.01), 1.0 + n)

    assert grown(scene(one)) != before


@pytest.mark.parametrize("page", PROGRAM, ids=lambda page: page.name)
def test_every_page_draws_before_there_is_a_recording(page):
    shown = page.draw(Scene("waiting"), "mm")

    assert next(iter(shown)) == f"{page.name}-key@data-key"
    assert page.name in [one.name for one in PAGES]


def test_the_page_of_readings_says_what_they_are_not(session):
    """Live, of now, of a gauge: what is none of it is marked, as everywhere on the screen."""
    one = session()
    play = Transport(playing=True, speed=1.0, position=90.0, length=100.0, redecided=False)
    replayed = marks(Scene("replay", "sleeve.jsonl", one.state, transport=play))
    old = marks(Scene("old", "sleeve.jsonl", one.state, age=7200.0))
    job = dict(one.header.job)
    job["job"] = {"name": "Sleeve"}
    live = marks(Scene("live", "sleeve.jsonl", session(job).state, age=1.0))

    assert [cells[0][0][:10] for cells in replayed["readings-marks[]"]] == ["▶ Replayed", "◇ Simulate"]
    assert "0:01:30" in replayed["readings-marks[]"][0][0][0]
    assert (replayed["readings-now@hidden"], replayed["readings-now@--now"]) == (None, "1.5000")
    assert old["readings-marks[]"][0][0][0] == "◷ Old: nothing has come for 2 h."
    assert (live["readings-marks[]"], live["readings-now@hidden"]) == ([], "")
