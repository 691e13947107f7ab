"""The page Roundness: every lobe has its line, those not seen are named first, and the turns are drawn."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from capture.analysis.roundness.roundness_findings import places_of
from capture.recording.reader import read
from capture.sheet.reader import job_of
from capture.state import replay
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.analysis.roundness import roundness_body, roundness_page, turned

RECORDING = Path(__file__).parents[4] / "recordings" / "round.jsonl"


def text_of(shown) -> str:
    return json.dumps(shown, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


@pytest.fixture(scope="module")
def state():
    recording = read(RECORDING)
    return replay.state_at_end(job_of(recording.header.job), recording)


@pytest.fixture(scope="module")
def shown(state):
    return text_of(roundness_body(places_of(state, state.job), None, "mm", "light"))


def test_what_is_not_seen_is_named_before_any_figure(shown):
    """A V of 90 and one of 108 degrees both pass nine lobes by (ISO 4292:1985, summit method)."""
    assert "lobes not seen by this set-up: 9" in shown.lower()
    assert shown.lower().index("lobes not seen") < shown.index(word("roundness.sum"))
    assert word("roundness.not-seen", why=word("roundness.contacts")) in shown


def test_every_lobe_from_2_to_15_has_its_line(shown):
    due = json.loads(RECORDING.with_suffix(".found.json").read_text("utf-8"))["lobes"]

    assert shown.count(word("roundness.seen")) == len(due)
    assert shown.count(word("roundness.seen")) + shown.count(word("roundness.not-clear")) == 13
    assert word("roundness.not-seen", why="") in shown


def test_the_indicator_over_the_turns_is_drawn_with_what_was_left_out(state, shown):
    (place,) = places_of(state, state.job)

    for run in place.runs:
        assert sum(one.counts for one in run.drawn) == run.readings - run.left_out
        assert any(not one.counts for one in run.drawn), "there is a keyway"
        assert run.drawn[-1].turn - run.drawn[0].turn == pytest.approx(run.turns, abs=0.01)
    assert shown.count(word("roundness.left-out")) == len(place.runs)


def test_in_inches_no_micrometre_is_shown(state):
    assert "µm" not in text_of(roundness_body(places_of(state, state.job), None, "in", "dark"))


def test_nothing_turned_yet_is_said_and_a_run_under_way_is_counted():
    assert word("roundness.none") in text_of(roundness_body((), None, "mm", "light"))
    assert "1,200 readings" in text_of(roundness_body((), 1200, "mm", "light"))


def test_it_is_worked_out_anew_when_a_run_ends_and_not_at_every_reading(state):
    run = state.rounds.runs[-1]
    before = turned(Scene("live", "round.jsonl", state))

    assert str(run.done) in before
    assert turned(Scene("live", "round.jsonl", state)) == before
    assert turned(Scene("waiting")) != before


def test_its_buttons_say_words_that_the_capture_takes():
    text = text_of(roundness_page())

    for words in (["round"], ["mask"], ["turn"], ["round", "done"]):
        assert json.dumps(json.dumps(words))[1:-1] in text
