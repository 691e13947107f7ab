from __future__ import annotations

import asyncio
import math
import os

import pytest

from capture.links.playback import AwaitQuestion, playback
from capture.links.query import Question, query_link
from capture.links.serial import serial_link

pytestmark = pytest.mark.usefixtures("nothing_left_open")


def line(data):
    """An answer ends with its first CR."""
    return data.find(b"\r") + 1


ASK = Question(b"?\r", line, every=0.01, timeout=0.2)
OVER = [OSError("the test is over")]


def asked(*answers: list, question=ASK):
    """What is heard of an instrument that gives *answers* in turn, until the link is lost."""
    steps = [step for answer in answers for step in (AwaitQuestion(b"?\r"), *answer)]

    heard = []

    async def session():
        async with query_link(playback(steps), question)() as link:
            async for data, _ in link.chunks():
                heard.append(data)

    with pytest.raises(OSError) as caught:  # noqa: PT011 - the tests look at what it says
        asyncio.run(session())
    return heard, str(caught.value)


def test_each_question_has_its_answer():
    heard, why = asked([b"+1.250\r"], [b"+1.2", 0.01, b"51\r"], [b"+1.252\r"], OVER)

    assert (heard, why) == ([b"+1.250\r", b"+1.251\r", b"+1.252\r"], "the test is over")


def test_what_comes_unasked_is_dropped():
    heard, _ = asked([b"+1.250\r\n"], [b"+1.251\r", b"+9.999\r"], [b"+1.252\r"], OVER)

    assert heard == [b"+1.250\r", b"+1.251\r", b"+1.252\r"]


def test_a_late_answer_is_not_taken_for_that_of_the_next_question():
    heard, _ = asked([b"+1.250\r"], [0.3, b"+9.999\r"], [b"+1.252\r"], OVER)

    assert heard == [b"+1.250\r", b"+1.252\r"]


def test_one_missed_answer_is_forgiven_three_in_a_row_are_a_lost_link():
    silence = [0.2]
    heard, why = asked([b"+1.250\r"], silence, silence, [b"+1.251\r"], silence, silence, silence)

    assert heard == [b"+1.250\r", b"+1.251\r"]
    assert "no answer to b'?\\r', 3 times" in why


def test_it_is_not_open_before_it_has_answered():
    heard, why = asked([0.3], [0.3], [0.3])

    assert heard == []
    assert "no answer" in why


def test_an_answer_that_breaks_off_is_heard_as_far_as_it_came_and_the_link_is_lost():
    """The decoder is closed with the link, so the bytes are garbled and never join the next answer."""
    heard, why = asked([b"+1.250\r"], [b"+1.2", 0.5])

    assert (heard, why) == ([b"+1.250\r", b"+1.2"], "played instrument: an answer broke off after 4 bytes")


def test_an_instrument_that_talks_without_being_asked_is_named():
    _, why = asked([b"+1.250\r", *[b"+9.999\r", 0.001] * 1000])

    assert "talks without being asked" in why


def test_an_answer_may_end_with_silence():
    timed = Question(b"?\r", lambda _: 0, every=0.01, timeout=0.2, gap=0.03)

    heard, _ = asked([b"1.250"], [b"1.2", 0.001, b"51"], OVER, question=timed)

    assert heard == [b"1.250", b"1.251"]


def test_the_greeting_comes_before_the_first_question(hears):
    async def session():
        opens = query_link(
            playback([AwaitQuestion(b"hello"), AwaitQuestion(b"?\r"), b"+1.250\r", math.inf]),
            Question(b"?\r", line, hello=b"hello"),
        )
        async with opens() as link:
            assert await hears(link.chunks(), 7) == b"+1.250\r"

    asyncio.run(session())


@pytest.mark.parametrize("wrong", [{"every": 0.0}, {"timeout": -1.0}, {"every": math.nan}])
def test_times_that_cannot_be_are_named(wrong):
    with pytest.raises(ValueError, match="seconds, more than 0"):
        Question(b"?", line, **wrong)


def test_a_real_port_is_asked_and_answers(plug, hears):
    async def session():
        loop = asyncio.get_running_loop()
        questions = []

        def answer():
            questions.append(os.read(plug.gauge, 100))
            plug.say(b"+1.250\r")

        loop.add_reader(plug.gauge, answer)
        async with query_link(serial_link(str(plug.path)), ASK)() as link:
            assert await hears(link.chunks(), 70) == b"+1.250\r" * 10
        loop.remove_reader(plug.gauge)

        assert set(questions) == {b"?\r"}

    asyncio.run(session())


def test_a_pulled_plug_is_a_lost_link(plug):
    async def session():
        loop = asyncio.get_running_loop()
        loop.add_reader(plug.gauge, lambda: (os.read(plug.gauge, 100), plug.say(b"+1.250\r")))
        async with query_link(serial_link(str(plug.path)), ASK)() as link:
            async for _ in link.chunks():
                loop.remove_reader(plug.gauge)
                plug.unplug()

    with pytest.raises(OSError, match="unplugged"):
        asyncio.run(session())
