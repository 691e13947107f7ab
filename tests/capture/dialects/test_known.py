from __future__ import annotations

import pytest

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Decoder
from capture.dialects.known import answer_in, dialect_for
from capture.dialects.registers import Registers, question, registers
from capture.sheet.job import Gauge


def gauge(link=None, **settings):
    return Gauge("mike", "diameter", link or {"serial": "/dev/ttyUSB0"}, **settings)


def no_file(name):
    raise AssertionError(f"{name} was opened")


def test_a_gauge_speaks_decimal_lines_in_the_unit_and_channel_of_its_sheet():
    dialect = dialect_for(gauge(unit="in", channel="2"), no_file)

    (fact,) = Decoder(dialect).feed(b"1:9.999 2:2.0000\r\n")[1]

    assert (fact.value, fact.shown) == (50.8, "in")


def test_a_dialect_that_there_is_not_is_named():
    with pytest.raises(
        ValueError, match="'mike': there is no dialect 'morse'; decimal-line, gatt, or the path"
    ):
        dialect_for(gauge(dialect="morse"), no_file)


def test_a_modbus_gauge_speaks_registers():
    link = {"modbus": "/dev/ttyUSB0", "unit": 3, "register": 16, "count": 2, "order": "CDAB", "scale": 0.0005}

    dialect = dialect_for(gauge(link, unit="in"), no_file)

    assert dialect.ask == question(
        Registers(unit=3, register=16, kind="s32", order="CDAB", scale=0.0005, shown="in")
    )


def test_one_register_is_a_signed_number_of_16_bits_unless_the_sheet_says_otherwise():
    dialect = dialect_for(gauge({"modbus": "COM3", "count": 1, "scale": 0.001}), no_file)

    assert dialect.ask == question(Registers(kind="s16"))


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({}, "scale was due: what one count is worth, in mm"),
        ({"scale": 0.001, "kind": "s16", "count": 2}, "count = 2, a s16 has 1"),
        ({"scale": 0.001, "kind": "s64"}, "kind"),
        ({"scale": 0.001, "order": "ABDC"}, "order"),
        ({"scale": 0.001, "unit": 300}, "1 to 247"),
        ({"scale": "fine"}, "scale"),
        ({"scale": 0.001, "function": 6}, "function"),
    ],
)
def test_registers_that_cannot_be_are_named(settings, words):
    with pytest.raises(ValueError, match="'mike': link: ") as caught:
        dialect_for(gauge({"modbus": "COM3", **settings}), no_file)

    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("data", "length"),
    [
        (b"", 0),
        (b"+1.2", 0),
        (b"+1.25\r", 6),
        (b"\n+1.25\r\n", 8),
        (b"\r\n", 0),
        (b"nonsense\r+1.25\r", 9),
        (b"1" * 128, 128),
        (b"\n" + b"1" * 128, 129),
    ],
)
def test_an_answer_ends_where_something_has_been_said(data, length):
    assert answer_in(decimal_line())(data) == length


def test_an_answer_in_registers_is_a_frame():
    where = Registers()
    frame = b"\1\x83\2\xc0\xf1"

    assert answer_in(registers(where))(frame[:4]) == 0
    assert answer_in(registers(where))(frame + b"\1") == 5


TAUGHT = """
frame = { kind = "line", end = "\\r" }
[[sentence]]
means = [{ before = "D", after = "in", unit = "in", sign = "written", display = { decimals = 3 } }]
"""


def test_a_file_describes_a_dialect_and_its_faults_are_named():
    files = {"taught.toml": TAUGHT, "wrong.toml": TAUGHT.replace("before", "befor")}

    (fact,) = Decoder(dialect_for(gauge(dialect="taught.toml"), files.__getitem__)).feed(b"D 1.000 in\r")[1]

    assert (fact.value, fact.shown) == (25.4, "in")

    with pytest.raises(ValueError, match=r"wrong\.toml.*befor"):
        dialect_for(gauge(dialect="wrong.toml"), files.__getitem__)
