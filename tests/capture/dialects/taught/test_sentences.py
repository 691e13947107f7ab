"""Words round a number: what fits them, and how long that may take."""

from __future__ import annotations

import pytest

from capture.dialects.taught.sentences import ANY_DIGITS, Meaning
from capture.dialects.taught.values import Display
from capture.dialects.taught.written_numbers import numbers

MANY = "D" + ANY_DIGITS * 20 + "x"


def meaning(before: str) -> Meaning:
    return Meaning(before=before, after="", unit="mm", sign="written", display=Display(decimals=3))


@pytest.mark.timeout(20)
def test_many_runs_of_digits_in_a_row_do_not_take_for_ever():
    """A pattern that tries every way of sharing 40 digits among 20 runs would not end in a lifetime."""
    line = "D" + "1" * 40 + " 1.000"

    assert not meaning(MANY).fits(line, numbers(line, ".")[-1])


def test_any_digits_may_stand_where_they_mean_nothing():
    line = "No 17: 1.000"

    assert meaning(f"No {ANY_DIGITS}:").fits(line, numbers(line, ".")[-1])
