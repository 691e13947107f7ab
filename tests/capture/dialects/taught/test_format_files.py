"""The dialect file: written, read, changed by hand, and refused with every fault in it."""

from __future__ import annotations

import pytest

from capture.dialects.dialect import Decoder
from capture.dialects.taught.format_files import BadFormat, load, read_format, write_format
from capture.events import Garbled, Reading

BINARY = """
ask = "?"
[frame]
kind = "fixed"
length = 6
[check]
kind = "xor8"
at = -1
[[record]]
length = 6
sign = "written"
unit = [ { at = 1, mask = "01", means = { "00" = "mm", "01" = "in" } } ]
value = { kind = "count", at = 2, size = 3, order = "DCBA", signed = "complement" }
constants = { "0" = "aa", "1" = "40/fe" }
[record.display]
mm = { decimals = 3, scale = "0.001", limit = "30" }
in = { decimals = 4, scale = "0.0005", limit = "1.2" }
"""

TEXT = """
[frame]
kind = "line"
end = "\\r"
[[sentence]]
number = 2
point = ","
means = [
  { before = "CH{digits}", after = "mm", unit = "mm", sign = "written", display = { decimals = 3 } },
]
"""


UNKNOWN_UNIT = (
    "gauge.toml: record[0].unit is 'furlong', '%' or '1' or 'K' or 'N' or 'W' or 'deg' or 'degC' or 'degF' "
    "or 'in' or 'kW' or 'mm' or 'um' or a list was due"
)


def heard(text: str, data: bytes) -> list[Reading | Garbled]:
    decoder, said = Decoder(load(text, "gauge.toml")).feed(data)
    return said + decoder.close()


def test_a_file_written_by_hand_reads_frames():
    """Worked by hand: 12345 steps of 0.001 mm; -400 steps of 0.0005 in are -0.2 in, so -5.08 mm."""
    mm, inch = b"\xaa\x40\x39\x30\x00\xe3", b"\xaa\x41\x70\xfe\xff\x9a"

    assert heard(BINARY, mm + inch) == [
        Reading(12.345, "mm", 3, mm.decode("latin-1")),
        Reading(-5.08, "mm", 4, inch.decode("latin-1"), "in"),
    ]
    assert load(BINARY, "gauge.toml").ask == b"?"


def test_a_frame_is_found_again_after_bytes_that_are_none():
    mm = b"\xaa\x40\x39\x30\x00\xe3"
    said = heard(BINARY, b"\x01\xaa" + mm + b"\xaa\x40" + mm)

    assert [each.value for each in said if isinstance(each, Reading)] == [12.345, 12.345]
    assert "".join(each.raw for each in said).encode("latin-1") == b"\x01\xaa" + mm + b"\xaa\x40" + mm


@pytest.mark.parametrize(
    ("frame", "why"),
    [
        (b"\xaa\x40\x39\x30\x00\xe4", "the check is e4, e3 was due"),
        (b"\xaa\x42\x39\x30\x00\xe1", "byte 1 is 42, 40 was due: it never changed while taught"),
        (b"\xaa\x40\x39\x30\x01\xe2", "77.881 is beyond all that was taught (limit 30)"),
    ],
)
def test_a_frame_that_differs_is_refused_with_the_reason(frame, why):
    assert [each.why for each in heard(BINARY, frame) if isinstance(each, Garbled)] == [why]


def test_words_with_digits_that_mean_nothing_are_read():
    assert heard(TEXT, b"CH17 -1,250 mm\r") == [Reading(-1.25, "mm", 3, "CH17 -1,250 mm\r")]
    assert isinstance(heard(TEXT, b"CHx -1,250 mm\r")[0], Garbled)
    assert isinstance(heard(TEXT, b"CH17 -1,2505 mm\r")[0], Garbled)


@pytest.mark.parametrize("text", [BINARY, TEXT])
def test_a_file_is_written_and_read_back_the_same(text):
    format_ = read_format(text, "gauge.toml")

    assert read_format(write_format(format_), "gauge.toml") == format_


