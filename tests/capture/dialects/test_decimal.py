from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Decoder
from capture.events import Garbled, Reading


def heard(data, **settings):
    decoder, facts = Decoder(decimal_line(**settings)).feed(data)
    decoder, last = decoder.silence()

    assert decoder.pending == b""

    return facts + last


def value(line, **settings):
    (fact,) = heard(line + b"\r", **settings)

    assert isinstance(fact, Reading), fact

    return fact.value, fact.unit, fact.digits, fact.shown


def refusal(line, **settings):
    (fact,) = heard(line + b"\r", **settings)

    assert isinstance(fact, Garbled), fact
    assert fact.raw.encode("latin-1") == line + b"\r"

    return fact.why


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n"])
def test_a_line_ends_with_cr_lf_or_both(end):
    facts = heard(b"+1.250" + end + b"-0.003" + end)

    assert [fact.value for fact in facts] == [1.25, -0.003]
    assert [fact.raw.encode("latin-1") for fact in facts] == [b"+1.250" + end, b"-0.003" + end]


def test_an_lf_that_comes_late_still_belongs_to_its_line():
    decoder, early = Decoder(decimal_line()).feed(b"+1.250\r")
    decoder, first = decoder.feed(b"\n+1.2")
    decoder, second = decoder.feed(b"51\r\n")

    assert early == []
    assert [fact.raw for fact in first + second] == ["+1.250\r\n", "+1.251\r\n"]
    assert decoder.close() == []


def test_a_silence_ends_a_line_with_a_lone_cr_and_no_unfinished_one():
    """A pause in the middle of a number must not make another number of it."""
    decoder, _ = Decoder(decimal_line()).feed(b"+1.2")
    decoder, cut = decoder.silence()
    decoder, _ = decoder.feed(b"50\r")
    decoder, whole = decoder.silence()

    assert cut == []
    assert [fact.value for fact in whole] == [1.25]
    assert decoder.close() == []


@pytest.mark.parametrize(
    ("line", "due"),
    [
        (b"1.250", 1.25),
        (b"+1.250", 1.25),
        (b"-1.250", -1.25),
        (b"-   1.250", -1.25),
        (b"  -01.250  ", -1.25),
        (b"1,250", 1.25),
        (b"-.250", -0.25),
        (b",5", 0.5),
        (b"00055", 55.0),
        (b"-0.000", 0.0),
        (b"\t12.5\t", 12.5),
    ],
)
def test_a_number_may_be_written_as_instruments_write_it(line, due):
    assert value(line)[0] == due


def test_a_reading_keeps_its_bytes_and_the_digits_it_showed():
    assert heard(b"+055.0120 mm\r\n") == [Reading(55.012, "mm", 4, "+055.0120 mm\r\n")]


@pytest.mark.parametrize(
    ("line", "due"),
    [
        (b"1.250 mm", (1.25, "mm", 3, "")),
        (b"1.250MM", (1.25, "mm", 3, "")),
        (b"1250 \xb5m", (1.25, "mm", 0, "um")),
        (b"1250.5um", (1.2505, "mm", 1, "um")),
        (b"2.00000 in", (50.8, "mm", 5, "in")),
        (b"2.00000 inch", (50.8, "mm", 5, "in")),
        (b'-0.5"', (-12.7, "mm", 1, "in")),
    ],
)
def test_lengths_come_in_any_unit(line, due):
    assert value(line) == due


# ISO 80000-5: 0 degC is 273.15 K, and a degree Fahrenheit is 5/9 K with 32 degF at 0 degC.
@pytest.mark.parametrize(
    ("line", "due"),
    [
        (b"20.0 C", (20.0, "degC", 1, "")),
        (b"20.0\xb0C", (20.0, "degC", 1, "")),
        (b"68.0 F", (20.0, "degC", 1, "degF")),
        (b"-40 degF", (-40.0, "degC", 0, "degF")),
        (b"293.15 K", (20.0, "degC", 2, "K")),
    ],
)
def test_temperatures_come_in_any_unit(line, due):
    assert value(line, unit="degC") == due


def test_a_bare_number_is_in_the_unit_of_the_sheet():
    assert value(b"2.16535", unit="in") == (54.99989, "mm", 5, "in")
    assert value(b"68", unit="degF") == (20.0, "degC", 0, "degF")


def test_an_instrument_switched_to_the_other_unit_is_believed_and_says_so():
    assert value(b"55.000 mm", unit="in") == (55.0, "mm", 3, "")
    assert value(b"2.16535 in", unit="mm") == (54.99989, "mm", 5, "in")


def test_another_quantity_than_the_sheet_has_is_garbled():
    assert refusal(b"20.0 C", unit="mm") == "the line says degC, mm was due"


@given(st.decimals(-9999, 9999, places=5))
def test_an_inch_is_25_4_mm_without_a_trace_of_rounding(number):
    """The double nearest to the exact product, which float multiplication misses in many cases."""
    assert value(f"{number} in".encode())[0] == float(number * Decimal("25.4"))


