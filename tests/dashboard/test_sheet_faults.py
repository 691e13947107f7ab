"""Faults of a sheet stand at the fields of the form that they are of."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboard.sheet_faults import by_field, checked
from dashboard.sheet_form import Typed, filled, opened, values_of

SHEET = """\
# of the sleeve, with the customer's own numbers
[job]
name = "Jig-borer spindle sleeve"
units = "mm"

[fit]
nominal = 55.0
clearance = { aim = 0.005, least = 0.003, most = 0.008 }  # from the old drawing
engagement = { length = 160.0, from = 20.0, to = 120.0 }

[shaft]
material = "steel 4140"
stations = [20, 80, 140]

[grinder]
dial = "diameter"

[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "/dev/ttyUSB0", baud = 9600 }  # the left port
limits = 0.002
ask = { send = "?\\r", every = 0.5 }

[[gauge]]
name = "probe"
measures = "temperature"
part = "shaft"
link = { ble = "AA:BB", value = "2a6e" }
unit = "degC"

[[pedal]]
name = "foot"
keyboard = "pedal"
keys = { KEY_B = "pass 0" }
"""


def form(text=SHEET, **changed):
    """The form of a sheet as it opens, with fields changed (dots as two underscores)."""
    values = values_of(opened(text))
    values |= {key.replace("__", "."): value for key, value in changed.items()}
    places = sorted({int(key.split(".")[1]) for key in values if key.startswith("gauge.")})
    return Typed("sleeve.toml", values, list(places), "digest")


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"fit__nominal": ""}, "fit.nominal", "missing, due a length"),
        ({"fit__nominal": "much"}, "fit.nominal", "came 'much', due a number above 0"),
        ({"fit__clearance__least": "0.009"}, "fit.clearance.aim", "due least <= aim <= most"),
        ({"shaft__stations": "10 10"}, "shaft.stations", "a list of different numbers"),
        ({"shaft__material": "cheese"}, "shaft.material", "one that is known"),
        ({"grinder__dial": "both"}, "grinder.dial", "one of radius, diameter"),
        ({"job__name": ""}, "job.name", "missing"),
        ({"gauge__0__limits": "-1"}, "gauge.0.limits", "of at least 0"),
        ({"gauge__1__name": "mike"}, "gauge.1.name", "two gauges of this name"),
        ({"gauge__0__name": ""}, "gauge.0.name", "missing"),
        ({"gauge__0__address": ""}, "gauge.0.address", "a text"),
        ({"gauge__0__baud": "fast"}, "gauge.0.baud", "a whole number"),
        ({"gauge__0__unit": "degC"}, "gauge.0.unit", "one of mm, in"),
    ],
)
def test_a_fault_stands_at_the_field_that_it_is_of(changed, field, said):
    typed = form(**changed)
    faults = checked(filled(opened(SHEET), typed), typed)

    assert said in faults.fields[field]
    assert faults.rest == []


def test_a_fault_of_no_field_is_not_lost():
    typed = form(SHEET + "\n[extra]\nmore = 1\n")
    faults = checked(filled(opened(SHEET + "\n[extra]\nmore = 1\n"), typed), typed)

    assert faults.rest == ["extra: no such key"]


@settings(deadline=None, max_examples=60)
@given(st.lists(st.text(max_size=30), max_size=6))
def test_every_fault_goes_to_a_field_or_to_the_rest(faults):
    typed = form()
    found = by_field([f"sleeve.toml: {fault}" for fault in faults], typed)

    assert (not faults) == (not found.fields and not found.rest)
