"""Words round a number: what fits them, and how long that may take."""

from __future__ import annotations

import pytest

from capture.dialects.taught.sentences import ANY_DIGITS, ANY_NUMBER, Meaning
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


@pytest.mark.timeout(20)
def test_many_numbers_in_a_row_do_not_take_for_ever():
    """With two ways for the blank before each, a line of 80 characters would take 2^40 tries."""
    line = " 1" * 40 + " 1.000"

    assert not meaning(ANY_NUMBER * 39 + "x").fits(line, numbers(line, ".")[-1])
    assert meaning(ANY_NUMBER * 40).fits(line, numbers(line, ".")[-1])


@pytest.mark.parametrize("other", ["5", "+5", "+ 5", "-5", "5.25", "- ,5", ".5"])
def test_any_number_may_stand_where_it_means_nothing_with_its_sign_and_blanks(other):
    line = f"T {other} D 1.000"

    assert meaning(f"T {ANY_NUMBER} D").fits(line, numbers(line, ".")[-1])
    assert meaning(f"T{ANY_NUMBER} D").fits(line, numbers(line, ".")[-1])
