"""Numbers, units and formats are checked against the Bluetooth SIG's and IEEE's own worked examples."""

from __future__ import annotations

import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.dialect import Decoder, Dialect
from capture.dialects.gatt import (
    LENGTH,
    LINEAR_POSITION,
    LONGEST_VALUE,
    NUMBERS,
    STANDARD,
    TEMPERATURE,
    Presentation,
    battery,
    bordered,
    envelope,
    says,
    unit_of,
    whole,
)
from capture.events import Garbled, Reading

METRE, INCH, FOOT, KELVIN, CELSIUS, FAHRENHEIT = 0x2701, 0x27A2, 0x27A3, 0x2705, 0x272F, 0x27AC
PLAIN, PERCENT, ARCMINUTE = 0x2700, 0x27AD, 0x2764
UNSIGNED = dict(zip(range(0x01, 0x0C), (1, 2, 4, 8, 12, 16, 24, 32, 48, 64, 128), strict=True))
SIGNED = dict(zip(range(0x0C, 0x14), (8, 12, 16, 24, 32, 48, 64, 128), strict=True))


def heard(value: bytes, form: int, exponent: int = 0, unit: int = PLAIN, number: int = 0):
    return says(number, Presentation(form, exponent, unit), value, value.decode("latin-1"))


@pytest.mark.parametrize(
    ("exponent", "characteristic", "actual"),
    [(2, 23, 2300), (-3, 3892, 3.892)],
)
def test_the_exponent_works_as_in_the_core_specification(exponent, characteristic, actual):
    """Core Specification, volume 3, part G, 3.3.3.5.3: both examples (from memory)."""
    assert heard(struct.pack("<h", characteristic), 0x0E, exponent).value == actual


@pytest.mark.parametrize(
    ("value", "form", "actual", "digits"),
    [
        # The SIG's white paper "Personal Health Devices Transcoding": 36.4 and 114 (from memory).
        (b"\x6c\x01\x00\xff", 0x17, 36.4, 1),
        (b"\x72\x00", 0x16, 114.0, 0),
        (b"\xff\xff\xff\xff", 0x17, -0.1, 1),
        (b"\x6a\xef", 0x16, -1.50, 2),
    ],
)
def test_medical_floats_are_those_of_ieee_11073(value, form, actual, digits):
    reading = heard(value, form)

    assert (reading.value, reading.digits) == (actual, digits)


def test_a_mantissa_is_special_only_where_the_exponent_is_none():
    """ISO/IEEE 11073-20601: NaN is mantissa 2047 with exponent 0 (from memory)."""
    assert heard(b"\xff\x17", 0x16).value == 20470.0


@pytest.mark.parametrize("mantissa", [-2, -1, 0, 1, 2])
@pytest.mark.parametrize(("form", "bits", "width"), [(0x16, 12, 2), (0x17, 24, 4)])
def test_infinity_and_not_a_number_are_garbled(form, bits, width, mantissa):
    """Special values of ISO/IEEE 11073-20601: +INFINITY, NaN, NRes, reserved, -INFINITY."""
    word = (1 << (bits - 1)) + mantissa
    assert "not a number" in heard(word.to_bytes(width, "little"), form).why


@pytest.mark.parametrize(
    ("form", "exponent", "unit", "value", "reading"),
    [
        # There is no millimetre in Assigned Numbers: a micrometre's step is metre with exponent -6.
        (0x10, -6, METRE, struct.pack("<i", 55_012), (55.012, "mm", 3, "")),
        (0x0F, -7, METRE, (-123_456).to_bytes(3, "little", signed=True), (-12.3456, "mm", 4, "")),
        (0x06, -2, METRE, b"\x05\x00", (50.0, "mm", 0, "")),
        (0x10, -5, INCH, struct.pack("<i", 216_583), (2.16583 * 25.4, "mm", 5, "in")),
        (0x04, 0, FOOT, b"\x02", (609.6, "mm", 0, "ft")),
        (0x0E, -2, CELSIUS, struct.pack("<h", -1050), (-10.5, "degC", 2, "")),
        (0x06, -2, KELVIN, struct.pack("<H", 29_315), (20.0, "degC", 2, "K")),
        (0x0E, -1, FAHRENHEIT, struct.pack("<h", 680), (20.0, "degC", 1, "degF")),
        (0x0E, 0, ARCMINUTE, struct.pack("<h", 90), (1.5, "deg", 0, "arcmin")),
        (0x04, 0, PERCENT, b"\x57", (87.0, "%", 0, "")),
        (0x01, 0, PLAIN, b"\x01", (1.0, "1", 0, "")),
    ],
)
def test_units_become_ours_exactly(form, exponent, unit, value, reading):
    """Inch and foot of the international yard (1959); 20 °C = 293.15 K = 68 °F (SI brochure, ISO 1)."""
    said = heard(value, form, exponent, unit)

    assert (said.value, said.unit, said.digits, said.shown) == reading


