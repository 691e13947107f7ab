"""What stands beside a reading, and what it tells of one that was damaged; every format is invented here."""

from __future__ import annotations

from decimal import Decimal
from itertools import count

import pytest

from capture.dialects.dialect import Decoder
from capture.dialects.taught.formats import dialect
from capture.events import Garbled, Reading
from capture.teaching.learner import Example, learn, number
from capture.teaching.lesson import Conversation

SHOWN = ("23.417", "-17.052", "0.031", "14.806", "-6.293")


def learnt_from(frame, shown=SHOWN, unit="mm", *, streams=0):
    """What one capture for each of *shown* teaches: a press, or so many messages of a stream."""
    examples = []
    for one in shown:
        data = b"".join(frame(one) for _ in range(streams or 1))
        chunks = (
            ((10.0, data),) if not streams else tuple((10 + n / 9, data[n::1][:1]) for n in range(len(data)))
        )
        examples.append(Example(chunks, number(one), unit))
    return learn(examples)


def heard(learnt, data):
    """The values that are read of *data*, None for each piece that is refused."""
    assert learnt.format is not None, learnt.open
    decoder, facts = Decoder(dialect(learnt.format, "taught")).feed(data)
    facts += decoder.silence()[1]
    assert all(isinstance(fact, Reading | Garbled) for fact in facts)
    return [fact.value if isinstance(fact, Reading) else None for fact in facts]


def summed(text: bytes, digits: bytes) -> bytes:
    """*text* with its sum behind it in hexadecimal digits."""
    return text + digits % (sum(text) & 0xFF)


def test_a_check_whose_letters_did_not_show_in_the_lesson_is_right_in_either_case():
    """The sums of the lesson have no letters in them; the worked sum of the last line is AB."""
    shown = [f"{n}.{m}17" for n in range(9) for m in range(9)]
    plain = [one for one in shown if f"{sum(f'{one} '.encode()) & 0xFF:02x}".isdecimal()]
    gauge = learnt_from(lambda one: summed(f"{one} ".encode(), b"%02x") + b"\r\n", plain[:40:7])

    lettered = next(one for one in shown if not f"{sum(f'{one} '.encode()) & 0xFF:02x}".isdecimal())
    for digits in (b"%02x", b"%02X"):
        assert heard(gauge, summed(f"{lettered} ".encode(), digits) + b"\r\n") == [float(lettered)]


def test_digits_of_a_check_behind_a_number_are_none_of_it():
    """The check is of no known kind: nothing may be read, least of all a number with its digits."""
    tails = iter(("3706", "4E06", "2606", "2306", "5106"))
    gauge = learnt_from(lambda one: f"mm|A2:{one}{next(tails)}\r\n".encode())

    assert gauge.format is None or heard(gauge, b"mm|A2:11.1113106\r\n") in ([None], [11.111])


def test_another_channel_that_stood_still_in_the_lesson_may_move_later():
    gauge = learnt_from(lambda one: f"LC:+82.084;GF={one}\r".encode())

    assert heard(gauge, b"LC:-7.001;GF=-1.500\r") == [-1.5]


def test_what_grew_in_the_lesson_is_open_with_its_sign():
    highest = iter(("23.417", "23.417", "23.417", "23.900", "24.001"))
    gauge = learnt_from(lambda one: f"{one} {next(highest)} H\n".encode())

    assert heard(gauge, b"-1.500 -0.200 H\n") == [-1.5]


def test_a_count_in_hexadecimal_digits_stands_beside_a_running_number_in_such_digits():
    numbers = count(0xC140, 5)

    def frame(one: str) -> bytes:
        return f"{next(numbers):04X};HK={int(Decimal(one) * 1000) & 0xFFFFFF:06X}\r\n".encode()

    gauge = learnt_from(frame)
    assert heard(gauge, b"D00F;HK=FFFF38\r\n") == [-0.2]


