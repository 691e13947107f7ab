from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.decimal import decimal_line
from capture.dialects.line_history import LEARNT, LineHistory
from capture.events import Garbled, Reading

read = decimal_line().read


def judged(*lines: str, every: float = 3.0, before: str = "55.0{:02d}\r\n"):
    """What is made of *lines* after enough of a known form."""
    history = LineHistory()
    for number in range(LEARNT + 5):
        history.judge(read(before.format(number)), number * every)
    first = LEARNT + 5
    return [history.judge(read(line), (first + n) * every) for n, line in enumerate(lines)]


def values(facts):
    return [fact.value if isinstance(fact, Reading) else None for fact in facts]


@pytest.mark.parametrize(
    ("line", "broken"),
    [
        ("5.012\r\n", "form"),
        ("55.02\r\n", "form"),
        ("55.0122\r\n", "form"),
        ("-55.012\r\n", "form"),
        ("155.012\r\n", "form"),
        ("15.012\r\n", "far"),
        ("55.912\r\n", "far"),
    ],
)
def test_a_press_that_breaks_what_the_line_has_shown_is_doubted(line, broken):
    (said,) = judged(line)

    assert isinstance(said, Garbled)
    assert said.raw == line
    assert broken in said.why
    assert "taken if it agrees" in said.why


def test_a_second_that_agrees_is_taken_and_then_the_new_is_known():
    assert values(judged("60.001\r\n", "60.002\r\n", "60.003\r\n", "55.004\r\n")) == [
        None,
        60.002,
        60.003,
        55.004,
    ]


def test_a_second_that_does_not_agree_is_doubted_too():
    assert values(judged("60.001\r\n", "70.001\r\n", "55.004\r\n")) == [None, None, 55.004]


def test_a_gauge_that_changes_its_unit_costs_one_reading():
    said = judged("2.16535 in\r\n", "2.16536 in\r\n")

    assert values(said) == [None, pytest.approx(55.000144)]


def test_a_grind_by_hundredths_and_a_size_that_passes_ten_are_no_doubt():
    assert values(judged("10.020\r\n", "10.003\r\n", "9.998\r\n", "9.960\r\n", before="10.0{:02d}\r\n")) == [
        10.020, 10.003, 9.998, 9.960,
    ]  # fmt: skip


def test_a_comparator_that_goes_below_zero_is_no_doubt():
    assert values(judged("0.002\r\n", "-0.003\r\n", before="0.0{:02d}\r\n")) == [0.002, -0.003]


def test_a_stream_that_leaps_and_returns_loses_the_leap():
    assert values(judged("55.514\r\n", "55.014\r\n", every=0.02)) == [None, 55.014]


def test_a_stream_that_is_moved_loses_one_reading_at_most():
    moved = [f"{55.014 + 0.1 * n * n:.3f}\r\n" for n in range(1, 9)]

    assert values(judged(*moved, every=0.02)).count(None) == 1


def test_at_first_everything_is_taken():
    history = LineHistory()
    lines = ["55.012\r\n", "5.01\r\n", "-3 mm\r\n", "A 7.5\r\n"]

    assert values(history.judge(read(line), n) for n, line in enumerate(lines)) == [55.012, 5.01, -3.0, 7.5]


def test_what_is_garbled_stays_so():
    garbled = Garbled("no number", "x\r\n")

    assert LineHistory().judge(garbled, 0.0) is garbled


@given(st.lists(st.floats(-1e6, 1e6), max_size=60), st.sampled_from([0.01, 3.0]))
def test_whatever_comes_is_taken_whole_or_doubted_with_its_bytes(numbers, every):
    """And a reading that comes twice is taken the second time at the latest."""
    history = LineHistory()
    for n, number in enumerate(numbers):
        reading = read(f"{number:.3f}\r\n")
        first = history.judge(reading, 2 * n * every)
        second = history.judge(reading, (2 * n + 1) * every)

        assert first is reading or (isinstance(first, Garbled) and first.raw == reading.raw)
        assert second is reading


def test_a_slide_goes_as_far_and_as_fast_as_it_likes_and_its_lines_keep_their_form():
    """A wheel head that is wound back goes millimetres between two lines."""
    history = LineHistory(moves=True)
    for number in range(LEARNT + 5):
        history.judge(read(f"+0.0{number:02d}\r\n"), number * 0.1)

    assert values([history.judge(read("-3.120\r\n"), 2.0), history.judge(read("+2.800\r\n"), 2.1)]) == [
        -3.12,
        2.8,
    ]
    assert isinstance(history.judge(read("+28.00\r\n"), 2.2), Garbled)
