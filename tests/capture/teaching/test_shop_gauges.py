"""Gauges as shops have them, taught and then heard; every format is invented for its test."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.dialects.dialect import Decoder
from capture.dialects.taught.formats import dialect
from capture.events import Garbled, Reading
from capture.teaching.learner import Example, learn, number

SHOWN = ("23.417", "-17.052", "0.031", "14.806", "-6.293")


def taught(frame, shown=SHOWN, unit="mm"):
    """The dialect learnt from one press for each of *shown*."""
    examples = [Example(((10.0, frame(one)),), number(one), unit) for one in shown]
    learnt = learn(examples)
    assert learnt.format is not None, learnt.open
    return Decoder(dialect(learnt.format, "taught"))


def heard(decoder, data):
    """What is made of one press."""
    decoder, facts = decoder.feed(data)
    return [*facts, *decoder.silence()[1]]


def value(decoder, data):
    (fact,) = heard(decoder, data)
    assert isinstance(fact, Reading), fact
    return fact.value


def test_inches_are_written_as_fractions():
    shown = ("1 35/64", "-23/32", "3/64", "1/2", "-1 7/8", "2")
    gauge = taught(lambda one: f"{one} in\r\n".encode(), shown, "in")

    assert value(gauge, b"5/16 in\r\n") == pytest.approx(7.9375)  # 5/16 inch, ANSI B1.1 tap drill tables
    assert value(gauge, b"-1 1/64 in\r\n") == pytest.approx(-25.796875)
    assert value(gauge, b"3 in\r\n") == pytest.approx(76.2)


@pytest.mark.parametrize("typed", ["1/3", "7/", "/8", "1 2 3/4", "1/2/4"])
def test_what_is_no_fraction_of_an_inch_is_refused(typed):
    with pytest.raises(ValueError, match="no number"):
        number(typed)


def test_a_fraction_is_typed_as_it_is_shown():
    assert [number(text) for text in ("1 35/64", "-3/4", "2-1/8")] == [
        Decimal("1.546875"), Decimal("-0.75"), Decimal("2.125"),
    ]  # fmt: skip


def test_the_hour_did_not_change_in_the_lesson_and_does_later():
    seconds = iter(range(10, 59, 7))
    gauge = taught(lambda one: f"04:56:{next(seconds)} {one} mm\r\n".encode())

    assert value(gauge, b"17:03:44 8.125 mm\r\n") == 8.125


@pytest.mark.parametrize("blank", ["", " "])
def test_another_channel_goes_below_zero_after_the_lesson(blank):
    others = iter((3.125, 11.062, 7.777, 0.415, 19.004))
    gauge = taught(lambda one: f"{one}\t{blank}{next(others):.3f}\r\n".encode())

    assert value(gauge, b"8.125\t-4.250\r\n") == 8.125


def test_a_press_that_sends_its_frame_three_times_is_one_frame():
    """Without a silence between them; one of another press is then read as it is."""

    def frame(one):
        count = int(Decimal(one).scaleb(3))
        return b"\x7e\x31" + (count + (1 << 23)).to_bytes(3) + bytes([count & 0x55])

    def summed(one):
        body = frame(one)[:-1]
        return (body + bytes([sum(body) & 0xFF])) * 3

    gauge = taught(summed)
    facts = heard(gauge, summed("9.999"))

    assert {fact.value for fact in facts if isinstance(fact, Reading)} == {9.999}
    assert not any(isinstance(fact, Garbled) for fact in facts)


@pytest.mark.parametrize("halves", [False, True])
def test_twenty_bits_of_size_share_three_bytes_with_their_sign(halves):
    def frame(one):
        steps = int(Decimal(one).scaleb(3))
        data = (abs(steps) | (steps < 0) << 22).to_bytes(3)
        return bytes(byte << 4 & 0xF0 | byte >> 4 for byte in data) if halves else data

    gauge = taught(frame)

    assert value(gauge, frame("21.250")) == 21.25
    assert value(gauge, frame("-0.004")) == -0.004
    assert value(gauge, b"\0\0\0") == 0.0


@pytest.mark.parametrize("noise", [b"\x00", b"\xf3", b"x", b"7", b"\x81\x00"])
def test_noise_before_a_known_word_costs_nothing(noise):
    gauge = taught(lambda one: f"DIA {one} mm\r\n".encode())

    assert value(gauge, noise + b"DIA 8.125 mm\r\n") == 8.125


@pytest.mark.parametrize("noise", [b"\xb1", b"7", b"-"])
def test_noise_before_a_bare_number_may_be_a_digit_that_was_damaged_and_is_refused_or_read_as_it_stands(
    noise,
):
    """55.012 with a top bit set in its first digit must not be read as 5.012."""
    gauge = taught(lambda one: f"{one} mm\r\n".encode())

    assert all(getattr(fact, "value", None) != 5.012 for fact in heard(gauge, noise + b"5.012 mm\r\n"))
    assert value(gauge, b"5.012 mm\r\n") == 5.012


@pytest.mark.parametrize("noise", [b"\xb1", b"x", b"\x00\x11"])
def test_noise_before_a_sign_or_a_blank_is_no_digit_that_was_damaged(noise):
    """A number has none of both inside."""
    gauge = taught(lambda one: f"{one:>9} mm\r\n".encode())

    assert value(gauge, noise + b"   -5.012 mm\r\n") == -5.012
    assert value(taught(lambda one: f"{one} mm\r\n".encode()), noise + b"-5.012 mm\r\n") == -5.012


@pytest.mark.parametrize("noise", [b"\x00", b"\xf3", b"7", b"\xb1\x00"])
def test_noise_before_a_line_of_one_length_costs_nothing(noise):
    """Padded with zeros: a damaged digit does not make a line longer."""
    gauge = taught(lambda one: f"{'-' if one[0] == '-' else '+'}{one.strip('-').zfill(8)}\r\n".encode())

    assert value(gauge, noise + b"+0008.125\r\n") == 8.125
    assert all(isinstance(fact, Garbled) for fact in heard(gauge, b"\xb10008.125\r\n"))


def test_noise_before_a_message_with_a_head_and_a_check_costs_nothing():
    def frame(one):
        body = b"\x7e\x31" + (int(Decimal(one).scaleb(3)) + (1 << 23)).to_bytes(3)
        return body + bytes([sum(body) & 0xFF])

    gauge = taught(frame)
    read = [fact for fact in heard(gauge, b"\xf3" + frame("9.999")) if isinstance(fact, Reading)]

    assert [fact.value for fact in read] == [9.999]


def escaped(body):
    return b"~" + body.replace(b"}", b"}]").replace(b"~", b"}^") + b"~"


def test_a_message_is_stuffed_as_rfc_1662_writes_it():
    """7E and 7D inside are written as 7D 5E and 7D 5D (RFC 1662, section 4.2)."""
    gauge = taught(lambda one: escaped(b"\x21" + int(Decimal(one).scaleb(3)).to_bytes(4, signed=True)))

    for steps in (0x7E, 0x7D7E, 0x7E7D, 23_000):
        assert value(gauge, escaped(b"\x21" + steps.to_bytes(4))) == steps / 1000


def marked(body, check=b""):
    return b"\x10\x02" + body.replace(b"\x10", b"\x10\x10") + b"\x10\x03" + check


@pytest.mark.parametrize("checked", [False, True])
def test_a_message_between_marks_has_its_escapes_twice(checked):
    """DLE STX and DLE ETX, a DLE inside sent twice (ISO 2111); a sum behind the last mark or none."""

    def frame(steps):
        body = b"\x21" + steps.to_bytes(4, signed=True)
        return marked(body, bytes([sum(body) & 0xFF]) if checked else b"")

    gauge = taught(lambda one: frame(int(Decimal(one).scaleb(3))))

    for steps in (0x10, 0x1010, 0x1003, 0x1002, -0x10, 23_000):
        assert value(gauge, frame(steps)) == steps / 1000
    assert all(
        isinstance(fact, Garbled) for fact in heard(gauge, frame(0x1010).replace(b"\x10" * 4, b"\x10" * 3))
    )


def test_the_least_bit_is_sent_first():
    def frame(one):
        steps = int(Decimal(one).scaleb(3))
        data = (abs(steps) | (steps < 0) << 20).to_bytes(3, "little")
        return bytes(int(f"{byte:08b}"[::-1], 2) for byte in data)

    gauge = taught(frame)

    assert value(gauge, frame("21.250")) == 21.25
    assert value(gauge, frame("-0.004")) == -0.004


def test_an_eighth_bit_that_is_always_one_is_none_of_the_text():
    gauge = taught(lambda one: bytes(byte | 0x80 for byte in f"{one} mm\r\n".encode()))

    assert value(gauge, bytes(byte | 0x80 for byte in b"8.125 mm\r\n")) == 8.125
    assert isinstance(heard(gauge, b"8.125 mm\r\n" + b"\x8a")[0], Garbled)


def test_the_date_before_a_time_goes_on_after_the_lesson():
    seconds = iter(range(10, 59, 7))
    gauge = taught(lambda one: f"2031-05-04T07:08:{next(seconds)}.250,{one},mm\r\n".encode())

    assert value(gauge, b"2032-11-30T23:59:59.999,8.125,mm\r\n") == 8.125


def test_another_number_of_which_only_the_decimals_changed_goes_on():
    warm = iter((24.1, 24.2, 24.4, 24.3, 24.7))
    gauge = taught(lambda one: f'{{"x":{one},"t":{next(warm)},"ok":true}}\n'.encode())

    assert value(gauge, b'{"x":8.125,"t":31.5,"ok":true}\n') == 8.125
    assert isinstance(heard(gauge, b'{"x":8.125,"t":31.5,"ok":false}\n')[0], Garbled)


def test_frames_that_were_heard_all_at_once_are_parted():
    """A busy computer hears several frames of a stream as one piece; of the first size only two came."""

    def frame(one):
        return b"\xa5\xeb" + int(Decimal(one).scaleb(3)).to_bytes(3, signed=True)

    def heard_late(one, sizes):
        return tuple((10.0 + n / 50, frame(one) * size) for n, size in enumerate(sizes))

    sizes = {"23.417": [2], "-17.052": [1] * 40, "0.031": [1] * 20 + [5] + [1] * 10 + [2]}
    learnt = learn([Example(heard_late(one, some), number(one), "mm") for one, some in sizes.items()])

    assert learnt.format is not None
    decoder, facts = Decoder(dialect(learnt.format, "taught")).feed(frame("8.125") * 3)
    assert [fact.value for fact in [*facts, *decoder.silence()[1]]] == [8.125] * 3


@pytest.mark.parametrize("noise", [b"\xb8", b"^", b"#\x00"])
def test_noise_that_is_no_part_of_a_number_before_a_line_with_a_check_costs_nothing(noise):
    def frame(one):
        line = f"{one} mm".encode()
        return line + b"%02X\r\n" % (sum(line) & 0xFF)

    gauge = taught(frame)

    assert value(gauge, noise + frame("8.125")) == 8.125
    assert isinstance(heard(gauge, b"8" + frame("8.125"))[0], Garbled)


def test_a_running_number_in_hexadecimal_digits_goes_on():
    marks = iter(("00FE", "00FF", "0100", "0101", "0103"))
    gauge = taught(lambda one: f"<{next(marks)}>{one} mm\r\n".encode())

    assert value(gauge, b"<B56A>8.125 mm\r\n") == 8.125
    assert isinstance(heard(gauge, b"<B56G>8.125 mm\r\n")[0], Garbled)