def test_a_number_without_a_zero_before_its_point_is_no_running_number():
    numbers = count(0xC00D, 4)
    shown = ("24.9955", "-21.4955", "0.5555", "0.7805", "-0.6970")

    def bare(one: str) -> str:
        return (
            one.replace("0.", ",").replace(".", ",") if one.lstrip("-")[0] == "0" else one.replace(".", ",")
        )

    gauge = learnt_from(lambda one: f"{bare(one)} M {next(numbers):04X}\n".encode(), shown)
    assert heard(gauge, b",1234 M D1AF\n") == [0.1234]


def test_noise_before_a_brace_or_a_time_is_none_of_the_message():
    keyed = learnt_from(lambda one: f'{{"v": {one}, "u": "mm"}}\r'.encode())
    seconds = count(11, 7)
    timed = learnt_from(lambda one: f"04:56:{next(seconds)} X {one}\r".encode())

    assert heard(keyed, b'\x00{"v": -0.250, "u": "mm"}\r') == [-0.25]
    assert heard(timed, b"\xfe04:57:01 X 1.500\r") == [1.5]


def test_noise_before_a_text_that_begins_with_its_control_character_makes_no_other_format():
    noise = iter((b"", b"\xda", b"", b"", b"\xff"))
    gauge = learnt_from(lambda one: next(noise) + (b"\x02BC=%+010.3fMM\x03" % float(one)) * 3)

    assert heard(gauge, b"\x80" + b"\x02BC=+00001.500MM\x03" * 3) == [1.5] * 3


def test_a_blank_in_the_place_of_a_sign_is_no_padding():
    shown = ("12.417", "-17.052", "10.031", "14.806")
    gauge = learnt_from(lambda one: f"Y {float(one): .3f} mm\r".encode(), shown)

    assert heard(gauge, b"Y -1.500 mm\r") == [-1.5]


def test_a_sign_that_makes_lines_equally_long_is_no_padding():
    shown = ("48.47", "-8.51", "-3.90", "21.04")
    gauge = learnt_from(lambda one: f"X {one} mm\r".encode(), shown)

    assert heard(gauge, b"X 1.50 mm\r") == [1.5]


def test_a_correct_reading_is_not_blamed_whatever_judges_it():
    """The largest so far is the reading itself at first, and two words judge it."""
    talk = Conversation()
    sent = (
        ("0.750", "mm", "+0000.750 +0000.750,mm,+NG,H,CNV:+0000.750"),
        ("-0.495", "mm", "-0000.495 +0000.750,mm,-NG,L,CNV:-0000.495"),
        ("0.005", "mm", "-0000.495 +0000.750,mm,OK,G,CNV:+0000.005"),
        ("0.0310", "in", '+000.0310 +000.0310,",+NG,H,CNV:+000.0310'),
    )
    for place, (shown, unit, line) in enumerate(sent):
        talk = talk.receive(10.0 * place, f"\x02{line}\x03".encode())
        talk, said = talk.take(Decimal(shown), unit)
        assert said == ""


def test_a_zero_before_the_digits_of_a_number_that_is_never_padded_is_noise():
    gauge = learnt_from(lambda one: f"{one} mm\r\n".encode())

    assert heard(gauge, b"012.345 mm\r\n") == [None]
    assert heard(gauge, b"0.345 mm\r\n") == [0.345]


@pytest.mark.parametrize("lost", range(6, 13))
def test_a_padded_number_that_lost_a_character_is_refused_though_a_running_number_stands_beside_it(lost):
    numbers = count(97)
    gauge = learnt_from(lambda one: f"#{next(numbers)} {float(one):+08.3f} mm\r\n".encode())
    line = b"#101 +012.345 mm\r\n"

    assert heard(gauge, line) == [12.345]
    assert heard(gauge, line[:lost] + line[lost + 1 :]) == [None]


@pytest.mark.parametrize("line", [b"12.97- mm\r\n", b"0.517+ in\r\n"])
def test_a_number_that_lost_its_last_decimal_is_refused_though_its_sign_was_shown_once(line):
    examples = [
        Example(((10.0, f"{size}{sign} {unit}\r\n".encode()),), number(sign + size), unit)
        for size, sign, unit in (
            ("23.417", "+", "mm"), ("17.052", "-", "mm"), ("0.031", "+", "mm"), ("0.5417", "+", "in"),
            ("0.3055", "-", "in"),
        )
    ]  # fmt: skip

    assert heard(learn(examples), line) == [None]


