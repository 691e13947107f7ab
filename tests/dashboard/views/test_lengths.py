from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.views import lengths


def test_an_inch_is_exactly_25_4_mm():
    """International inch, 1959."""
    assert lengths.size(25.4, "in") == "1.00000 in"
    assert lengths.small(0.00254, "in") == "1.0 tenths"
    assert lengths.place(127.0, "in") == "5 in"


def test_what_is_not_known_is_a_dash_in_either_unit():
    for units in ("mm", "in"):
        assert lengths.size(None, units) == lengths.small(None, units) == "–"
        assert lengths.size(float("nan"), units) == "–"


def test_a_zero_has_no_sign():
    assert lengths.small(-0.00001, "mm") == "0.0 µm"


@given(st.floats(-200.0, 200.0))
def test_what_is_shown_is_within_half_its_last_digit(value):
    mm, inch = (lengths.size(value, units).replace("−", "-").split()[0] for units in ("mm", "in"))
    assert float(mm) == pytest.approx(value, abs=0.00005001)
    assert float(inch) * 25.4 == pytest.approx(value, abs=0.000127001)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.4, "0 s"), (119.9, "119 s"), (120, "2 min"), (7199, "119 min"), (7200, "2 h"), (172800, "2 days")],
)
def test_an_age_is_said_in_the_largest_unit_that_still_tells(seconds, text):
    assert lengths.age(seconds) == text


@given(st.floats(0, 1e9))
def test_an_age_is_never_more_than_it_is(seconds):
    number, unit = lengths.age(seconds).split()
    scale = {"s": 1, "min": 60, "h": 3600, "days": 86400}[unit]

    assert int(number) * scale <= seconds < (int(number) + 1) * scale
