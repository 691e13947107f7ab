"""What is learnt from random gauges is right or refused: never wrong."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pymodbus.framer import FramerRTU

from capture.dialects.dialect import Decoder
from capture.dialects.taught.format_files import read_format, write_format
from capture.dialects.taught.formats import decoded, dialect
from capture.dialects.taught.records import DisplayValue
from capture.events import Garbled, Reading
from capture.teaching.learner import Example, Learnt, learn, number
from tests.capture.teaching import families
from tests.capture.teaching.lesson_player import measured


def examples_of(gauge: Any, readings: list[Any]) -> list[Example]:
    return [Example(gauge.capture(steps, unit), unit.shown(steps), unit.name) for steps, unit in readings]


def tried(lesson: Learnt, gauge: Any, taught: list[Any], count: int = 20) -> str:
    """How a lesson reads the same gauge within the range that was taught: exact, refuses or wrong."""
    if lesson.format is None:
        return "nothing"
    most = {unit.name: max(abs(steps) for steps, own in taught if own is unit) for _, unit in taught}
    units = [unit for unit in gauge.units if unit.name in most]
    worst = "exact"
    for _ in range(count):
        unit = gauge.random.choice(units)
        steps = gauge.random.randint(-most[unit.name], most[unit.name])
        said = {
            each
            for _, each in decoded(lesson.format, gauge.capture(steps, unit))
            if isinstance(each, DisplayValue)
        }
        if said - {DisplayValue(unit.shown(steps), unit.name)}:
            return "wrong"
        worst = worst if said else "refuses"
    return worst


def test_98_of_100_random_gauges_are_learnt_exactly_from_guided_readings_and_none_wrongly(gauge):
    found = Counter()
    for seed in range(70_000, 70_150):
        one = gauge(seed)
        taught = one.guided()
        found[tried(learn(examples_of(one, taught)), one, taught)] += 1

    assert found["wrong"] == 0
    assert found["exact"] >= 0.98 * found.total()


def test_whatever_readings_are_shown_nothing_is_learnt_wrongly(gauge):
    found = Counter()
    for seed in range(71_000, 71_060):
        one = gauge(seed)
        taught = one.unguided()
        found[tried(learn(examples_of(one, taught)), one, taught)] += 1

    assert found["wrong"] == 0
    assert found["exact"] > 0


def test_what_was_learnt_reads_back_what_it_was_taught_from(gauge):
    for seed in range(72_000, 72_040):
        one = gauge(seed)
        examples = examples_of(one, one.guided())
        format_ = learn(examples).format
        if format_ is None:
            continue
        for example in examples:
            said = [each for _, each in decoded(format_, example.chunks) if isinstance(each, DisplayValue)]
            assert DisplayValue(example.shown, example.unit) in said


def test_a_format_goes_through_its_file_unchanged(gauge):
    for seed in range(73_000, 73_040):
        one = gauge(seed)
        format_ = learn(examples_of(one, one.guided())).format
        if format_ is not None:
            assert read_format(write_format(format_), "gauge.toml") == format_


def test_a_damaged_frame_with_a_check_is_never_read_as_something_else(gauge):
    damaged = 0
    for seed in range(74_000, 74_060):
        one = gauge(seed)
        taught = one.guided()
        format_ = learn(examples_of(one, taught)).format
        if format_ is None or format_.check is None or not one.protected:
            continue
        for steps, unit in taught:
            frame = bytearray(one.frame(steps, unit))
            frame[one.random.randrange(len(frame))] ^= 1 << one.random.randrange(8)
            said = {
                each for _, each in decoded(format_, ((0.0, bytes(frame)),)) if isinstance(each, DisplayValue)
            }
            damaged += 1
            assert said <= {DisplayValue(unit.shown(steps), unit.name)}

    assert damaged > 50


def test_a_mistyped_reading_is_named_and_teaches_nothing_wrong(gauge):
    named = 0
    for seed in range(75_000, 75_012):
        one = gauge(seed)
        taught = one.guided()
        examples = examples_of(one, taught)
        place = one.random.randrange(5)
        text = list(f"{examples[place].shown:f}")
        digit = one.random.choice([at for at, character in enumerate(text) if character.isdigit()])
        text[digit] = str((int(text[digit]) + one.random.randint(1, 9)) % 10)
        examples[place] = Example(examples[place].chunks, Decimal("".join(text)), examples[place].unit)
        lesson = learn(examples)
        named += lesson.mistyped == place

        assert lesson.mistyped in (place, None)
        assert tried(lesson, one, taught[:place] + taught[place + 1 :], 5) != "wrong"

    assert named >= 10


def pressed(*said: tuple[bytes, str, str]) -> list[Example]:
    return [Example(((0.0, frame),), Decimal(shown), unit) for frame, shown, unit in said]  # type: ignore[arg-type]


LINES = (
    (b"A+12.345 mm\r\n", "12.345", "mm"),
    (b"A-03.210 mm\r\n", "-3.210", "mm"),
    (b"A+00.017 mm\r\n", "0.017", "mm"),
    (b"A+0.4860 in\r\n", "0.4860", "in"),
    (b"A-0.1264 in\r\n", "-0.1264", "in"),
)


def read(lesson: Learnt, frame: bytes) -> DisplayValue | str:
    assert lesson.format is not None
    [(_, said)] = decoded(lesson.format, ((0.0, frame),))
    return said


def test_a_line_is_learnt_with_its_channel_sign_and_units():
    lesson = learn(pressed(*LINES))

    assert read(lesson, b"A-07.654 mm\r\n") == DisplayValue(Decimal("-7.654"), "mm")
    assert read(lesson, b"A+0.1000 in\r\n") == DisplayValue(Decimal("0.1000"), "in")
    assert lesson.open == ()


@pytest.mark.parametrize(
    "frame",
    [b"B+07.654 mm\r\n", b"A+07.654 ms\r\n", b"A+07.654 mm*\r\n", b"A 07.654 mm\r\n", b"+07.654 mm\r\n"],
)
def test_words_that_never_changed_are_constants(frame):
    said = read(learn(pressed(*LINES)), frame)

    assert isinstance(said, str)


def test_a_bit_that_never_changed_is_a_constant():
    """A status byte was always 00: when it changes, it may mean anything."""
    counts = (12345, -3210, 17, 20000, -15000)
    said = [
        (b"\xaa\x00" + count.to_bytes(2, "big", signed=True), f"{count / 1000:.3f}", "mm") for count in counts
    ]
    lesson = learn(pressed(*said))

    assert read(lesson, b"\xaa\x00\x03\xe8") == DisplayValue(Decimal("1.000"), "mm")
    assert read(lesson, b"\xaa\x01\x03\xe8") == "byte 1 is 01, 00 was due: it never changed while taught"


def test_a_negative_reading_that_was_never_shown_is_refused_and_asked_for():
    lesson = learn(pressed(LINES[0], LINES[2], (b"A+07.111 mm\r\n", "7.111", "mm")))

    assert isinstance(read(lesson, b"A-03.210 mm\r\n"), str)
    assert "show a negative reading" in lesson.open


def test_a_unit_that_was_never_shown_is_refused():
    lesson = learn(pressed(*LINES[:3]))

    assert isinstance(read(lesson, b"A+0.4860 in\r\n"), str)
    assert any("unit key" in question for question in lesson.open)


def test_two_values_that_were_the_same_while_taught_are_read_only_where_they_agree():
    """A frame with the reading and its maximum, equal in all examples."""
    said = [
        (f"{shown} max {shown} mm\r".encode(), shown, "mm")
        for shown in ("12.345", "3.210", "0.170", "8.112", "9.003")
    ]
    lesson = learn(pressed(*said))

    assert read(lesson, b"4.500 max 4.500 mm\r") == DisplayValue(Decimal("4.500"), "mm")
    assert read(lesson, b"4.500 max 9.003 mm\r") == (
        "this can be read as 4.500 mm or 9.003 mm: teach another reading to tell which"
    )
    assert any("more than one way" in question for question in lesson.open)


def test_a_stream_that_begins_inside_a_number_is_not_read_there():
    """`2.345` may be the rest of `12.345`: nothing before the number would tell."""
    said = [
        (f"{shown}\r\n".encode() * 4, shown, "mm") for shown in ("12.345", "-3.210", "0.17", "8.1", "-9.003")
    ]
    lesson = learn(pressed(*said))
    assert lesson.format is not None
    said_then = decoded(lesson.format, ((0.0, b"2.345\r\n12.345\r\n12.346\r\n"),))

    assert [each for _, each in said_then] == [
        "the first piece after opening may have lost its head",
        DisplayValue(Decimal("12.345"), "mm"),
        DisplayValue(Decimal("12.346"), "mm"),
    ]


def test_an_exponent_that_lost_its_head_is_not_read_as_a_number():
    """`+0,MM` is the end of `+1.23450E+0,MM`, and begins with a plus as whole numbers do."""
    texts = {shown: f"{Decimal(shown):+.5E},MM\r\n".encode() for shown in ("1.234", "-3.210", "0.017", "2.5")}
    lesson = learn(pressed(*((line * 4, shown, "mm") for shown, line in texts.items())))
    assert lesson.format is not None
    first, *_ = decoded(lesson.format, ((0.0, b"+0,MM\r\n" + texts["1.234"] * 2),))

    assert isinstance(first[1], str)


def test_a_word_that_judges_the_reading_is_learnt_and_an_unknown_one_refused():
    lines = (("12.345", ">", "mm"), ("-3.210", "<", "mm"), ("0.017", "=", "mm"), ("0.4860", ">", "in"))
    lesson = learn(pressed(*((f"{word} {n} {unit}\r".encode(), n, unit) for n, word, unit in lines)))

    assert read(lesson, b"= 0.0100 in\r") == DisplayValue(Decimal("0.0100"), "in")
    assert isinstance(read(lesson, b"? 0.0100 in\r"), str)


def test_the_channel_that_the_display_shows_is_read_beside_others():
    lines = (("-7.1", "12.345"), ("0.25", "-3.210"), ("18.0", "0.017"), ("-0.5", "7.891"))
    lesson = learn(pressed(*((f"A{other}, B{n} mm\r".encode(), n, "mm") for other, n in lines)))

    assert read(lesson, b"A-20.75, B1.000 mm\r") == DisplayValue(Decimal("1.000"), "mm")
    assert isinstance(read(lesson, b"A-20.75, C1.000 mm\r"), str)


def test_seven_bits_with_even_parity_are_learnt_though_the_line_is_set_to_eight():
    """ISO/IEC 646 in seven bits; the parity bit makes the number of ones even."""

    def even(data: bytes) -> bytes:
        return bytes(byte | 0x80 * (byte.bit_count() % 2) for byte in data)

    lesson = learn(pressed(*((even(line), shown, unit) for line, shown, unit in LINES)))
    frame = even(b"A-07.654 mm\r\n")

    assert read(lesson, frame) == DisplayValue(Decimal("-7.654"), "mm")
    assert read(lesson, frame[:3] + bytes([frame[3] ^ 1]) + frame[4:]) == "byte 3 is b6: its parity is wrong"
    assert read_format(write_format(lesson.format), "gauge.toml") == lesson.format


def test_messages_one_behind_the_other_are_learnt_by_their_head_and_check_or_not_at_all():
    """Without a head, a sum that looks right wherever a message is cut tells nothing."""
    endless = families.FAMILIES.index(families.endless_count)
    outcomes = [measured(families.design(seed, endless)) for seed in range(8)]

    assert sum(each.learnt for each in outcomes) >= 4
    assert sum(each.wrong for each in outcomes) == 0


def test_registers_framed_by_another_library_are_learnt_with_their_check():
    """Reference: the CRC of pymodbus, an independent implementation of Modbus RTU."""
    said = []
    for count in (12345, -3210, 17, 20000, -15000):
        body = b"\x01\x04\x02" + count.to_bytes(2, "big", signed=True)
        frame = body + FramerRTU.compute_CRC(body).to_bytes(2, "big")
        said.append((frame, f"{count / 1000:.3f}", "mm"))
    lesson = learn(pressed(*said))

    assert lesson.format is not None
    assert lesson.format.check is not None
    assert lesson.format.check.kind == "crc16-modbus"
    assert read(lesson, said[1][0]) == DisplayValue(Decimal("-3.210"), "mm")


@pytest.mark.parametrize("signed", ["complement", "magnitude", "offset", "ones"])
@pytest.mark.parametrize("order", ["big", "little"])
def test_counts_signed_in_each_way_are_told_apart(signed, order):
    coded = {
        "complement": lambda n: n % 65536,
        "magnitude": lambda n: abs(n) | 0x8000 * (n < 0),
        "offset": lambda n: n + 32768,
        "ones": lambda n: n if n >= 0 else 65535 + n,
    }[signed]
    frames = {n: b"\xaa\x55" + coded(n).to_bytes(2, order) for n in (12345, -3210, 17, 20000, -15000, -1000)}
    said = [(frame, f"{n / 1000:.3f}", "mm") for n, frame in frames.items()]

    assert read(learn(pressed(*said[:-1])), frames[-1000]) == DisplayValue(Decimal("-1.000"), "mm")


def test_a_word_of_24_bits_sent_half_byte_by_half_byte_is_learnt_with_its_sign_and_unit_bits():
    """Worked by hand: magnitude in the low bits, bit 20 the sign, bit 23 the unit, low half bytes first."""

    def word(steps: int, inch: int) -> bytes:
        bits = abs(steps) | (steps < 0) << 20 | inch << 23
        parts = [bits >> shift & 15 for shift in range(0, 24, 4)]
        return bytes(a << 4 | b for a, b in zip(parts[::2], parts[1::2], strict=True))

    taught = (
        (14357, 0, "143.57"),
        (-6602, 0, "-66.02"),
        (435, 0, "4.35"),
        (9057, 1, "0.9057"),
        (-8769, 1, "-0.8769"),
    )
    lesson = learn(pressed(*((word(n, inch), shown, "in" if inch else "mm") for n, inch, shown in taught)))

    assert word(-1, 1) == b"\x10\x00\x09"
    assert read(lesson, word(-12345, 0)) == DisplayValue(Decimal("-123.45"), "mm")
    assert read(lesson, word(1234, 1)) == DisplayValue(Decimal("0.1234"), "in")


def test_a_count_whose_top_bit_was_never_seen_is_not_read_with_it():
    """50000 may as well be a negative count: no negative one was ever shown."""
    frames = {n: b"\xaa\x55" + n.to_bytes(2, "big") for n in (12345, 3210, 17, 20000, 15000, 50000)}
    said = [(frame, f"{n / 1000:.3f}", "mm") for n, frame in frames.items()]

    assert "beyond all that was taught" in str(read(learn(pressed(*said[:-1])), frames[50000]))


def test_decimals_tell_the_unit_where_nothing_else_does():
    lines = (("12.345", "mm"), ("-3.210", "mm"), ("0.017", "mm"), ("0.4860", "in"), ("-0.1264", "in"))
    lesson = learn(pressed(*((f"{shown}\r\n".encode(), shown, unit) for shown, unit in lines)))

    assert read(lesson, b"1.000\r\n") == DisplayValue(Decimal("1.000"), "mm")
    assert read(lesson, b"1.0000\r\n") == DisplayValue(Decimal("1.0000"), "in")
    assert isinstance(read(lesson, b"1.00\r\n"), str)


def test_units_that_nothing_in_the_frames_tells_apart_are_said():
    """Numbers with exponents (in the manner of IEEE 488.2) look the same in both units."""
    lines = (("12.345", "mm"), ("-3.210", "mm"), ("0.017", "mm"), ("0.4860", "in"), ("-0.1264", "in"))
    lesson = learn(pressed(*((b"%+.5E\n" % float(shown), shown, unit) for shown, unit in lines)))

    assert lesson.format is None
    assert "nothing in the messages tells the unit" in lesson.open[0]


def test_two_presses_in_one_capture_are_no_stream():
    numbers = ("12.345", "-3.210", "0.17", "8.1", "-9.003")
    examples = [
        Example(tuple((at, f"{text}\r".encode()) for at in (0.0, 1.5)), Decimal(text), "mm")
        for text in numbers
    ]

    assert read(learn(examples), b"2.345\r") == DisplayValue(Decimal("2.345"), "mm")


def test_too_little_teaches_nothing():
    lesson = learn(pressed(LINES[0]))

    assert lesson == Learnt(None, (), ("show another reading, far from those before",))
    assert learn([]).format is None


def test_readings_that_are_not_in_the_frames_teach_nothing():
    said = [
        (frame, shown, "mm")
        for (frame, _, _), shown in zip(LINES, ("1", "2.5", "7", "9.9", "3"), strict=True)
    ]
    lesson = learn(pressed(*said))

    assert lesson.format is None
    assert "nothing explains" in lesson.open[0]


@pytest.mark.parametrize(
    ("text", "due"), [("12,345", "12.345"), (" -.5 ", "-0.5"), ("\N{MINUS SIGN}3.10", "-3.10"), ("7", "7")]
)
def test_numbers_are_taken_as_people_type_them(text, due):
    assert number(text) == Decimal(due)
    assert -number(text).as_tuple().exponent == max(0, -Decimal(due).as_tuple().exponent)


@pytest.mark.parametrize("text", ["", "12.3.4", "nan", "1e5", "12 345", "٣"])
def test_what_is_no_number_is_said_to_be_none(text):
    with pytest.raises(ValueError, match="is no number: type it as the display shows it"):
        number(text)


SEEDS = st.integers(76_000, 76_030)


@settings(max_examples=40)
@given(seed=SEEDS, noise=st.binary(max_size=60), cuts=st.lists(st.integers(0, 200), max_size=6))
def test_taught_dialects_lose_no_byte_and_hear_the_same_however_bytes_are_cut(gauge, seed, noise, cuts):
    """The laws of all dialects: chunking, no byte lost, garbage never raises."""
    one = gauge(seed)
    taught = one.guided()
    format_ = learn(examples_of(one, taught)).format
    if format_ is None:
        return
    data = noise + b"".join(one.frame(steps, unit) for steps, unit in taught) + noise[::-1]
    places = sorted({0, len(data), *(cut for cut in cuts if cut < len(data))})
    chunks = [data[a:b] for a, b in pairwise(places)]

    def all_of(pieces: list[bytes]) -> list[Reading | Garbled]:
        decoder, said = Decoder(dialect(format_, "taught")), []
        for piece in pieces:
            decoder, now = decoder.feed(piece)
            said += now
        return said + decoder.close()

    whole = all_of([data])
    lost = data.decode("latin-1")
    for each in whole:
        before, found, lost = lost.partition(each.raw)
        assert found
        assert not before.strip("\r\n \0")
    assert all_of(chunks) == whole
    assert not lost.strip("\r\n \0")
