"""One battery that every dialect passes: whatever bytes come, however they are cut."""

from __future__ import annotations

import pkgutil
import random
import re
from importlib import import_module

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from capture import dialects
from capture.dialects.decimal import decimal_line
from capture.dialects.dialect import Decoder
from capture.dialects.gatt import NUMBERS, Presentation, bordered, envelope, whole
from capture.dialects.registers import Registers, crc, registers
from capture.dialects.taught.format_files import load
from capture.events import Garbled, Reading


def _answer(body):
    return body + crc(body)


TAUGHT_LINE = """
frame = { kind = "line", end = "\\r\\n" }
[[sentence]]
means = [{ before = "D", after = "mm", unit = "mm", sign = "written", display = { decimals = 3 } }]
"""
TAUGHT_LINE_WITHOUT_A_HEAD = TAUGHT_LINE.replace('"\\r\\n"', '"\\r", doubt_first = true').replace('"D"', '""')
TAUGHT_COUNT = """
frame = { kind = "fixed", length = 6 }
check = { kind = "crc16-modbus", at = -2, size = 2, written = "little" }
[[record]]
length = 6
value = { kind = "count", at = 1, size = 3, signed = "complement" }
unit = "mm"
sign = "written"
display = { mm = { decimals = 3, scale = "0.001" } }
constants = { 0 = "02" }
"""
TAUGHT_GAP = TAUGHT_COUNT.replace('"fixed", length = 6', '"gap", gap = 0.05')
TAUGHT_STUFFED = TAUGHT_COUNT.replace('"fixed", length = 6', '"stuffed"')
TAUGHT_DOUBLED = TAUGHT_COUNT.replace('"fixed", length = 6', '"doubled"')
COUNT = b"\2\0\x30\x39"
INCHES = Presentation(format=0x10, exponent=-4, unit=0x27A2)


# Each with pieces that it understands or nearly understands, so that chance doesn't only make noise.
DIALECTS = {
    "decimal": (decimal_line(), [b"+1.250\r\n", b"-0,003 in\r", b"A 1.5\n", b"\n", b"1 2\r", b"9" * 127]),
    "one channel": (decimal_line(channel="1"), [b"1:+1.250 2:-0.003\r\n", b"2: 1.5\r\n", b"1.5\r\n"]),
    "degrees": (decimal_line(unit="degF", longest=12), [b"68.0 F\r\n", b"\xb0C\r", b"20.0\xb0C\r\n"]),
    "registers": (
        registers(Registers()),
        [_answer(b"\1\3\4\0\0\x30\x39"), b"\1\3\4", b"\1\3", _answer(b"\1\x83\2"), b"\1" * 8],
    ),
    "one register": (
        registers(Registers(unit=2, kind="s16", function=4)),
        [_answer(b"\2\4\2\x30\x39"), b"\2\4\2\2\4", b"\2\x84\1"],
    ),
    "GATT values": (NUMBERS, [envelope(b"\x10\x27\0\0", 0, INCHES), b"\4\0", b"\0\0", b"\xff\xff"]),
    "text in GATT values": (whole(decimal_line()), [bordered(b"+1.250 mm\r"), bordered(b""), b"\3\0\r"]),
    "taught line": (load(TAUGHT_LINE, "line"), [b"D+1.250 mm\r\n", b"\r\n", b"D1 in\r\n", b"+1\r"]),
    "taught line without a head": (load(TAUGHT_LINE_WITHOUT_A_HEAD, "line"), [b"1.250 mm\r" * 2, b"\r"]),
    "taught count": (load(TAUGHT_COUNT, "count"), [_answer(COUNT), COUNT, b"\2\2", b"\0"]),
    "taught count with its end stuffed": (
        load(TAUGHT_STUFFED, "stuffed"),
        [_answer(COUNT) + b"\xc0", b"\xc0" + _answer(COUNT) + b"\xc0", b"\xdb\xdc\xc0", b"\xdb\xc0"],
    ),
    "taught count with its escape doubled": (
        load(TAUGHT_DOUBLED, "doubled"),
        [b"\x10\2" + _answer(COUNT) + b"\x10\3", b"\x10\2\x10\x10\x10\3", b"\x10\2\x10", b"\x10\3"],
    ),
    "taught count between silences": (load(TAUGHT_GAP, "gap"), [_answer(COUNT), COUNT]),
}

NOTHING = "a piece that says nothing"

every_dialect = pytest.mark.parametrize("name", DIALECTS)


