"""Where a message ends, and what stands inside it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.taught.framing import StuffedFrame, pieces

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
