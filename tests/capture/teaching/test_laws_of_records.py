"""Bytes at fixed places: what tells a count, a counter and another channel apart; all formats invented."""

from __future__ import annotations

from itertools import count

import pytest

from capture.teaching.learner import Example, learn, number
from capture.teaching.lesson import PLAN, Conversation
from tests.capture.teaching.test_laws_of_lines import heard

SHOWN = ("23.417", "-17.052", "0.031", "14.806", "-6.293")


def steps(shown: str) -> int:
    return int(number(shown).scaleb(3))


def pressed(frame, shown=SHOWN):
    return [Example(((10.0, frame(one)),), number(one), "mm") for one in shown]


def test_a_byte_that_was_one_more_at_each_of_three_presses_is_a_counter():
    numbers = count(0xD4)
    gauge = learn(
        pressed(lambda one: b"\x1f" + bytes([next(numbers)]) + steps(one).to_bytes(3, signed=True), SHOWN[:3])
    )

    assert heard(gauge, b"\x1f\x07" + (1500).to_bytes(3, signed=True)) == [1.5]


def test_a_count_that_is_finer_than_the_display_is_not_taken_for_one_in_its_steps():
    """Of six messages while the gauge is held one is a whole step by chance."""
    examples = []
    for one in SHOWN:
        fine = [10 * steps(one) + off for off in (3, -2, 0, 1, -3, 2)]
        data = b"".join(b"\x0f\x3a" + each.to_bytes(4, signed=True) + b"\r\n" for each in fine)
        examples.append(
            Example(tuple((10 + n / 20, data[n : n + 8]) for n in range(0, 48, 8)), number(one), "mm")
        )
    gauge = learn(examples)
    sent = b"".join(b"\x0f\x3a" + each.to_bytes(4, signed=True) + b"\r\n" for each in (15003, 15001, 14998))

    assert heard(gauge, sent) == [1.5] * 3


def test_marks_round_a_message_are_stuffed_though_nothing_was_in_the_lesson():
    gauge = learn(pressed(lambda one: (b"\x7e" + steps(one).to_bytes(2, signed=True) + b"\x7e") * 8))
    escaped = b"\x7e" + (0x0A).to_bytes(1) + b"\x7d\x5e" + b"\x7e"  # RFC 1662: 7E inside is 7D 5E

    assert heard(gauge, escaped)[-1:] == [2.686]


def two_channels(other):
    return lambda one: b"\x95" + next(other).to_bytes(2, signed=True) + steps(one).to_bytes(3, signed=True)


def test_the_other_bits_of_a_channel_are_open_once_a_person_said_that_there_is_no_other_unit():
    def lesson(*, one_unit):
        talk, other = Conversation(), iter((4711, 9023, 12001, 5577, 7788))
        for place, one in enumerate(SHOWN):
            talk = talk.receive(10.0 * place, two_channels(other)(one)).take(number(one), "mm")[0]
            if place == 2 and one_unit:
                assert talk.question == PLAN[3]
                talk = talk.skip()
        return talk.lesson

    moved = two_channels(iter((0x7FFF,)))("1.500")
    assert heard(lesson(one_unit=True), moved) == [1.5]
    assert heard(lesson(one_unit=False), moved) == [None]


def test_noise_before_a_record_is_told_by_its_head():
    gauge = learn(pressed(lambda one: b"\xee" + steps(one).to_bytes(3, signed=True)))

    assert heard(gauge, b"\x00\xee" + (1500).to_bytes(3, signed=True)) in ([1.5], [None, 1.5])


def without_other_unit(frame, shown=SHOWN):
    """What a conversation about presses teaches whose person says that there is no other unit."""
    talk = Conversation()
    for place, one in enumerate(shown):
        talk = talk.receive(10.0 * place, frame(one)).take(number(one), "mm")[0]
        if talk.question == PLAN[3]:
            talk = talk.skip()
    return talk.lesson


def clocked(clock, one, order="little"):
    return b"\xa5" + clock.to_bytes(4, order) + steps(one).to_bytes(3, signed=True) + b"\x5a"


@pytest.mark.parametrize("order", ["little", "big"])
def test_a_clock_goes_on_after_the_lesson_in_a_byte_that_did_not_change(order):
    clock = count(0x2400, 900)
    gauge = without_other_unit(lambda one: clocked(next(clock), one, order))

    assert heard(gauge, clocked(0x31077, "1.500", order)) == [1.5]
    assert heard(gauge, b"\xa6" + clocked(0x31077, "1.500", order)[1:])[-1:] != [1.5]


def test_a_byte_beside_a_short_count_is_none_of_a_running_number():
    """It may be the count's own more significant byte."""
    numbers = count(7)

    def frame(high, one):
        return bytes([0xA5, next(numbers), high]) + abs(steps(one)).to_bytes(2) + bytes([one[0] == "-"])

    gauge = without_other_unit(lambda one: frame(0, one))

    assert heard(gauge, frame(0, "1.500")) == [1.5]
    assert 1.5 not in heard(gauge, frame(1, "1.500"))


def packed(one, running):
    digits = f"{abs(steps(one)):07}"[::-1] + ("f" if one[0] == "-" else "0")
    data = bytes(byte << 4 & 0xF0 | byte >> 4 for byte in bytes.fromhex(digits))
    return b"\xa5" + data + bytes([running])


def test_a_half_byte_that_means_minus_is_no_blank_before_a_number():
    """A bit of the byte behind it was the same as the sign in the lesson, by chance."""
    others = iter((0x41, 0x14, 0xE7, 0xBA, 0x7D))
    gauge = without_other_unit(
        lambda one: packed(one, next(others)), ("0.262", "-0.203", "0.012", "0.213", "-0.247")
    )
    read = [
        heard(gauge, packed(one, other)) for one in ("0.168", "-0.168") for other in (0x10, 0x31, 0xFF, 0x00)
    ]

    assert all(values[-1:] in ([0.168], [None]) for values in read[:4])
    assert all(values[-1:] in ([-0.168], [None]) for values in read[4:])
