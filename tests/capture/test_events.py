"""The vocabulary: what a fact may hold, so that every recording can be read back."""

from __future__ import annotations

from collections.abc import Callable
from math import inf, nan
from typing import get_args

import pytest

from capture import events as ev

MAKERS: list[Callable[[float], ev.AnyFact]] = [
    lambda x: ev.Reading(x, "mm", 3, "x"),
    ev.Battery,
    ev.Pass,
    lambda x: ev.Station("shaft", x, 0.0),
    lambda x: ev.Station("shaft", 80.0, x),
    lambda x: ev.Master("mike", x, 0.0),
    lambda x: ev.Master("mike", 55.0, x),
    lambda x: ev.Taken("shaft", 80.0, 0.0, 1, x, 0.0, ()),
    lambda x: ev.Taken("shaft", x, 0.0, 1, 55.0, 0.0, ()),
    lambda x: ev.Taken("shaft", 80.0, 0.0, 1, 55.0, x, ()),
]


@pytest.mark.parametrize("number", [nan, inf, -inf])
@pytest.mark.parametrize("make", MAKERS)
def test_a_number_that_json_does_not_have_never_enters(make: Callable[[float], ev.AnyFact], number: float):
    with pytest.raises(ValueError, match="must be finite"):
        make(number)


@pytest.mark.parametrize("digits", [-100, 100, 10**9])
def test_more_decimals_than_any_gauge_shows_never_enter(digits: int):
    """Ten to that power would be no number that can be worked with."""
    with pytest.raises(ValueError, match="digits of a reading"):
        ev.Reading(55.0, "mm", digits, "x")


@pytest.mark.parametrize("make", MAKERS)
def test_any_other_number_does(make: Callable[[float], ev.AnyFact]):
    assert make(-1.5e300) == make(-1.5e300)


def test_what_is_not_known_is_none_and_not_a_number():
    assert ev.Pass(None).infeed is None
    assert ev.Taken("shaft", None, None, 0, 55.0, 0.0, ()).z is None


def test_every_kind_has_a_name_of_its_own_and_is_frozen():
    kinds = get_args(ev.AnyFact)

    assert len({kind.__struct_config__.tag for kind in kinds}) == len(kinds)
    assert all(kind.__struct_config__.frozen for kind in kinds)
