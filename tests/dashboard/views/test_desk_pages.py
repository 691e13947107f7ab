"""When the desk's pages are worked out anew: when what they say may have changed, and not at every beat."""

from __future__ import annotations

import pytest

from capture.events import Beat
from dashboard.pages import PAGES
from dashboard.scene import Scene
from dashboard.views.desk_pages import PAGES as DESK
from dashboard.views.desk_pages import grown, opening, settled


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


@pytest.mark.parametrize("page", DESK, ids=lambda page: page.name)
def test_every_page_draws_before_there_is_a_recording(page):
    shown = page.draw(Scene("waiting"), "mm")

    assert list(shown) == [f"{page.name}-key@data-key"]
    assert page.name in [one.name for one in PAGES]