def test_an_exponent_means_nothing_for_a_float():
    """Assigned Numbers: the exponent is for integer formats only."""
    assert heard(struct.pack("<f", 12.345), 0x14, -3).value == 12.345


def test_a_float_is_the_shortest_decimal_that_it_stands_for():
    """12.345 is not exactly a float; the gauge meant 12.345 all the same."""
    metres = heard(struct.pack("<f", 0.0550123), 0x14, unit=METRE)

    assert (metres.value, metres.digits) == (55.0123, 4)
    assert heard(struct.pack("<d", 0.0550123), 0x15, unit=METRE).value == 55.0123


@given(st.floats(width=32, allow_nan=False, allow_infinity=False))
def test_every_float_comes_back_as_itself(number):
    packed = struct.pack("<f", number)
    assert struct.pack("<f", heard(packed, 0x14).value) == struct.pack(
        "<f", abs(number) if number == 0 else number
    )


@pytest.mark.parametrize("number", [math.inf, -math.inf, math.nan])
def test_a_float_that_is_no_number_is_garbled(number):
    assert heard(struct.pack("<f", number), 0x14).why == "the value is not a finite number"
    assert heard(struct.pack("<d", number), 0x15).why == "the value is not a finite number"


def test_a_length_beyond_all_numbers_is_garbled():
    assert "too large" in heard(struct.pack("<d", 1e308), 0x15, unit=METRE).why


