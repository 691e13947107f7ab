"""The cautions stand where they are needed (common practice, no source, except where each says so)."""

from __future__ import annotations

import pytest

from capture.events import Pass, Reading
from capture.metrology.cautions import caution
from dashboard.views.grinder.safety import AT_THE_GRINDER, moment, safety


def test_before_the_first_size_and_after_each_pass_it_says_how_to_measure(session, sheet):
    live = session(sheet)
    assert moment(live.state, "mm") == "measuring"

    live.say("mike", Reading(55.03, "mm", 4, ""), 10.0)
    assert moment(live.state, "mm") == "wheel start"

    live.say("person", Pass(0.004), 20.0)
    assert moment(live.state, "mm") == "measuring"
    assert "work stopped" in safety(live.state, "mm")["safety-now"]

    live.say("mike", Reading(55.028, "mm", 4, ""), 30.0)
    assert moment(live.state, "mm") == "rotating work"


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("measuring", ("wheel drawn clear", "work stopped")),
        ("rotating work", ("No gloves", "loose sleeves")),
        ("wheel start", ("stand aside",)),
        ("between centres", ("centres", "dog tight")),
        ("mist", ("mist extracted",)),
        ("chromium swarf", ("dust and mist",)),
        ("cracks after grinding", ("cracks", "penetrant")),
    ],
)
def test_each_caution_is_there_and_defers_to_local_codes(key, words):
    text = str(caution(key).text)

    assert key in AT_THE_GRINDER
    assert all(word in text for word in words)
    assert "ocal codes" in text


def test_the_list_has_the_source_of_each_with_how_sure_that_is(ground):
    rows = safety(ground.state, "mm")["safety[]"]

    assert len(rows) == len(AT_THE_GRINDER)
    assert all(";" in row[1][0] for row in rows)