@pytest.mark.parametrize(
    "line",
    [
        b"1: +1.250",
        b"1:1.250",
        b"A 1.250",
        b"A+1.250",
        b"CH2=1.250",
        b"ch 2: 1.250 mm",
        b"01A+001.250",
        b"B2 1.25",
    ],
)
def test_a_channel_is_read_over_where_none_is_set(line):
    assert value(line)[0] == 1.25


@pytest.mark.parametrize(
    ("line", "channel"),
    [
        (b"1:+1.250 2:-0.003", "1"),
        (b"2:-0.003;1:+1.250", "1"),
        (b"A +1.250 mm, B -0.003 mm", "A"),
        (b"CH1=9.999 CH2=1.250", "ch2"),
        (b"1 +1.250", "1"),
        (b"01A+1.250", "01A"),
        (b"DIA: 1.250", "DIA"),
        (b"-0.003 1.250", "#2"),
        (b"+1.250,-0.003", "#1"),
        (b"A 9 1.250", "#2"),
    ],
)
def test_a_channel_picks_one_number_of_a_line(line, channel):
    assert value(line, channel=channel)[0] == 1.25


@pytest.mark.parametrize(("line", "channel"), [(b"2:+1.250", "1"), (b"B 1.250", "A"), (b"2 +1.250", "1")])
def test_other_channels_say_nothing(line, channel):
    assert heard(line + b"\r", channel=channel) == []


@pytest.mark.parametrize(
    ("line", "channel", "why"),
    [
        (b"1.250 2.250", None, "2 numbers on one line"),
        (b"A 1.250 B 2.250", None, "2 numbers on one line"),
        (b"1 234.5", None, "2 numbers on one line"),
        (b"1.250", "1", "a number without a channel"),
        (b"1:1.250 1:2.250", "1", "channel 1 comes 2 times"),
        (b"1.250", "#2", "1 numbers on the line, number 2 was due"),
    ],
)
def test_what_number_counts_is_never_guessed(line, channel, why):
    assert why in refusal(line, channel=channel)


@pytest.mark.parametrize(
    "line",
    [
        *(b"nan", b"NaN", b"inf", b"-inf", b"1e3", b"1.5E-3", b"0x1.8p3", b"1_000", b"1,234.5", b"1.234,5"),
        *(
            b"1.2.3",
            b"--1",
            b"+-1",
            b"1.250-",
            b"5.",
            b"+",
            b".",
            b"ERR",
            b"ERR 5",
            b"E 5",
            b"E4",
            b"Low batt 3",
        ),
        *(b"12:34", b"12:34:56", b"1.250 mm OK", b"1.250 kg", b"1.250 mm2", b"12A1.5", b"\xb2", b"\x001.250"),
        *(b"1.250\x00", b"1.\xff50", b"1'250", b"1.250mmm", b"A1.5", b"=1.5", b":1.5", b"1.5;", b"1,2,3"),
    ],
)
def test_anything_else_is_garbled(line):
    assert refusal(line)


def test_a_number_longer_than_a_double_holds_is_garbled():
    assert "15 digits" in refusal(b"0.123456789012345")
    assert value(b"0.12345678901234")[0] == 0.12345678901234


def test_the_end_of_a_line_that_was_too_long_is_no_reading():
    facts = heard(b"1" * 128 + b"1.250\r1.251\r")

    assert [type(fact) for fact in facts] == [Garbled, Garbled, Reading]
    assert facts[2].value == 1.251


def test_a_first_line_that_was_on_its_way_when_the_link_opened_is_no_reading():
    for head in (b"5.0123\r\n", b"\r\n", b"5.01"):
        decoder, early = Decoder(decimal_line()).midway().feed(head)
        _, late = decoder.feed(b"4\r\n+55.012\r\n" if head == b"5.01" else b"+55.012\r\n")

        first, then = early + late
        assert isinstance(first, Garbled)
        assert "its head may be cut off" in first.why
        assert (first.raw, then.value) == (head.decode() + "4\r\n" * (head == b"5.01"), 55.012)


def test_a_first_line_with_a_lone_cr_is_given_up_too_when_silence_ends_it():
    decoder, facts = Decoder(decimal_line()).midway().feed(b"5.012\r")
    decoder, late = decoder.silence()

    assert [type(fact) for fact in facts + late] == [Garbled]
    assert decoder.feed(b"+55.012\r\n")[1][0].value == 55.012


def test_a_line_without_an_end_is_bounded():
    decoder, facts = Decoder(decimal_line(longest=16)).feed(b"1" * 40)

    assert [len(fact.raw) for fact in facts] == [16, 16]
    assert all(isinstance(fact, Garbled) for fact in facts)
    assert decoder.pending == b"1" * 8


@given(
    st.decimals(-999, 999, places=4), st.sampled_from(["", "A ", "1:", "CH2=", "01A"]), st.sampled_from(".,")
)
def test_what_is_written_is_what_is_read(number, channel, point):
    line = f"{channel}{number:+.4f}\r\n".replace(".", point).encode()

    (fact,) = heard(line)

    assert (fact.value, fact.digits) == (float(number), 4)
