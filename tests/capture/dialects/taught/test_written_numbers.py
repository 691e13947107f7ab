"""Numbers found in a text: the same by plainer patterns, and without going over a run again and again."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.taught.written_numbers import numbers

PLAINLY = {
    False: re.compile(r"([+-]?) *([0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)(?:[eE]([+-]?[0-9]{1,2})(?![0-9]))?"),
    True: re.compile(
        r"([+-]?) *((?:(?:(?<![0-9A-Za-z])[0-9]+[ -])?[0-9]{1,3}/(?:2|4|8|16|32|64|128)(?![0-9/.])"
        r"|[0-9]+(?![0-9/.])))"
    ),
}


@pytest.mark.parametrize("fractions", PLAINLY)
@given(st.text("012348/ -+.eE6x", max_size=24))
def test_the_numbers_are_those_that_a_plainer_pattern_finds(fractions, text):
    due = [
        (match.start() if match[1] else match.start(2), match.start(2), match.end(), bool(match[1]))
        for match in PLAINLY[fractions].finditer(text)
    ]

    found = numbers(text, ".", fractions=fractions)

    assert [(one.begin, one.digits, one.end, one.signed) for one in found] == due


@pytest.mark.parametrize("fractions", PLAINLY)
@pytest.mark.parametrize("run", [" ", "- ", "+", "/", "."])
def test_a_long_run_of_what_is_no_number_is_gone_through_once(fractions, run):
    """Gone through anew from each of its places, 100,000 spaces would take minutes."""
    assert numbers(run * (100_000 // len(run)) + "{", ".", fractions=fractions) == []


def test_a_long_run_of_digits_before_a_stroke_is_gone_through_once():
    assert numbers("9" * 100_000 + "/", ".", fractions=True) == []
