"""The page Steps: every check can be said from it, and the drawing shows where pivot and indicator stand."""

from __future__ import annotations

import copy
import json
import re

import pytest

from capture.analysis.steps.job_steps import steps_of
from capture.events import Checked, Clamp, Picture, Tried
from capture.report.setup_drawing import drawing_text, setup_drawing
from capture.state.steps.step_words import CHECKS, FEELS
from capture.state.words.commands import parse_command
from dashboard.views.analysis.steps import steps_body, steps_page


def text_of(shown):
    return json.dumps(shown, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def test_each_check_has_buttons_whose_words_the_capture_takes(session, sheet):
    live = session(sheet)
    shown = text_of(steps_body(steps_of(live.state), live.job, "mm"))

    said = [
        json.loads(json.loads(f'"{one}"')) for one in re.findall(r'"data-say": "((?:[^"\\]|\\.)*)"', shown)
    ]

    assert len(said) == 3 * len(CHECKS)
    assert {parse_command(words, live.state).what for words in said} == set(CHECKS)
    assert {parse_command(words, live.state).result for words in said} == {"ok", "not ok", "not due"}


def test_what_was_said_stands_on_the_page(session, sheet):
    live = session(sheet)
    live.say("person", Checked("dog", "not ok", "loose"), 10.0)
    live.say("person", Clamp("locked"), 20.0)
    live.say("person", Tried(60.0, 90.0, "binds", 20.5, "dry"), 30.0)
    live.say("person", Picture("0123456789abcdef.jpg", "0123456789abcdef" * 4, 10, "keyway"), 40.0)

    shown = text_of(steps_body(steps_of(live.state), live.job, "mm"))

    for words in (
        "not ok: loose",
        "part is held: locked",
        "binds",
        "dry 20.5 °C",
        "keyway (0123456789abcdef.jpg)",
    ):
        assert words in shown


def test_the_form_tells_the_five_words():
    shown = text_of(steps_page())

    assert all(feel in shown for feel in FEELS)


@pytest.mark.parametrize(("toward", "side"), [("+", "toward the wheel"), ("-", "away from the wheel")])
def test_pivot_and_indicator_are_drawn_where_they_stand(session, sheet, toward, side):
    """Places along the drawing keep their order and their distances: 140 of 740 mm is 19 % of the way."""
    sheet = copy.deepcopy(sheet)
    sheet["grinder"] |= {"swivel": {"pivot": 140.0, "reading_at": 740.0, "toward_wheel": toward}}
    job = session(sheet).job
    drawn = setup_drawing(job, "mm")

    pivot = float(re.search(r'<circle cx="([\d.]+)"', drawn)[1])
    indicator = float(re.search(r'<polyline points="[\d.]+,[\d.]+ ([\d.]+),', drawn)[1])
    assert (pivot - 60) / (indicator - 60) == pytest.approx(140 / 740, abs=1e-3)
    assert side in drawing_text(job, "mm")


def test_without_a_swivel_nothing_is_drawn(session, sheet):
    assert setup_drawing(session(sheet).job, "mm") == ""
