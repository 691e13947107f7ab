"""The sheet as a form: what was written stays, what was typed is read by the reader of sheets alone."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.sheet_reader import BadSheet, read_sheet
from dashboard.sheet_form import GAUGE, GROUPS, Typed, filled, opened


def test_a_form_that_was_not_touched_leaves_every_byte_of_the_sheet(form, form_sheet):
    assert filled(opened(form_sheet), form()) == form_sheet


def test_one_field_changes_one_value_and_keeps_comments_and_unknown_keys(form, form_sheet):
    text = filled(opened(form_sheet), form(fit__clearance__aim="0,006"))

    assert text == form_sheet.replace("aim = 0.005", "aim = 0.006")


def test_what_is_saved_reads_back_as_what_was_typed(form, form_sheet):
    typed = form(
        fit__nominal="60",
        shaft__stations="10, 20; 30 40",
        shaft__plating__least="0.1",
        shaft__plating__most="0.2",
        shaft__plating__stock="0.06",
        fit__engagement__length="",
        fit__engagement__from="",
        fit__engagement__to="",
        gauge__0__baud="19200",
        gauge__1__address="CC:DD",
    )
    job, plain = read_sheet(filled(opened(form_sheet), typed), "sleeve.toml")

    assert job.fit.nominal == 60.0
    assert job.fit.engagement is None
    assert job.shaft.stations == (10.0, 20.0, 30.0, 40.0)
    assert job.shaft.plating.most == 0.2
    assert job.gauges[0].link == {"serial": "/dev/ttyUSB0", "baud": 19200}
    assert job.gauges[0].ask == {"send": "?\r", "every": 0.5}
    assert job.gauges[1].link == {"ble": "CC:DD", "value": "2a6e"}
    assert job.pedals[0].keys == {"KEY_B": "pass 0"}
    assert "fit.engagement" not in plain


def test_a_new_sheet_is_made_from_an_empty_one():
    values = {
        "job.name": "Sleeve",
        "job.units": "in",
        "fit.nominal": "2.1654",
        "fit.clearance.aim": "0.0002",
        "fit.clearance.least": "0.0001",
        "fit.clearance.most": "0.0003",
        "gauge.0.name": "mike",
        "gauge.0.measures": "diameter",
        "gauge.0.link": "serial",
        "gauge.0.address": "COM3",
        "gauge.0.baud": "9600",
    }
    job, _ = read_sheet(filled(opened(""), Typed("new.toml", values, [None])), "new.toml")

    assert job.units == "in"
    assert job.fit.nominal == pytest.approx(2.1654 * 25.4)
    assert job.gauges[0].link == {"serial": "COM3", "baud": 9600}


@pytest.mark.parametrize(("kept", "names"), [([1], ["probe"]), ([1, 0], ["probe", "mike"]), ([], [])])
def test_gauges_are_taken_out_and_put_in_another_order(kept, names, form, form_sheet):
    typed = form()
    values = dict(typed.values)
    for place, was in enumerate(kept):
        for field in GAUGE:
            values[f"gauge.{place}.{field.key}"] = typed.values[f"gauge.{was}.{field.key}"]
    job, _ = read_sheet(filled(opened(form_sheet), Typed("sleeve.toml", values, kept, "d")), "sleeve.toml")

    assert [gauge.name for gauge in job.gauges] == names
    assert all("value" in gauge.link for gauge in job.gauges if gauge.name == "probe")


def test_another_way_to_a_gauge_keeps_its_address_and_drops_what_is_of_the_old_way(form, form_sheet):
    typed = form(gauge__0__link="keyboard", gauge__0__address="wedge", gauge__0__baud="")
    job, _ = read_sheet(filled(opened(form_sheet), typed), "sleeve.toml")

    assert job.gauges[0].link == {"keyboard": "wedge"}


TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
KEYS = [field.key for group in GROUPS for field in group.fields] + [f"gauge.0.{field.key}" for field in GAUGE]


@settings(deadline=None, max_examples=80)
@given(st.dictionaries(st.sampled_from(KEYS), TEXT, max_size=8))
def test_whatever_is_typed_makes_toml_and_never_another_key(typed):
    """What a person types is a value, and cannot become a key, a table or a comment."""
    text = filled(opened(""), Typed("new.toml", typed, [None]))
    plain = tomllib.loads(text)

    assert set(plain) <= {"job", "fit", "bore", "shaft", "grinder", "gauge"}


def test_what_is_not_toml_is_sent_to_an_editor():
    with pytest.raises(BadSheet, match="not TOML"):
        opened("[job\nname=")
