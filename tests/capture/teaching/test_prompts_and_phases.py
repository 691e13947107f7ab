"""Lines behind a prompt, streams without a beginning, and narrow counts (invented formats)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.dialects.taught.formats import decoded
from capture.dialects.taught.records import DisplayValue
from capture.teaching.learner import Example, learn
from capture.teaching.search.checks import find

SIZES = ("12.345", "-9.871", "0.042", "7.310", "-3.336")


def taught(messages: list[tuple[str, list[bytes]]], pause: float = 0.02):
    """What examples teach in which each size comes as so many messages, one after another."""
    examples = []
    for begin, (shown, sent) in enumerate(messages):
        chunks = tuple((10.0 * begin + pause * place, data) for place, data in enumerate(sent))
        examples.append(Example(chunks, Decimal(shown), "mm", only=True))
    return learn(examples).format


def read(format_, sent: list[bytes]) -> list[str]:
    chunks = [(1000.0 + place, data) for place, data in enumerate(sent)]
    return [said.text for _, said in decoded(format_, chunks) if isinstance(said, DisplayValue)]


@pytest.mark.parametrize("prompt", [b"OK>", b">", b"READY ", b"# "])
def test_a_prompt_behind_a_line_is_none_of_the_next(prompt):
    format_ = taught([(size, [size.encode() + b"\r\n" + prompt]) for size in SIZES])

    assert format_ is not None
    assert read(format_, [b"1.250\r\n" + prompt, b"-0.375\r\n" + prompt, b"8.000\r\n"]) == [
        "1.250",
        "-0.375",
        "8.000",
    ]


def test_digits_that_are_left_behind_a_line_are_no_prompt():
    format_ = taught([(size, [size.encode() + b"\r\n1"]) for size in SIZES])

    assert format_ is None or set(read(format_, [b"2.250\r\n1", b"3.375\r\n1"])) <= {"2.250", "3.375"}


def test_a_sign_between_two_messages_of_a_stream_belongs_to_the_digits_behind_it():
    """Common practice, no source: text has its sign in front."""
    sizes = ("0.075", "-0.030", "0.001", "-0.056", "0.070")

    def sent(size: str) -> bytes:
        return f"{float(size):+08.3f}1".encode()

    format_ = taught([(size, [sent(size)[7:] + sent(size) * 9]) for size in sizes])
    moving = [
        sent(size) for size in ("0.004", "0.002", "-0.001", "-0.003", "0.001", "0.002", "0.002", "0.002")
    ]

    if format_ is not None:
        said = read(format_, [b"".join(moving)])
        assert set(said) <= {"0.004", "0.002", "-0.001", "-0.003", "0.001"}
        assert said


def test_a_sum_of_eight_bits_is_found_where_seven_explain_it_by_chance():
    head = bytes([0xAF, 0xD1])
    bodies = [bytes([0x34, 0xF4, 0x2E, 0x00]), bytes([0x34, 0xEF, 0xF0, 0xFF]), bytes([0x34, 0x37, 0, 0])]
    frames = [head + body + bytes([sum(body) & 0xFF]) for body in bodies]
    assert all(frame[-1] < 0x80 for frame in frames)

    check = find(frames)

    assert check is not None
    assert check.holds(head + bytes([0x34, 0xB3, 0xF9, 0xFF, 0xDF]))


@pytest.mark.parametrize("bits", [12, 14, 18, 20])
def test_a_count_without_its_sign_extended_is_read(bits):
    sizes = ("1.745", "-1.690", "0.042", "0.731", "-0.336")
    size = (bits + 7) // 8

    def sent(shown: str) -> bytes:
        count = int(Decimal(shown) * 1000) & ((1 << bits) - 1)
        return b"\xa5" + count.to_bytes(size, "big")

    format_ = taught([(shown, [sent(shown)]) for shown in sizes])

    assert format_ is not None
    assert read(format_, [sent("1.250"), sent("-0.375"), sent("-0.001")]) == ["1.250", "-0.375", "-0.001"]


def test_an_error_before_one_reading_does_not_make_a_stream_of_presses():
    sent = {size: f"{size:>9}mm\r\n".encode() for size in ("24.5795", "-20.5990", "0.4970", "18.1945")}
    lesson = [(size, [b"OL\r\n" + line if size == "-20.5990" else line]) for size, line in sent.items()]
    format_ = taught(lesson)

    assert format_ is not None
    assert format_.sentence
    assert read(format_, [b"OL\r\n", b"  12.5000mm\r\n", b" -12.5000mm\r\n"]) == ["12.5000", "-12.5000"]
