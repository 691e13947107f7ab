"""Lines of a recording: there and back, and what is refused."""

from __future__ import annotations

import json
from hashlib import sha256
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from capture.events import AnyFact, Beat, Event, Instant, Note, Other, Pass, Reading
from capture.recording import codec

READING = (
    b'{"seq":7,"at":[5000000000,1772442852120000000],"source":"mike",'
    b'"fact":{"kind":"reading","value":55.0123,"unit":"mm","digits":4,"raw":"+055.0123 mm\\r\\n"}}'
)
"""The example of the format's description."""


def test_the_format_s_own_example_reads_and_writes_as_it_stands() -> None:
    at = Instant(5000000000, 1772442852120000000)
    event = Event(7, at, "mike", Reading(55.0123, "mm", 4, "+055.0123 mm\r\n"))

    assert codec.decode_event(READING) == event
    assert codec.encode_event(event) == READING


def test_every_fact_reads_back_equal(every_fact: SearchStrategy[AnyFact]) -> None:
    @given(every_fact)
    def law(fact: Any) -> None:
        event = Event(3, Instant(1, 2), "mike", fact)
        line = codec.encode_event(event)
        assert codec.decode_event(line) == event
        json.loads(line, parse_constant=lambda name: pytest.fail(f"{name} is no JSON"))

    law()


def test_a_kind_of_a_newer_program_is_kept_as_it_is() -> None:
    line = b'{"seq":0,"at":[0,0],"source":"x","fact":{"kind":"torque","newton":{"metre":[1,2.5,null]}}}'
    event = codec.decode_event(line)

    assert event.fact == Other("torque", {"newton": {"metre": [1, 2.5, None]}})
    assert codec.encode_event(event) == line


def test_an_optional_field_of_a_newer_program_is_passed_over() -> None:
    line = b'{"seq":0,"at":[0,0],"by":1,"source":"x","fact":{"kind":"pass","infeed":null,"feed":3}}'

    assert codec.decode_event(line).fact == Pass(None)


def test_a_known_kind_cannot_be_smuggled_in_as_another() -> None:
    with pytest.raises(ValueError, match="'reading' is a kind"):
        codec.encode_event(Event(0, Instant(0, 0), "x", Other("reading", {"value": 1})))


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"", "an event was due"),
        (b"{}", "seq"),
        (b"[1]", "Expected `object`"),
        (READING[:-9], "an event was due"),
        (READING.replace(b"55.0123,", b"NaN,"), "invalid character"),
        (READING.replace(b"55.0123,", b"1e999,"), "out of range"),
        (READING.replace(b"55.0123,", b"null,"), "Expected `float`"),
        (READING.replace(b"mike", b"mi\xffke"), "utf-8"),
        (READING.replace(b'"mm",', b'"furlong",'), "furlong"),
        (READING.replace(b'"source"', b'"x":' + b"[" * 200_000 + b"]" * 200_000 + b',"source"'), "recursion"),
        (READING.replace(b'"seq":7', b'"seq":' + b"9" * 5000), "out of range"),
        (READING.replace(b'"reading"', b"5"), "kind"),
        (READING.replace(b'"kind":"reading",', b""), "kind"),
    ],
)
def test_a_line_that_is_no_event_is_named(line: Any, why: str) -> None:
    with pytest.raises(codec.BadLine, match=why):
        codec.decode_event(line)


@given(st.binary(max_size=80) | st.binary(max_size=10).map(lambda junk: READING[:40] + junk + READING[40:]))
def test_garbage_raises_nothing_but_bad_line(line: Any) -> None:
    try:
        event = codec.decode_event(line)
    except codec.BadLine:
        return
    assert codec.decode_event(codec.encode_event(event)) == event


def test_a_header_says_what_began_when() -> None:
    header = codec.Header.new({"job": {"name": "Sleeve"}}, 1772442847120000000)

    assert codec.decode_header(codec.encode_header(header)) == header
    assert header.began == "2026-03-02T09:14:07.120Z"
    assert codec.encode_header(header).startswith(b'{"format":1,"program":"tenths ')


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"hello", "not a recording: 'hello' came"),
        (b'{"format":2}', "format 2 came, .* up to format 1.*newer version"),
        (b'{"format":0}', "format 0 came"),
        (b'{"format":true}', "not a recording"),
        (b'{"format":1}', "header cannot be read"),
        (READING, "not a recording"),
    ],
)
def test_a_first_line_that_is_not_ours_is_named(line: Any, why: str) -> None:
    with pytest.raises(codec.BadLine, match=why):
        codec.decode_header(line)


def test_a_line_too_long_to_be_read_is_not_written() -> None:
    with pytest.raises(ValueError, match="event 0 of person has"):
        codec.encode_event(Event(0, Instant(0, 0), "person", Note("x" * codec.LONGEST)))


def test_many_lines_read_as_each_alone(every_fact: SearchStrategy[AnyFact]) -> None:
    @given(st.lists(every_fact, max_size=5))
    def law(facts: Any) -> None:
        events = [Event(n, Instant(n, n), "m", fact) for n, fact in enumerate(facts)]
        text = b"".join(codec.encode_event(event) + b"\n" for event in events)
        at_once = codec.decode_events(text, len(events))
        unknown = any(isinstance(fact, Other) for fact in facts)
        assert at_once == (None if unknown else events)

    law()


def test_two_events_in_one_line_are_not_taken_for_two_lines() -> None:
    assert codec.decode_events(READING + READING + b"\n", 1) is None


def test_a_chain_is_sha_256_over_all_that_stands_before() -> None:
    """Computed by hand with the standard library's SHA-256 (FIPS 180-4)."""
    body = codec.encode_event(Event(0, Instant(0, 0), "daemon", Beat()))
    chain = codec.first_chain(b'{"format":1}')
    whole = codec.join_chain(body, codec.next_chain(chain, body))

    start = sha256(b'{"format":1}').hexdigest()[:12]
    due = sha256(start.encode() + body).hexdigest()[:12]
    assert whole == body[:-1] + f',"chain":"{due}"}}\n'.encode()
    assert codec.split_chain(whole[:-1]) == (body, due)
    assert codec.decode_event(whole) == codec.decode_event(body)
    assert codec.split_chain(body) == (body, None)
