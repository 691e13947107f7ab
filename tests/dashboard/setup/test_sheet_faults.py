"""Faults of a sheet stand at the fields of the form that they are of."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.sheet.faults import Fault
from dashboard.setup.sheet_faults import by_field, checked
from dashboard.setup.sheet_form import filled, opened
from dashboard.views.setup.sheet_fields import LISTED, PLAIN


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"fit__nominal": ""}, "fit.nominal", "missing, due a length"),
        ({"fit__nominal": "much"}, "fit.nominal", "came 'much', due a length above 0"),
        ({"fit__clearance__least": "0.009"}, "fit.clearance.aim", "due least <= aim <= most"),
        ({"shaft__stations": "10 10"}, "shaft.stations", "a list of different numbers"),
        ({"shaft__material": "cheese"}, "shaft.material", "one that is known"),
        ({"grinder__dial": "both"}, "grinder.dial", "one of radius, diameter"),
        ({"job__name": ""}, "job.name", "missing"),
        ({"gauge__0__limits": "-1"}, "gauge.0.limits", "of at least 0"),
        ({"gauge__1__name": "mike"}, "gauge.1.name", "two gauges of this name"),
        ({"gauge__0__name": ""}, "gauge.0.name", "missing"),
        ({"gauge__0__address": ""}, "gauge.0.address", "a text"),
        ({"gauge__0__link__baud": "fast"}, "gauge.0.link.baud", "a whole number"),
        ({"gauge__0__unit": "degC"}, "gauge.0.unit", "one of mm, in"),
        ({"gauge__0__stream": "often"}, "gauge.0.stream", "true or false"),
        ({"gauge__0__ask__send": ""}, "gauge.0.ask.send", "missing"),
        ({"gauge__0__ask__every": "0"}, "gauge.0.ask.every", "above 0"),
        ({"gauge__0__link__bytesize": "eight"}, "gauge.0.link.bytesize", "one of 5, 6, 7, 8"),
        ({"pedal__0__keys": "the left one"}, "pedal.0.keys", "words by key"),
        ({"pedal__0__keyboard": ""}, "pedal.0.keyboard", "missing"),
        ({"settings__warm__limit": "-1"}, "settings.warm.limit", "a length above 0"),
        ({"settings__growing__confidence": "2"}, "settings.growing.confidence", "between 0.5 and 1"),
    ],
)
def test_a_fault_stands_at_the_field_that_it_is_of(changed, field, said, form, form_sheet):
    typed = form(**changed)
    faults = checked(filled(opened(form_sheet), typed), typed.name)

    assert said in faults.fields[field]
    assert faults.rest == []


def test_a_fault_of_no_field_is_not_lost(form, form_sheet):
    typed = form(form_sheet + "\n[extra]\nmore = 1\n")
    faults = checked(filled(opened(form_sheet + "\n[extra]\nmore = 1\n"), typed), typed.name)

    assert faults.rest == ["extra: no such key"]


PATHS = st.lists(
    st.sampled_from(["job", "fit", "gauge", "pedal", "name", "link", "ask", "moon"]) | st.integers(0, 3),
    max_size=4,
)


@settings(deadline=None)
@given(paths=st.lists(PATHS, max_size=6))
def test_every_fault_goes_to_a_field_or_to_the_rest(paths):
    found = by_field([Fault(tuple(path), "missing", str(path), due="a text") for path in paths])

    assert len(found.rest) + sum(len(why.split("; ")) for why in found.fields.values()) == len(paths)
    assert set(found.fields) <= {
        f"{kind}.{n}.{one.key}" for kind, all_ in LISTED.items() for n in range(4) for one in all_
    } | {one.key for one in PLAIN}


def test_all_faults_stand_at_their_fields_at_once(form, form_sheet):
    """The form showed one fault when there were several."""
    wrong = {
        "fit__nominal": "much",
        "fit__clearance__most": "wide",
        "shaft__stations": "10 10",
        "grinder__dial": "both",
        "gauge__0__limits": "-1",
        "gauge__1__name": "mike",
        "settings__coach__undersize": "5",
    }
    typed = form(**wrong)
    faults = checked(filled(opened(form_sheet), typed), typed.name)

    assert set(faults.fields) == {key.replace("__", ".") for key in wrong} | {"gauge.0.name"}
