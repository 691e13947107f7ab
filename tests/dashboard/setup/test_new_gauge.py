from __future__ import annotations

import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.sheet.reader import read_sheet
from dashboard.setup.new_gauge import NewGauge, file_of, line_of, lines, name_fault, step_of, with_gauge

SHEET = """\
# by hand
[job]
name = "Sleeve"  # kept

[[gauge]]
name = "mike"
measures = "diameter"
link = { serial = "/dev/ttyUSB0", baud = 4800, rts = false }  # the left port
limits = 0.002
"""
TAUGHT = NewGauge(
    "plug",
    "bore",
    {"serial": "usb:0403:6001:A1", "parity": "E", "bytesize": 7},
    "",
    "plug.dialect.toml",
    0.0001,
)


@pytest.mark.parametrize("name", ["mike", "Bore gauge 2", "a_b-c", "7"])
def test_a_plain_name_is_good(name):
    assert name_fault(name) == ""


@pytest.mark.parametrize(
    "name",
    [
        "",
        "../mike",
        "a/b",
        "a\\b",
        ".mike",
        "-x",
        "mike.toml",
        "µ",
        "a" * 41,
        "desk",
        "Person",
        "con",
        "LPT1",
        "a\nb",
    ],
)
def test_a_name_that_could_harm_or_confuse_is_refused(name):
    assert "use letters a to z" in name_fault(name)


@given(st.text(max_size=50))
def test_whatever_passes_as_a_name_makes_a_harmless_file_name(name):
    if not name_fault(name):
        assert re.fullmatch(r"[a-z0-9][a-z0-9_-]*\.dialect\.toml", file_of(name, ".dialect.toml"))


@pytest.mark.parametrize(
    ("text", "unit", "sheet", "step"),
    [
        ("0.001", "mm", "mm", 0.001),
        ("0,0005", "in", "mm", 0.0127),
        ("0.001", "mm", "in", 3.93701e-05),
        ("1", "um", "mm", 0.001),
        ("0.1", "degF", "mm", 0.0555556),
        ("0.1", "degC", "in", 0.1),
        ("1", "N", "mm", None),
    ],
)
def test_the_step_of_a_display_is_told_in_the_sheets_units(text, unit, sheet, step):
    """The inch is 25.4 mm (ISO 31-1), a degree Fahrenheit 5/9 K."""
    assert step_of(text, unit, sheet) == step


@pytest.mark.parametrize("text", ["", "0", "-1", "nan", "inf", "much", "1e9"])
def test_what_is_no_step_is_refused(text):
    with pytest.raises(ValueError, match="write a number above 0"):
        step_of(text, "mm", "mm")


def test_what_is_usual_of_a_line_is_not_written():
    usual = {"kind": "line", "baud": 9600, "bytesize": 8, "parity": "N", "stopbits": 1.0}

    assert line_of(usual) == {}
    assert line_of({**usual, "baud": 4800, "bytesize": 7, "parity": "E"}) == {
        "baud": 4800,
        "bytesize": 7,
        "parity": "E",
    }
    assert line_of({}) == {}


def test_the_lines_to_copy_are_what_a_sheet_reads():
    job, _ = read_sheet('[job]\nname = "Sleeve"\n' + lines(TAUGHT), "sleeve.toml")

    assert job.gauges[0].link == dict(TAUGHT.link)
    assert (job.gauges[0].dialect, job.gauges[0].resolution) == ("plug.dialect.toml", 0.0001)


def test_a_new_gauge_is_added_behind_and_the_rest_is_as_it_was():
    text, name = with_gauge(SHEET, TAUGHT, "serial", {"usb:0403:6001:A1"})

    assert name == "plug"
    assert text == f"{SHEET}\n{lines(TAUGHT)}"
    assert [gauge.name for gauge in read_sheet(text, "sleeve.toml")[0].gauges] == ["mike", "plug"]


def test_a_sheet_without_a_gauge_gets_its_first():
    text, _ = with_gauge('[job]\nname = "Sleeve"\n', TAUGHT, "serial", ())

    assert len(read_sheet(text, "sleeve.toml")[0].gauges) == 1


def test_a_gauge_on_the_same_port_keeps_all_but_its_dialect_and_its_line():
    text, name = with_gauge(SHEET, TAUGHT, "serial", {"/dev/ttyUSB0"})
    (gauge,) = tomllib.loads(text)["gauge"]

    assert name == "mike"
    assert gauge == {
        "name": "mike",
        "measures": "diameter",
        "link": {"serial": "/dev/ttyUSB0", "rts": False, "parity": "E", "bytesize": 7},
        "limits": 0.002,
        "dialect": "plug.dialect.toml",
    }
    assert "# the left port" in text