def test_a_name_that_ends_in_a_digit_is_no_part_of_a_fraction():
    shown = ("1 35/64", "-23/32", "3/64", "1/2", "-1 7/8", "2")
    gauge = learnt_from(lambda one: f"S1 {one} in\r\n".encode(), shown, "in")

    assert heard(gauge, b"S1 5/16 in\r\n") == pytest.approx([7.9375])  # 5/16 inch is 7.9375 mm exactly
    assert heard(gauge, b"S1 1 1/64 in\r\n") == pytest.approx([25.796875])


def test_a_line_in_a_stream_may_be_unfinished_when_its_number_is_typed():
    gauge = Conversation()
    for place, one in enumerate(SHOWN):
        line, at = f"{float(one):+.3f} mm\r\n".encode(), 10.0 * place
        for part, data in enumerate((line[7 - place :], line, line, line[: 3 + place])):
            gauge = gauge.receive(at + 0.5 * part, data)
        gauge, said = gauge.take(Decimal(one), "mm")
        assert said == ""

    assert gauge.live(((99.0, b"-1.500 mm\r\n"),)) == [(99.0, "-1.500 mm")]


def no_other_unit(line):
    """What a conversation about presses teaches whose person says that there is no other unit."""
    talk = Conversation()
    for place, one in enumerate(SHOWN):
        talk = talk.receive(10.0 * place, line(one).encode() + b"\r\n").take(Decimal(one), "mm")[0]
        if "unit" in talk.question:
            talk = talk.skip()
    return talk.lesson


@pytest.mark.parametrize(
    ("taught", "later"),
    [
        ("BAT 79% {} mm", "BAT 7% {} mm"),
        ("{} mm,3.10V,20.1C", "{} mm,2.98V,9.6C"),
        ("2031-05-01T00:01 {} mm", "2032-11-30T17:44 {} mm"),
        ("{};04.05.2031 07:08:09", "{};05.12.2031 23:59:00"),
    ],
)
def test_what_is_surely_of_another_kind_is_left_open_though_it_did_not_change(taught, later):
    gauge = no_other_unit(taught.format)

    assert heard(gauge, later.format("8.125").encode() + b"\r\n") == [8.125]


@pytest.mark.parametrize(("taught", "later"), [("S1 {} mm", "S2 {} mm"), ("{} mm A10.", "{} mm A11.")])
def test_a_code_that_never_changed_is_refused_when_it_does(taught, later):
    gauge = no_other_unit(taught.format)

    assert heard(gauge, later.format("8.125").encode() + b"\r\n") == [None]


def test_another_channel_has_its_sign_behind_it():
    others = iter(("003.125+", "011.062-", "007.777-", "000.415+", "019.004-"))
    gauge = learnt_from(lambda one: f"{one} mm R{next(others)}\r\n".encode())

    assert heard(gauge, b"8.125 mm R004.250-\r\n") == [8.125]
    assert heard(gauge, b"8.125 mm R004.250\r\n") == [None]


def with_odd_parity(text):
    return bytes(byte | (byte.bit_count() % 2 == 0) << 7 for byte in text)


@pytest.mark.parametrize("noise", [b"\xff", b"\x00", b"\xf3\x80"])
def test_noise_before_a_line_of_seven_bits_may_have_the_wrong_parity(noise):
    gauge = learnt_from(lambda one: with_odd_parity(f"DIA {one} mm\r\n".encode()))

    assert heard(gauge, noise + with_odd_parity(b"DIA 8.125 mm\r\n")) == [8.125]
    damaged = with_odd_parity(b"DIA 8.125 mm\r\n").replace(with_odd_parity(b"8"), b"9")
    assert heard(gauge, damaged) == [None]
