"""The settings of a serial line, found from what a receiver makes of what a sender puts on the wire.

The wire here is the asynchronous frame itself (start bit 0, data with the least bit first, parity, stop
bits 1: TIA-232 links with ISO 1177 characters), sampled as a receiver does: once in the middle of each bit.
"""

from __future__ import annotations

import pytest

from capture.teaching.line_settings import TRIED, LineSetting, Search, judged

TEXT = "+012.345 mm\r\n-003.210 mm\r\n+000.017 mm\r\n+108.966 mm\r\n" * 3


def wire(text: str, setting: LineSetting) -> list[int]:
    """The bits of *text* as they go over the wire, in units of a bit, with a pause around."""
    bits = [1] * 12
    for byte in text.encode("ascii"):
        data = [byte >> place & 1 for place in range(setting.bytesize)]
        parity = {"N": [], "E": [sum(data) % 2], "O": [1 - sum(data) % 2]}[setting.parity]
        bits += [0, *data, *parity, *[1] * int(setting.stopbits)]
    return bits + [1] * 12


def received(bits: list[int], sent: int, setting: LineSetting) -> bytes:
    """What a receiver with *setting* hears of bits *sent* at that many a second; a false stop gives a 0."""
    ratio = sent / setting.baud
    found = bytearray()
    at, last = 0.0, len(bits)
    size = 1 + setting.bytesize + (setting.parity != "N")

    def level(place: float) -> int:
        return bits[int(place)] if place < last else 1

    while at < last:
        if level(at) == 1:
            at += ratio / 16
            continue
        middles = [level(at + ratio * (place + 0.5)) for place in range(size + 1)]
        data = middles[1 : 1 + setting.bytesize]
        good = middles[size] == 1
        if setting.parity != "N":
            good = good and sum(middles[1:size]) % 2 == (setting.parity == "O")
        found.append(sum(bit << place for place, bit in enumerate(data)) if good else 0)
        at += ratio * (size + 0.5)
    return bytes(found)


def searched(sent: LineSetting) -> Search:
    search = Search()
    while search.found is None:
        data = received(wire(TEXT, sent), sent.baud, search.setting)
        search = search.receive(data).receive(b"", pause=True)
    return search


@pytest.mark.parametrize(
    "sent",
    [
        *TRIED,
        *(LineSetting(baud, 7, parity) for baud in (1200, 9600, 38400) for parity in ("E", "O")),
        LineSetting(4800, 7, "N", 2),
    ],
    ids=lambda setting: setting.words,
)
def test_what_a_gauge_is_set_to_is_found_by_listening(sent):
    search = searched(sent)

    assert search.sure
    # A receiver at the right rate that hears text can't tell a second stop bit from a pause.
    assert (search.found.baud, search.found.bytesize, search.found.parity) == (
        sent.baud,
        sent.bytesize,
        sent.parity,
    )


def test_seven_bits_are_known_from_what_eight_make_of_them():
    heard = bytes(byte | (byte.bit_count() % 2) << 7 for byte in b"+12.345\r\n")

    assert judged(heard, LineSetting(2400)) == (1.0, LineSetting(2400, 7, "E"))


def test_a_short_message_is_judged_after_a_pause_and_not_before():
    one = Search().receive(b"12.3 mm")

    assert one.found is None
    assert one.receive(b"", pause=True).found == LineSetting()


def test_a_line_of_text_is_known_at_its_end():
    assert Search().receive(b"12.3").receive(b"45\r").found == LineSetting()


def test_a_spark_of_the_plug_settles_nothing():
    assert Search().receive(b"\x007\x00", pause=True).found is None


def test_bytes_that_never_read_as_text_end_the_search_unsure():
    search = Search()
    for _ in TRIED:
        assert search.found is None
        search = search.receive(bytes(range(0x80, 0xA0)))

    assert search.found is not None
    assert not search.sure


def test_words_without_a_number_are_no_gauge():
    assert judged(b"ABCDEFGH", LineSetting())[0] == 0.0