def test_all_faults_of_a_file_are_named_at_once_with_their_keys():
    text = """
        hallo = "x"
        [frame]
        kind = "fixd"
        [check]
        kind = 3
        at = "x"
        [[record]]
        length = true
        unit = "furlong"
        value = { kind = "count", at = 0, size = "two" }
        display = { mm = { decimals = 3, scael = "1" } }
        """
    with pytest.raises(BadFormat) as caught:
        load(text, "gauge.toml")

    assert caught.value.faults == [
        "gauge.toml: hallo is not known here; 'hello'?",
        "gauge.toml: frame.kind is 'fixd', 'line' or 'stuffed' or 'doubled' or 'fixed' or 'gap' was due",
        "gauge.toml: check.kind is 3, text was due",
        "gauge.toml: check.at is 'x', a whole number was due",
        "gauge.toml: record[0].length is True, a whole number was due",
        "gauge.toml: record[0].value.size is 'two', a whole number was due",
        UNKNOWN_UNIT,
        "gauge.toml: record[0].sign is missing",
        "gauge.toml: record[0].display.mm.scael is not known here; 'scale'?",
    ]


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        (
            "length = 6\n[check]",
            "length = 5\n[check]",
            "frame.length is 5, the length of all records was due ([6])",
        ),
        ("at = -1", "at = 0", "check.at is 0, a place from the end was due: -1 or less"),
        ("at = 1,", "at = 6,", "record[0].unit[0].at is 6, a byte of 0 to 5 was due"),
        ('"01" = "in"', '"01" = "ft"', "record[0].unit[0].means.01 is 'ft', one of mm, um, in"),
        (
            "at = 2, size = 3",
            "at = 4, size = 3",
            "record[0].value.at is 4: the value does not stand inside 6",
        ),
        ("mm = {", "um = {", "record[0].display.mm is missing: the record has readings in it"),
        (
            'scale = "0.001"',
            'scale = "x"',
            "record[0].display.mm.scale is 'x', a number above 0 in quotes was due",
        ),
        ('"0" = "aa"', '"9" = "aa"', "record[0].constants: the key '9' is no byte of 0 to 5"),
        ('"40/fe"', '"4g"', "record[0].constants.1 is '4g', hexadecimal was due"),
        ('kind = "xor8"', 'kind = "md5"', "check.kind is 'md5', one of xor8, sum8"),
        ("[frame]", "[frame", "TOML was due"),
    ],
)
def test_a_fault_in_a_file_names_the_key_what_came_and_what_was_due(old, new, fault):
    assert old in BINARY
    with pytest.raises(BadFormat) as caught:
        load(BINARY.replace(old, new), "gauge.toml")

    assert fault in str(caught.value)


def test_a_silence_ends_a_message_where_nothing_else_does():
    text = BINARY.replace('kind = "fixed"\nlength = 6', 'kind = "gap"\ngap = 0.03')
    decoder = Decoder(load(text, "gauge.toml"))
    decoder, early = decoder.feed(b"\xaa\x40\x39")
    decoder, cut_off = decoder.silence()
    decoder, later = decoder.feed(b"\xaa\x40\x39\x30\x00\xe3")
    decoder, whole = decoder.silence()

    assert early == later == []
    assert isinstance(cut_off[0], Garbled)
    assert whole == [Reading(12.345, "mm", 3, "\xaa\x40\x39\x30\x00\xe3")]
    assert decoder.silence()[1] == decoder.close() == []


@pytest.mark.parametrize("spread", ["abc", "1e999999", "NaN", "-0.1", "1"])
def test_a_spread_that_is_no_share_is_refused_and_stops_no_capture(spread):
    """It was taken as it came, and the first line that the gauge sent raised out of the dialect."""
    rounded = f'display = {{ decimals = 3, rounds = true, spread = "{spread}" }}'

    with pytest.raises(BadFormat, match="spread is"):
        load(TEXT.replace("display = { decimals = 3 }", rounded), "gauge.toml")


@pytest.mark.timeout(20)
@pytest.mark.parametrize(
    ("text", "why"),
    [
        (TEXT + "[[sentence]]\nmeans = []\n" * 100, "at most 64 were due"),
        (TEXT + "#" * 70_000, "at most 65536 were due"),
        ("".join(f"k{number} = 1\n" for number in range(5000)), "more faults than these"),
        (f"frame = [{'1, ' * 20_000}]", "a table was due"),
    ],
)
def test_what_is_far_more_than_any_gauge_needs_is_refused_in_a_page(text, why):
    with pytest.raises(BadFormat, match=why) as refused:
        load(text, "gauge.toml")

    assert len(str(refused.value)) < 25_000


def test_more_meanings_than_a_line_can_wait_for_are_refused():
    meaning = '{ before = "a", after = "", unit = "mm", sign = "+", display = { decimals = 3 } },'

    with pytest.raises(BadFormat, match="more than 256 meanings"):
        load(
            f'frame = {{ kind = "line", end = "\\r" }}\n[[sentence]]\nmeans = [{meaning * 300}]', "gauge.toml"
        )


@pytest.mark.parametrize(
    ("count", "why"),
    [
        ('order = "DCBA", width = 3', "width is 3, 0 or 17 to 24 bits were due for 3 bytes"),
        ('order = "DCBA", width = 25', "width is 25"),
        ('order = "BADC"', "size is 3, an even number of bytes was due"),
    ],
)
def test_a_count_that_its_bytes_cannot_hold_is_refused_in_words(count, why):
    """Found by fuzzing: the check of the file itself raised, and what Python said of it was shown."""
    with pytest.raises(BadFormat, match=why):
        load(BINARY.replace('order = "DCBA"', count), "gauge.toml")
