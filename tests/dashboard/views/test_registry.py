from __future__ import annotations

import re
from itertools import islice
from pathlib import Path

import msgspec
import pytest
from dash import Dash

from capture.recording.reader import read
from capture.sheet.reader import job_of
from capture.state import replay as retold
from capture.state import session as session_of
from dashboard.pages.analysis import AnalysisPages
from dashboard.pages.compare import ComparePages
from dashboard.sources.feed import Feed
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.sources.scene import Scene, Transport
from dashboard.sources.scene_store import SceneStore
from dashboard.text.screen import WORDS
from dashboard.views.registry import PAGES, draw, named
from dashboard.web.documents.document import page
from dashboard.web.share import Share

PLAY = Transport(playing=True, speed=1.0, position=0.0, length=1.0, redecided=False)
NAMES = [one.name for one in PAGES]
SCRIPTS = {"voice", "rock"}
"""Keys that a script of its own takes, and no element."""
RECORDINGS = sorted(Path(__file__).parents[3].glob("recordings/*.jsonl"))


def ids(*, replay):
    """Of the document, which has the first page in it, and of each other when it is first opened."""
    plain = [page(token="", run="", replay=replay), *(one.layout() for one in PAGES[1:])]
    text = msgspec.json.encode(plain, enc_hook=lambda component: component.to_plotly_json()).decode()
    return re.findall(r'"id":"([^"]+)"', text)


@pytest.fixture(scope="module")
def rocked():
    """A bore session with a streaming gauge, after half of its events."""
    recording = read(next(path for path in RECORDINGS if path.stem == "bore"))
    *_, (_, state) = islice(retold.replay_as_decided(job_of(recording.header.job), recording), 2500)
    return state


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("replay", [False, True])
def test_every_key_finds_its_element_on_the_page(ground, rocked, name, replay):
    """A replay has no buttons to say words with, so their keys find nothing there."""
    own = set(ids(replay=False)) - set(ids(replay=True)) if replay else {"redecide", "marks", "scrub"}
    for state in (ground.state, rocked, session_of.start(ground.job)):
        scene = Scene("replay" if replay else "live", "a.jsonl", state, transport=PLAY if replay else None)
        keys = {re.split("[@#]", key)[0].removesuffix("[]") for key in draw(name, scene)}

        # A page that is worked out by its own callbacks alone has no element for its key.
        assert keys - own <= {*ids(replay=replay), *SCRIPTS, f"{name}-key"}


@pytest.mark.parametrize("replay", [False, True])
def test_no_two_elements_have_the_same_id(replay):
    assert len(ids(replay=replay)) == len(set(ids(replay=replay)))


@pytest.mark.parametrize("name", NAMES)
def test_what_a_page_shows_is_plain_data(ground, rocked, name):
    """It must cross to the browser as JSON and come out equal."""
    for state in (None, ground.state, rocked):
        shown = draw(name, Scene("live", "a.jsonl", state, age=1.0))

        assert msgspec.json.decode(msgspec.json.encode(shown)) == shown


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_every_recording_of_the_project_can_be_shown_on_every_page(path, name):
    """Of each its first part, in both units."""
    recording = read(path)
    for event, state in islice(retold.replay_as_decided(job_of(recording.header.job), recording), 400):
        if event.seq % 49 == 0 or event.source == session_of.PROGRAM:
            for units in ("mm", "in"):
                shown = draw(name, Scene("live", path.name, state, age=1.0), units)

                assert b"NaN" not in msgspec.json.encode(shown)


def test_the_units_are_the_jobs_until_somebody_asks_for_others(ground, session, sheet):
    inch = session({**sheet, "job": {"name": "Sleeve", "units": "in"}, "fit": sheet["fit"]})

    assert draw("grinding", Scene("live", "a", ground.state))["units@data-units"] == "mm"
    assert draw("grinding", Scene("live", "a", inch.state))["units@data-units"] == "in"
    assert draw("grinding", Scene("live", "a", ground.state), "in")["units@data-units"] == "in"


def test_a_page_that_is_not_there_is_the_first():
    assert named("nowhere") is PAGES[0]


def test_every_page_has_words_for_its_link():
    assert {f"page.{name}" for name in NAMES} <= WORDS.keys()


def test_the_document_comes_with_no_page_in_it_but_the_first():
    """What a browser has to build before its first picture is one page, not all of them."""
    plain = page(token="", run="", replay=False)
    text = msgspec.json.encode(plain, enc_hook=lambda component: component.to_plotly_json()).decode()

    found = set(re.findall(r'"id":"([^"]+)"', text))
    assert "trend" in found
    assert not {"bore-section", "readings-graph", "job-form"} & found


def test_what_dash_answers_is_on_some_page(recording):
    """Dash itself can't check it while pages come later: a callback whose element is nowhere never runs."""
    found = Dash("elements")
    source = Feed(recording, SceneStore(draw), {}, wall=lambda: 0)
    AnalysisPages(source, RecordingLibrary(source.folder), Share()).lay(found)
    ComparePages(source, RecordingLibrary(source.folder)).lay(found)
    spoken = found._callback_list  # Dash has no other list of them

    asked = {one["id"] for call in spoken for one in (*call["inputs"], *call["state"])}
    answered = {out.split(".")[0] for call in spoken for out in call["output"].strip(".").split("...")}
    assert asked | answered <= set(ids(replay=False))