@given(st.data(), st.sampled_from(sorted(UNSIGNED | SIGNED)))
def test_every_integer_of_every_format_comes_back(data, form):
    """Little end first, two's complement; the unused bits of the last byte count for nothing."""
    bits = (UNSIGNED | SIGNED)[form]
    low, high = (0, 2**bits - 1) if form in UNSIGNED else (-(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    count = data.draw(st.integers(low, high) | st.sampled_from([low, high, 0]))
    width = (bits + 7) // 8
    spare = data.draw(st.integers(0, 2 ** (8 * width - bits) - 1)) << bits
    value = ((count & (2**bits - 1)) | spare).to_bytes(width, "little")

    assert heard(value, form).value == float(count)


@pytest.mark.parametrize("form", [*sorted(UNSIGNED | SIGNED), 0x14, 0x15, 0x16, 0x17])
def test_a_value_of_another_length_than_its_format_is_garbled(form):
    width = 17
    assert f"a value of {width} bytes where its format has" in heard(bytes(width), form).why
    assert "a value of 0 bytes" in heard(b"", form).why


@pytest.mark.parametrize("form", [0x00, 0x18, 0x19, 0x1A, 0x1B, 0x1C, 0x1D, 0xFF])
def test_what_the_format_does_not_say_needs_a_dialect(form):
    assert "name a dialect" in heard(b"12.345", form).why
    assert unit_of(Presentation(form, 0, METRE)) is None


def test_a_unit_of_no_gauge_is_garbled_by_its_number():
    """0x2724 is pressure, pascal."""
    assert heard(b"\x01", 0x04, unit=0x2724).why == "unit 0x2724 is none of a length or a temperature"


@pytest.mark.parametrize(
    ("number", "value", "reading"),
    [
        # Resolutions of 0.01 °C and 1e-7 m: GATT Specification Supplement (lengths from third-party code).
        (TEMPERATURE, struct.pack("<h", 2034), (20.34, "degC", 2)),
        (LINEAR_POSITION, struct.pack("<i", -123_456), (-12.3456, "mm", 4)),
        (LENGTH, struct.pack("<I", 550_123), (55.0123, "mm", 4)),
    ],
)
def test_standard_characteristics(number, value, reading):
    said = says(number, STANDARD[number], value, "")

    assert (said.value, said.unit, said.digits) == reading


@pytest.mark.parametrize(
    ("number", "value"),
    [(TEMPERATURE, b"\x00\x80"), (LINEAR_POSITION, b"\xff\xff\xff\x7f"), (LENGTH, b"\xff\xff\xff\xff")],
)
def test_a_standard_characteristic_can_say_that_it_does_not_know(number, value):
    assert "does not know" in says(number, STANDARD[number], value, "").why


@pytest.mark.parametrize(
    ("value", "level"), [(b"\x57", 87.0), (b"\x00", 0.0), (b"\x64", 100.0), (b"\x65", None), (b"", None)]
)
def test_a_battery_level_is_0_to_100(value, level):
    """Battery Service 1.0, 3.1: 0 to 100, other values are reserved."""
    assert battery(value) == level


def test_a_presentation_format_has_seven_bytes():
    assert Presentation.unpack(b"\x10\xfa\x01\x27\x01\x00\x00") == Presentation(0x10, -6, METRE)
    with pytest.raises(ValueError, match="7 bytes, not 6"):
        Presentation.unpack(bytes(6))


def through(dialect: Dialect, chunks: list[bytes]) -> list[Reading | Garbled]:
    decoder, facts = Decoder(dialect), []
    for chunk in chunks:
        decoder, more = decoder.feed(chunk)
        facts += more
    return facts + decoder.close()


MICROMETRES = Presentation(0x10, -6, METRE)
values = st.lists(
    st.binary(max_size=8) | st.integers(-(2**31), 2**31 - 1).map(lambda n: struct.pack("<i", n))
)


@given(values, st.integers(1, 9))
def test_values_keep_their_borders_however_they_are_chunked(sent, size):
    stream = b"".join(envelope(value, 0, MICROMETRES) for value in sent)
    chunks = [stream[at : at + size] for at in range(0, len(stream), size)]

    facts = through(NUMBERS, chunks)

    assert [fact.raw.encode("latin-1")[11:] for fact in facts] == sent
    assert [isinstance(fact, Reading) for fact in facts] == [len(value) == 4 for value in sent]


@given(st.binary(max_size=2000))
def test_garbage_never_raises_and_no_byte_is_lost(garbage):
    facts = through(NUMBERS, [garbage])

    assert "".join(fact.raw for fact in facts).encode("latin-1") == garbage


@given(st.integers(0, 0xFFFF), st.binary(min_size=7, max_size=7), st.binary(max_size=20))
def test_any_descriptor_with_any_value_says_something(number, descriptor, value):
    (fact,) = through(NUMBERS, [envelope(value, number, Presentation.unpack(descriptor))])

    assert isinstance(fact, Reading | Garbled)


def test_a_recorded_reading_can_be_read_again_from_its_raw_alone():
    (fact,) = through(NUMBERS, [envelope(struct.pack("<I", 550_123), LENGTH, STANDARD[LENGTH])])

    assert NUMBERS.read(fact.raw) == fact


@pytest.fixture
def lines() -> Dialect:
    """Millimetres in lines, each ended by a line feed where it has an end."""

    def read(piece: str) -> Reading | Garbled | None:
        text = piece.strip()
        if not text:
            return None
        return Reading(float(text), "mm", 3, piece) if text.isdigit() else Garbled("no number", piece)

    return Dialect("lines", lambda data: data.find(b"\n") + 1, read, 16, hello=b"H", ask=b"A")


def test_any_dialect_can_read_whole_values(lines):
    dialect = whole(lines)
    sent = [b"55", b"12\n", b"x", b"\n", b"1\n2\n", b"9" * LONGEST_VALUE + b"9"]

    facts = through(dialect, [b"".join(map(bordered, sent))])

    assert [getattr(fact, "value", fact) for fact in facts[:2]] == [55.0, 12.0]
    assert [fact.why for fact in facts[2:]] == [
        "no number",
        "more than one piece in a value: with bytes = true it is read as a stream",
        f"a value of more than {LONGEST_VALUE} bytes, which none may have; the rest was dropped",
    ]
    assert (dialect.hello, dialect.ask) == (b"H", b"A")


@given(st.lists(st.binary(max_size=30)), st.integers(1, 5))
def test_whole_values_lose_no_byte_however_they_are_chunked(sent, size):
    dialect = whole(Dialect("bytes", lambda _: 0, lambda piece: Garbled("", piece), 99))
    stream = b"".join(map(bordered, sent))

    facts = through(dialect, [stream[at : at + size] for at in range(0, len(stream), size)])

    assert "".join(fact.raw for fact in facts).encode("latin-1") == stream
