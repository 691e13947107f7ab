from __future__ import annotations

import re

from capture.analysis.grind.next_step import coach_of
from capture.events import Pass
from dashboard.views.grinder.coach import coach


def test_the_coachs_sentence_is_shown_as_it_was_made(ground):
    made, shown = coach_of(ground.state), coach(ground.state, "mm")

    assert shown["coach-say"].lower() == made["say"].lower()
    assert [row[0][0].lower() for row in shown["coach-more[]"]] == [line.lower() for line in made["more"]]
    assert shown["coach@data-state"] == made["step"]
    assert "eyes and ears" in shown["coach-caution"]


def test_after_a_pass_it_asks_for_its_measurement(ground):
    ground.say("person", Pass(0.002), 900.0)

    assert coach(ground.state, "mm")["coach-say"] == "Measure this pass"


def test_the_lengths_of_advice_are_in_the_units_of_the_screen(session, sheet, grinding_session):
    """Before the first pass there is infeed to advise: 25.4 µm are 10 tenths (1 in = 25.4 mm, exact)."""
    ready = grinding_session(session(), infeeds=[])
    metric, inch = (coach(ready.state, units)["coach-say"] for units in ("mm", "in"))
    told = [float(re.search(r"\(([\d.]+) (?:µm|tenths) on diameter", text)[1]) for text in (metric, inch)]

    assert "µm" in metric
    assert "tenths" in inch
    assert abs(told[0] / 2.54 - told[1]) < 0.06


def test_without_a_size_there_is_no_advice(session):
    shown = coach(session().state, "mm")

    assert shown["coach@data-state"] == "none"
    assert "Advice comes" in shown["coach-say"]
