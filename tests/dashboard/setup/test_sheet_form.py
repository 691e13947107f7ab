"""The sheet as a form: what was written stays, what was typed is read by the reader of sheets alone."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.sheet.faults import BadSheet
from capture.sheet.gauges.link_keys import LINKS
from capture.sheet.reader import read_sheet
from capture.sheet.settings import Settings
from dashboard.setup.sheet_form import Typed, filled, opened, values_of
from dashboard.views.setup.sheet_fields import GAUGE, LISTED, PLAIN


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
        gauge__0__link__baud="19200",
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
        "gauge.0.link.baud": "9600",
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
    typed = form(gauge__0__link="keyboard", gauge__0__address="wedge", gauge__0__link__baud="")
    job, _ = read_sheet(filled(opened(form_sheet), typed), "sleeve.toml")

    assert job.gauges[0].link == {"keyboard": "wedge"}


def test_every_setting_and_every_part_of_a_link_has_its_field():
    settings_of = {
        f"settings.{name}.{leaf}"
        for name in Settings.__struct_fields__
        for leaf in getattr(Settings(), name).__struct_fields__
    }

    assert settings_of == {field.key for field in PLAIN if field.key.startswith("settings.")}
    for way, keys in LINKS.items():
        assert keys == {field.key[5:] for field in GAUGE if way in field.ways}


def test_settings_are_written_where_the_reader_looks_and_taken_out_when_emptied(form, form_sheet):
    typed = form(
        settings__spark_out__limit="0,001", settings__sweep__points="4", settings__coach__dress="false"
    )
    text = filled(opened(form_sheet), typed)
    job, plain = read_sheet(text, "sleeve.toml")
    values = values_of(opened(text)) | {
        "settings.spark_out.limit": "",
        "settings.sweep.points": "",
        "settings.coach.dress": "",
    }
    again = filled(opened(text), Typed("sleeve.toml", values, [0, 1], "d", [0]))

    assert (job.settings.spark_out.limit, job.settings.sweep.points) == (0.001, 4)
    assert job.settings.coach.dress is False
    assert set(plain["settings"]) == {"spark_out", "sweep", "coach"}
    assert "settings" not in tomllib.loads(again)


def test_control_characters_are_spelled_out_and_come_back_as_they_were(form, form_sheet):
    shown = form().values["gauge.0.ask.send"]
    text = filled(opened(form_sheet), form(gauge__0__ask__send="S\\x1b\\r\\n", gauge__0__ask__timeout="2"))
    job, _ = read_sheet(text, "sleeve.toml")

    assert shown == "?\\r"
    assert job.gauges[0].ask == {"send": "S\x1b\r\n", "every": 0.5, "timeout": 2.0}


def test_a_gauge_on_a_bus_and_one_by_radio_are_filled_in_whole():
    values = {
        "job.name": "Sleeve",
        "gauge.0.name": "plug",
        "gauge.0.measures": "bore",
        "gauge.0.link": "modbus",
        "gauge.0.address": "COM3",
        "gauge.0.link.baud": "19200",
        "gauge.0.link.parity": "E",
        "gauge.0.link.unit": "7",
        "gauge.0.link.function": "4",
        "gauge.0.link.register": "0",
        "gauge.0.link.kind": "f32",
        "gauge.0.link.scale": "0.001",
        "gauge.1.name": "probe",
        "gauge.1.measures": "temperature",
        "gauge.1.link": "ble",
        "gauge.1.address": "AA:BB",
        "gauge.1.link.value": "2a6e",
        "gauge.1.link.bytes": "false",
        "gauge.1.stream": "true",
    }
    job, _ = read_sheet(filled(opened(""), Typed("new.toml", values, [None, None])), "new.toml")

    assert job.gauges[0].link == {
        "modbus": "COM3",
        "baud": 19200,
        "parity": "E",
        "unit": 7,
        "function": 4,
        "register": 0,
        "kind": "f32",
        "scale": 0.001,
    }
    assert job.gauges[1].link == {"ble": "AA:BB", "value": "2a6e", "bytes": False}
    assert job.gauges[1].stream is True


def test_pedals_are_added_and_taken_out_and_stay_where_the_form_has_none(form, form_sheet):
    keys = "KEY_A = pass 0.004; KEY_B = undo"
    more = {"pedal.1.name": "pad", "pedal.1.keyboard": "usb-pad", "pedal.1.keys": keys}
    values = form().values | more
    added = read_sheet(filled(opened(form_sheet), Typed("s.toml", values, [0, 1], "d", [0, None])), "s.toml")[
        0
    ]
    gone = read_sheet(filled(opened(form_sheet), Typed("s.toml", form().values, [0, 1], "d", [])), "s.toml")[
        0
    ]

    assert added.pedals[0].keys == {"KEY_B": "pass 0"}
    assert added.pedals[1].keys == {"KEY_A": "pass 0.004", "KEY_B": "undo"}
    assert gone.pedals == ()
    assert filled(opened(form_sheet), Typed("s.toml", form().values, [0, 1], "d")) == form_sheet


TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
KEYS = [field.key for field in PLAIN] + [
    f"{kind}.0.{field.key}" for kind, fields in LISTED.items() for field in fields
]


@settings(deadline=None, max_examples=80)
@given(st.dictionaries(st.sampled_from(KEYS), TEXT, max_size=8))
def test_whatever_is_typed_makes_toml_and_never_another_key(typed):
    """What a person types is a value, and cannot become a key, a table or a comment."""
    text = filled(opened(""), Typed("new.toml", typed, [None], pedals=[None]))
    plain = tomllib.loads(text)

    tables = {"job", "fit", "bore", "shaft", "grinder", "wheel", "work", "settings", "gauge", "pedal"}
    assert set(plain) <= tables


def test_what_is_not_toml_is_sent_to_an_editor():
    with pytest.raises(BadSheet, match="not TOML"):
        opened("[job\nname=")
