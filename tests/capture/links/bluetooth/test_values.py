from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.gatt import STANDARD, Presentation
from capture.events import Garbled, Reading
from capture.links.bluetooth.values import Value, fitting, full, listed, named, number, plain, short

PRIVATE = "5a3e0001-88aa-4d6f-9c2b-0123456789ab"
MICROMETRES = Presentation(0x10, -6, 0x2701)
SIZE = Value(PRIVATE, 3, PRIVATE, MICROMETRES, "OD", notifies=True)
WARMTH = Value(full("2A6E"), 7, full("181A"), STANDARD[0x2A6E], readable=True)
CHARGE = Value(full("2A19"), 9, full("180F"), STANDARD[0x2A19], readable=True)
SECRET = Value(full("FFE1"), 11, full("FFE0"), None, notifies=True)
DEAF = Value(full("2C0A"), 13, full("185A"), STANDARD[0x2C0A])
ALL = [SIZE, WARMTH, CHARGE, SECRET, DEAF]


@pytest.mark.parametrize(
    "written", ["2C08", "2c08", "0x2C08", " 00002C08 ", "00002c08-0000-1000-8000-00805F9B34FB"]
)
def test_a_uuid_may_be_written_short_or_whole(written):
    """Base UUID: Core Specification, volume 3, part B, 2.5.1."""
    assert full(written) == "00002c08-0000-1000-8000-00805f9b34fb"
    assert (number(full(written)), short(full(written))) == (0x2C08, "2C08")


@pytest.mark.parametrize("written", ["", "2C0", "length", PRIVATE[:-1], "2C08;reboot"])
def test_what_is_no_uuid_is_refused(written):
    with pytest.raises(ValueError, match="is no UUID: due four hexadecimal digits"):
        full(written)


def test_a_private_uuid_has_no_number_and_is_written_whole():
    assert (number(PRIVATE), short(PRIVATE), named(PRIVATE)) == (0, PRIVATE, PRIVATE)


@pytest.mark.parametrize(
    ("uuid", "words"),
    [
        ("180F", "Battery Service (180F)"),
        ("181A", "Environmental Sensing (181A)"),
        ("185A", "Industrial Measurement Device (185A)"),
        ("2C0A", "Length (2C0A)"),
        ("FE59", "FE59"),
    ],
)
def test_services_are_named_in_the_words_of_the_bluetooth_sig(uuid, words):
    """Assigned Numbers, 3.4; a number of a member is given without a name: it says nothing of the service."""
    assert named(full(uuid)) == words


@given(st.text() | st.text(st.characters(categories=["Cc", "Cf", "Zs", "Zl", "Co"])))
def test_a_strangers_text_becomes_one_short_printable_line(text):
    line = plain(text)

    assert line.isprintable()
    assert len(line) <= 48
    assert line == line.strip()
    assert not any(unicodedata.bidirectional(c) in {"RLO", "LRO", "RLE", "LRE", "RLI", "LRI"} for c in line)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("\x1b[2JSleeve\r\n mike\0", "[2JSleeve mike"),
        ("egu\u202eag", "eguag"),
        ("Ø 55 ⌀", "Ø 55 ⌀"),
        ("", ""),
    ],
)
def test_controls_and_turned_writing_go_and_the_rest_stays(text, line):
    assert plain(text) == line


@pytest.mark.parametrize(
    ("wish", "fits"),
    [
        ({"measures": "diameter", "carries": "numbers"}, [SIZE]),
        ({"measures": "temperature", "carries": "numbers"}, [WARMTH]),
        ({"measures": "diameter", "carries": "numbers", "value": "2A19"}, []),
        ({"measures": "diameter", "carries": "numbers", "value": "FFE1"}, []),
        ({"measures": "diameter", "carries": "values", "value": "FFE1"}, [SECRET]),
        ({"measures": "diameter", "carries": "bytes", "value": "FFE1", "service": "FFE0"}, [SECRET]),
        ({"measures": "diameter", "carries": "values", "value": "FFE1", "service": "180F"}, []),
        ({"measures": "diameter", "carries": "values", "value": "FFE1@000B"}, [SECRET]),
        ({"measures": "diameter", "carries": "values", "value": "FFE1@000C"}, []),
        ({"measures": "diameter", "carries": "numbers", "value": "2C0A"}, []),
    ],
)
def test_what_fits_a_gauge(wish, fits):
    """A length for a gauge of lengths, a temperature for a thermometer, and only what can be heard."""
    assert fitting(ALL, **wish) == fits


def test_a_list_says_what_to_write_on_the_sheet_and_what_each_is_now():
    twin = Value(PRIVATE, 0x2A, PRIVATE, MICROMETRES, present=Reading(0.5, "mm", 3, ""))
    unknown = Value(full("2A6E"), 7, full("181A"), STANDARD[0x2A6E], present=Garbled("", ""))

    assert (
        listed([SIZE, twin]) == f'value = "{PRIVATE}@0003" “OD” in mm; value = "{PRIVATE}@002A" now 0.500 mm'
    )
    assert listed([SECRET, unknown]) == 'value = "FFE1"; value = "2A6E" Temperature'
    assert listed([]) == "nothing that can be read"