@st.composite
def streams(draw, name):
    pieces = st.one_of(st.sampled_from(DIALECTS[name][1]), st.binary(max_size=12))
    return b"".join(draw(st.lists(pieces, max_size=12)))


@every_dialect
@given(data=st.data())
def test_however_bytes_are_chunked_the_same_is_heard(name, data):
    dialect = DIALECTS[name][0]
    stream = data.draw(streams(name))
    decoder, heard = Decoder(dialect), []
    rest = stream
    while rest:
        size = data.draw(st.integers(1, len(rest)))
        decoder, facts = decoder.feed(rest[:size])
        heard += facts
        rest = rest[size:]

    assert (decoder, heard) == Decoder(dialect).feed(stream)


@every_dialect
@given(data=st.data())
def test_no_byte_is_lost(name, data):
    """The raws of all that was heard, with the pieces that say nothing, are the bytes that came."""
    dialect = DIALECTS[name][0]
    stream = data.draw(streams(name))
    loud = replace(dialect, read=lambda raw: dialect.read(raw) or Garbled(NOTHING, raw))

    decoder, heard = Decoder(loud).feed(stream)
    every = heard + decoder.close()

    assert "".join(fact.raw for fact in every) == stream.decode("latin-1")
    assert Decoder(dialect).feed(stream)[1] == [fact for fact in heard if not _is_nothing(fact)]


def _is_nothing(fact):
    return isinstance(fact, Garbled) and fact.why == NOTHING


@every_dialect
@given(data=st.data())
def test_more_bytes_behind_a_piece_never_change_where_it_ends(name, data):
    dialect = DIALECTS[name][0]
    stream = data.draw(streams(name))[: dialect.longest]
    size = dialect.cut(stream)
    more = (stream + data.draw(streams(name)))[: dialect.longest]

    assert 0 <= size <= len(stream)
    assert not size or dialect.cut(more) == size


@every_dialect
@given(data=st.data())
def test_a_piece_is_read_as_a_reading_a_garbled_or_nothing_and_keeps_its_bytes(name, data):
    dialect = DIALECTS[name][0]
    piece = data.draw(streams(name)).decode("latin-1")

    said = dialect.read(piece)

    assert said is None or (isinstance(said, Reading | Garbled) and said.raw == piece)


@every_dialect
@pytest.mark.parametrize(
    "odd", ["nan", "-inf", "Infinity", "1e999", "1_0", "\xb2", "\xb9.5", "0x1F", "--1", "1.2.3"]
)
def test_what_passes_for_a_number_elsewhere_is_no_reading(name, odd):
    """A float of Python's may be written in ways, and be of a size, that no gauge's number is."""
    dialect, pieces = DIALECTS[name]
    for piece in pieces:
        changed = re.sub(rb"[-+]?\d[\d.,]*", odd.encode("latin-1"), piece)
        decoder, heard = Decoder(dialect).feed(changed)
        heard += decoder.close()

        text = piece.removesuffix(b"\n").removesuffix(b"\r").decode("latin-1")
        assert changed == piece or not text.isprintable() or not any(isinstance(f, Reading) for f in heard)


@every_dialect
def test_a_million_random_bytes_raise_nothing_and_are_all_there(name):
    dialect = DIALECTS[name][0]
    noise = random.Random(name).randbytes(1_000_000)  # noqa: S311 - the same noise every time

    decoder, heard = Decoder(dialect).feed(noise)

    assert all(isinstance(fact, Reading | Garbled) for fact in heard)
    assert len(decoder.pending) < dialect.longest
    assert sum(len(fact.raw) for fact in heard) + len(decoder.pending) <= len(noise)


@every_dialect
def test_each_dialect_here_understands_something(name):
    """Without this the battery would pass for a dialect that refuses everything."""
    dialect, (understood, *_) = DIALECTS[name]
    decoder, heard = Decoder(dialect).feed(understood)

    assert any(isinstance(fact, Reading) for fact in heard + decoder.close())


CHOOSE = {"capture.dialects.known.dialect_for", "capture.dialects.taught.formats.dialect"}
"""What gives a dialect of the others, and what `format_files.load` calls."""


def test_no_dialect_is_left_out_of_this_battery():
    makers = {
        f"{module.name}.{name}": maker
        for module in pkgutil.walk_packages(dialects.__path__, f"{dialects.__name__}.")
        for name, maker in vars(import_module(module.name)).items()
        if getattr(maker, "__module__", "") == module.name
        and getattr(maker, "__annotations__", {}).get("return") == "Dialect"
    }

    assert {name for name, maker in makers.items() if maker not in globals().values()} == CHOOSE
