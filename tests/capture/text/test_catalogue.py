"""Sentences with lengths: the same thing in the unit of a person, as each trade says it."""

from __future__ import annotations

import re
from pathlib import Path
from string import Formatter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.form.taper import SwivelGeometry, correct
from capture.metrology.message import Length, message
from capture.text.catalogue import SENTENCES, sentence
from capture.text.lengths import indicator, place, small

SOURCE = Path(__file__).parents[3] / "capture"


def test_a_movement_of_the_table_is_said_as_the_indicator_shows_it():
    """TAPER, derived: 0.0003 in over 8 in, read 24 in from the pivot, asks for 0.00045 in."""
    found = correct(
        [0.0, 8.0 * 25.4], [50.8, 50.8 + 0.0003 * 25.4], SwivelGeometry(0.0, 24.0 * 25.4, "+"), u=1e-5
    )

    assert "move the table 11.4 µm toward the wheel" in sentence(found.said[0], "mm")
    assert "(indicator +11.4 µm;" in sentence(found.said[0], "mm")
    assert "4.5 tenths toward the wheel" in sentence(found.said[0], "in")
    assert "(indicator +0.00045 in;" in sentence(found.said[0], "in")


@pytest.mark.parametrize(
    ("mm", "inch"),
    [(0.00254, "1.0 tenths"), (0.0254, "10.0 tenths"), (0.0001, "4 millionths"), (0.00001, "0.0 tenths")],
)
def test_a_tenth_is_a_tenth_of_a_thousandth_of_an_inch(mm, inch):
    """Trade: 0.0001 in; 2.54 µm by the definition of the inch. What it would round away is in millionths."""
    assert small(mm, "in") == inch


@given(st.floats(-0.1, 0.1))
def test_no_difference_is_said_to_be_nothing_in_inches_that_is_something_in_millimetres(mm):
    if not small(mm, "mm").startswith(("0.0", "-0.0")):
        assert not small(mm, "in").startswith("0.0")


def number(text):
    """Of inches, as they are said."""
    return float(text.removesuffix(" in").replace("−", "-"))


@given(st.floats(0.1, 300.0))
def test_a_place_in_inches_is_the_place(mm):
    assert number(place(mm, "in")) * 25.4 == pytest.approx(mm, abs=0.0128)


@given(st.floats(-1.0, 1.0))
def test_an_indicator_shows_the_same_movement_in_either_unit(mm):
    assert number(indicator(mm, "in")) * 25.4 == pytest.approx(mm, abs=0.00013)


def test_a_roughness_is_called_by_its_pair_of_preferred_values():
    """ASME B46.1 pairs 0.8 µm with 32 µin, 1.6 µm with 63 µin (from memory)."""
    finishes = [message("plate.finish", finish=Length(um / 1000, "roughness")) for um in (0.8, 1.6)]

    assert ["32 µin Ra" in sentence(finishes[0], "in"), "63 µin Ra" in sentence(finishes[1], "in")] == [
        True
    ] * 2
    assert "0.8 µm Ra" in sentence(finishes[0], "mm")


def test_no_sentence_carries_a_unit_of_length_of_its_own():
    for name, text in SENTENCES.items():
        assert not re.search(r"\b(mm|µm|µin|tenths|thou)\b", re.sub(r"\{[^}]*\}", "", text)), name


def test_every_sentence_is_said_somewhere():
    """A name that nobody says is a sentence that nobody hears."""
    names = re.compile(r'"((?:[a-z]+\.[a-z0-9-]+)|toward|away)"')
    sources = [
        *SOURCE.rglob("*.py"),
        SOURCE.parent / "dashboard/sources/fit_findings.py",
    ]
    told = [path for path in sources if path.name not in {"catalogue.py", "coach_sentences.py"}]

    assert set(SENTENCES) <= {name for path in told for name in names.findall(path.read_text("utf-8"))}


def test_every_sentence_that_is_said_can_be_made():
    """Each name with the figures that are given with it: none is missing, none is too many."""
    given = re.compile(r'\bmessage\(\s*"([a-z.0-9-]+)"((?:[^()]|\((?:[^()]|\([^()]*\))*\))*)\)')
    for path in SOURCE.rglob("*.py"):
        for name, rest in given.findall(path.read_text("utf-8")):
            if "**" in rest or path.name in {"message.py", "catalogue.py"}:
                continue
            fields = {field for _, field, _, _ in Formatter().parse(SENTENCES[name]) if field}
            own = re.sub(r"\((?:[^()]|\([^()]*\))*\)", "", "," + rest)
            assert fields == set(re.findall(r",\s*(\w+)=", own)), name
