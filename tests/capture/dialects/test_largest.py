"""A number that no gauge measures."""

from __future__ import annotations

import pytest

from capture.dialects.dialect import LARGEST, Decoder, Dialect
from capture.events import Garbled, Reading

LINES = Dialect(
    "lines",
    lambda data: data.find(b"\n") + 1,
    lambda raw: Reading(float(raw), "mm", 0, raw),
    longest=64,
    gap=0.1,
    settled=len,
)


@pytest.mark.parametrize("number", [b"1e30", b"-1e300", b"1.7e308"])
def test_a_number_that_is_too_large_to_reckon_with_is_garbled_and_its_bytes_are_kept(number):
    heard = [Garbled("a number that is too large for any gauge", number.decode() + "\n")]

    assert Decoder(LINES).feed(number + b"\n")[1] == heard
    assert float("inf") > LARGEST**2


def test_one_that_silence_ends_is_garbled_too():
    assert isinstance(Decoder(LINES).feed(b"1e300")[0].silence()[1][0], Garbled)
