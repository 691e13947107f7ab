"""Where a message ends, and what stands inside it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.taught.framing import DoubledFrame, StuffedFrame, pieces

FRAME = StuffedFrame()


def stuffed(body: bytes) -> bytes:
    """RFC 1055, "A Nonstandard for Transmission of IP Datagrams over Serial Lines": SLIP's own procedure."""
    sent = bytearray()
    for byte in body:
        sent += {0xC0: b"\xdb\xdc", 0xDB: b"\xdb\xdd"}.get(byte, bytes([byte]))
    return bytes(sent) + b"\xc0"


@given(st.lists(st.binary(min_size=1), min_size=1))
def test_stuffed_messages_come_out_as_they_went_in(bodies):
    data = b"".join(b"\xc0" + stuffed(body) for body in bodies)

    assert [body for piece in pieces(FRAME.cut, data) if (body := FRAME.body(piece))] == bodies


def test_an_escape_that_means_nothing_makes_no_message():
    assert FRAME.body(b"\x01\xdb\x02\xc0") == b""
    assert FRAME.body(b"\x01\xdb\xc0") == b""


DOUBLED = DoubledFrame()


def doubled(body: bytes) -> bytes:
    """ISO 2111, code independent information transfer: DLE STX and DLE ETX, a DLE inside sent twice."""
    return b"\x10\x02" + body.replace(b"\x10", b"\x10\x10") + b"\x10\x03"


SPECIAL = st.lists(st.sampled_from(b"\x10\x02\x03\x00A"), min_size=1).map(bytes)


@given(st.lists(st.one_of(st.binary(min_size=1), SPECIAL), min_size=1))
def test_messages_with_doubled_escapes_come_out_as_they_went_in(bodies):
    data = b"".join(map(doubled, bodies))

    assert [DOUBLED.body(piece) for piece in pieces(DOUBLED.cut, data)] == bodies


@given(st.lists(SPECIAL, min_size=2, max_size=4), st.data())
def test_a_message_that_lost_a_byte_of_its_marks_or_escapes_is_another_or_none(bodies, data):
    """It is shorter, longer or empty: a record, which has one length, refuses it."""
    sent = b"".join(map(doubled, bodies))
    lost = data.draw(st.integers(0, len(sent) - 1))
    read = [DOUBLED.body(piece) for piece in pieces(DOUBLED.cut, sent[:lost] + sent[lost + 1 :])]

    assert sum(body in bodies for body in read) >= len(bodies) - 2


def test_a_message_that_began_before_the_link_opened_says_nothing():
    assert DOUBLED.body(b"\x10\x03") == DOUBLED.body(b"A\x10\x03") == DOUBLED.body(b"\x10\x10\x10\x03") == b""


def test_an_escape_that_stands_alone_makes_no_message():
    assert DOUBLED.body(b"\x10\x02A\x10B\x10\x03") == b""


def test_a_check_behind_the_last_mark_belongs_to_the_message():
    frame = DoubledFrame(more=2)

    assert pieces(frame.cut, b"\x10\x02A\x10\x03xy\x10\x02B\x10\x03z") == [b"\x10\x02A\x10\x03xy"]
    assert frame.body(b"\x10\x02A\x10\x03xy") == b"Axy"
