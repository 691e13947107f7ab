"""What is read of a stream that loses bytes on the way; every format is invented for its test."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from capture.dialects.dialect import Decoder
from capture.dialects.taught.formats import dialect
from capture.events import Garbled, Reading
from capture.teaching.learner import Example, learn, number

HEAD, LONG = b"\xa5\xeb", b"\xa5\xeb\x90"
SHOWN = ("23.417", "-17.052", "0.031", "14.806", "-6.293")


def frame(head, steps):
    return head + steps.to_bytes(3, signed=True)


def taught(head):
    """A gauge that streams without a silence between its frames, the first of each example torn."""
    examples = []
    for one in SHOWN:
        data = (frame(head, int(number(one).scaleb(3))) * 20)[len(examples) % 3 :]
        chunks = [(10 + at / 1000, data[at : at + 7]) for at in range(0, len(data), 7)]
        examples.append(Example(tuple(chunks), number(one), "mm"))
    learnt = learn(examples)
    assert learnt.format is not None, learnt.open
    return Decoder(dialect(learnt.format, "taught"))


GAUGES = {head: taught(head) for head in (HEAD, LONG)}


@pytest.mark.parametrize("head", [HEAD, LONG])
@given(
    steps=st.lists(st.integers(-20000, 20000), min_size=4, max_size=8),
    lost=st.sets(st.integers(0, 19), max_size=3),
)
def test_a_frame_that_lost_a_byte_takes_none_of_the_next(head, steps, lost):
    """Only a head that stands by chance where the next is due could make it a reading: none is within."""
    sent = b"".join(frame(head, each) for each in steps)
    assume(not any(byte in each.to_bytes(3, signed=True) for each in steps for byte in head))
    data = bytes(byte for at, byte in enumerate(sent) if at not in lost)
    decoder, facts = GAUGES[head].feed(data)
    facts += decoder.silence()[1]

    read = [round(fact.value * 1000) for fact in facts if isinstance(fact, Reading)]
    rest = iter(steps)
    assert all(any(each == due for due in rest) for each in read), (read, steps)


def test_the_last_frames_are_read_when_the_gauge_falls_silent():
    decoder, facts = GAUGES[LONG].feed(frame(LONG, 1) + frame(LONG, 2) + frame(LONG, 3))
    decoder, late = decoder.silence()

    assert [round(fact.value * 1000) for fact in [*facts, *late]] == [1, 2, 3]
    assert decoder.pending == b""


def test_what_a_press_left_unfinished_is_no_part_of_the_next_press():
    decoder, facts = GAUGES[HEAD].feed(frame(HEAD, 4000)[:-1])
    decoder, torn = decoder.silence()
    decoder, more = decoder.feed(frame(HEAD, 5000))
    _, read = decoder.silence()

    assert facts == more == []
    assert isinstance(torn[0], Garbled)
    assert [fact.value for fact in read] == [5.0]


LINES = {
    "a padded running number": lambda place, size: f"N{place:04} {size:>9} mm\r\n",
    "a running number padded with blanks": lambda place, size: f"{place:>6} {size:>9} mm\r\n",
    "a running number that grows": lambda place, size: f"{place} {size:>10} mm\r\n",
    "a number with the blanks behind it": lambda place, size: f"{place} {size:<10} mm\r\n",
}


def taught_lines(line):
    """A gauge that sends a line on a press, with a running number that began before the lesson."""
    presses = enumerate(SHOWN, 97)
    given = [Example(((10.0, line(place, one).encode()),), number(one), "mm") for place, one in presses]
    learnt = learn(given)
    assert learnt.format is not None, learnt.open
    return Decoder(dialect(learnt.format, "taught"))


NUMBERED = {name: (line, taught_lines(line)) for name, line in LINES.items()}


@pytest.mark.parametrize("name", LINES)
@given(steps=st.lists(st.integers(-20000, 20000), min_size=2, max_size=6), lost=st.sets(st.integers(0, 99)))
def test_a_padded_number_beside_a_running_number_that_lost_a_byte_is_refused(name, steps, lost):
    line, decoder = NUMBERED[name]
    lines = [line(place, f"{each / 1000:.3f}") for place, each in enumerate(steps, 180)]
    sent = "".join(lines).encode()
    _, facts = decoder.feed(bytes(byte for at, byte in enumerate(sent) if at not in lost))

    read = [round(fact.value * 1000) for fact in facts if isinstance(fact, Reading)]
    rest = iter(steps)
    assert all(any(each == due for due in rest) for each in read), (read, steps)
    if not lost:
        assert read == steps
