from __future__ import annotations

import copy
from typing import Any

import pytest

from capture.analysis.grind.next_step import coach_of
from capture.events import Pass, Taken
from dashboard.views.grinder.slope import slope


@pytest.fixture
def round_of(session, sheet):
    """A shaft measured at three stations after a pass, on a grinder with a swivel table."""

    def measure(*diameters: float, coached: bool = False) -> Any:
        swivelled = copy.deepcopy(sheet)
        if not coached:
            del swivelled["fit"]
        swivelled["shaft"] = {"material": "steel 4140", "stations": [40, 140, 240], "angles": [0]}
        swivelled["grinder"]["swivel"] = {"pivot": 140.0, "reading_at": 740.0, "toward_wheel": "+"}
        one = session(swivelled)
        one.say("person", Pass(0.004), 1.0)
        for z, diameter in zip((40.0, 140.0, 240.0), diameters, strict=False):
            one.say("desk", Taken("shaft", z, 0.0, 1, diameter, 0.0003, (0,), "mike"), z)
        return one.state

    return measure


def rows(state, units="mm"):
    return {row[0][0]: [cell[0] for cell in row[1:]] for row in slope(state, units)["taper[]"]}


def test_taper_is_told_over_a_hundred_millimetres_and_the_table_moves_half_of_it_at_its_arm(round_of):
    """20 µm over 200 mm: b = 1e-4; theta = b/2; 600 mm from the pivot the table moves 30 µm (geometry)."""
    found = rows(round_of(55.08, 55.09, 55.10))

    assert found["Taper"][0].startswith("10.0 µm in 100 mm ± ")
    assert found["Taper"][1] == "larger away from the datum end"
    assert found["Move the table"][0].startswith("+")
    assert 0.0 < float(found["Move the table"][0].split()[0]) <= 30.0


def test_taper_is_told_over_an_inch_in_tenths(round_of):
    """1e-4 over 25.4 mm is 2.54 µm, one tenth of a thousandth of an inch."""
    assert rows(round_of(55.08, 55.09, 55.10), "in")["Taper"][0].startswith("1.0 tenths in 1 in ± ")


def test_what_is_no_slope_is_not_the_tables_to_take_out(round_of):
    """A barrel of 6 µm about level ends: least squares leaves 4 µm at the middle and 2 µm at the ends."""
    found = rows(round_of(55.080, 55.086, 55.080))

    assert found["Taper"][0].startswith("0.0 µm")
    assert found["The table cannot take out"][0] == "4.0 µm"


def test_one_station_gives_advice_to_measure_more(round_of):
    shown = slope(round_of(55.08), "mm")

    assert shown["taper[]"] == []
    assert "two stations" in shown["taper-advice"]


def test_the_indicator_is_told_in_inches_on_an_inch_screen(round_of):
    """30 µm are 0.00118 in; a large correction is made to 85 %: 0.00100 in."""
    state = round_of(55.08, 55.09, 55.10)

    assert rows(state, "in")["Move the table"][0] == "+0.00100 in"
    assert "(indicator +0.00100 in;" in slope(state, "in")["taper-advice"]
    assert "(indicator +25.5 µm;" in slope(state, "mm")["taper-advice"]


def test_where_the_coach_advises_about_the_table_nobody_says_otherwise(round_of):
    state = round_of(55.08, 55.09, 55.10, coached=True)
    shown, table = slope(state, "mm"), coach_of(state)["table"]

    assert shown["taper-advice"].lower() == table["say"].lower()
    assert shown["taper-advice@data-state"] == table["advice"]
    moved = rows(state).get("Move the table")
    assert (moved is None) == (table["indicator"] == 0.0)
