"""Worked examples are those of MODBUS Application Protocol V1.1b3; pymodbus is the other opinion."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.framer import FramerRTU

from capture.dialects.dialect import Decoder
from capture.dialects.registers import Registers, crc, decimals, question, registers
from capture.events import Garbled, Reading

MICROMETRES = Registers(unit=1, register=0, kind="s32", scale=0.001)


def framed(body):
    return body + crc(body)


def answer(data, where=MICROMETRES):
    return framed(bytes([where.unit, where.function, len(data)]) + data)


def heard(data, where=MICROMETRES):
    decoder, facts = Decoder(registers(where)).feed(data)

    assert decoder.pending == b""

    return facts


def test_the_check_is_that_of_the_catalogue():
    """Catalogue of parametrised CRC algorithms: CRC-16/MODBUS of "123456789" is 0x4B37."""
    assert crc(b"123456789") == bytes([0x37, 0x4B])


@given(st.binary(max_size=64))
def test_the_check_is_that_of_pymodbus(data):
    assert int.from_bytes(crc(data), "big") == FramerRTU.compute_CRC(data)


def test_the_questions_of_the_specification():
    """6.3 asks for holding registers from 0x006B (there three, here two), 6.4 for input register 8."""
    holding = Registers(unit=0x11, register=0x6B, kind="u32")
    inputs = Registers(unit=0x11, register=0x08, kind="u16", function=4)

    assert question(holding) == framed(bytes.fromhex("11 03 006B 0002"))
    assert question(inputs) == framed(bytes.fromhex("11 04 0008 0001"))


def test_the_answers_of_the_specification():
    """6.3: register 108 holds 0x022B = 555; 6.4: input register 9 holds 0x000A = 10."""
    (holding,) = heard(framed(bytes.fromhex("11 03 02 022B")), Registers(unit=0x11, kind="u16", shown="1"))
    inputs = Registers(unit=0x11, kind="u16", function=4, shown="1")
    (of_inputs,) = heard(framed(bytes.fromhex("11 04 02 000A")), inputs)

    assert (holding.value, of_inputs.value) == (555.0, 10.0)


@pytest.mark.parametrize(("code", "words"), [(2, "no such register"), (1, "function"), (11, "exception 11")])
def test_a_refusal_is_said_in_words(code, words):
    (fact,) = heard(framed(bytes([1, 0x83, code])))

    assert isinstance(fact, Garbled)
    assert words in fact.why


def test_counts_become_millimetres_with_the_digits_of_the_scale():
    where = Registers(scale=0.0005, shown="in")

    assert heard(answer((-55012).to_bytes(4, "big", signed=True))) == [
        Reading(-55.012, "mm", 3, answer((-55012).to_bytes(4, "big", signed=True)).decode("latin-1"))
    ]
    assert heard(answer((2000).to_bytes(4, "big")), where)[0].value == 25.4
    assert (heard(answer((2000).to_bytes(4, "big")), where)[0].shown, where.digits) == ("in", 4)


@pytest.mark.parametrize(
    ("step", "places"), [(1.0, 0), (0.001, 3), (0.002, 3), (0.00005, 5), (25.0, 0), (1e-7, 7), (1 / 3, 15)]
)
def test_a_step_needs_so_many_decimals(step, places):
    assert decimals(step) == places


KINDS = {
    "u16": ModbusClientMixin.DATATYPE.UINT16,
    "s16": ModbusClientMixin.DATATYPE.INT16,
    "u32": ModbusClientMixin.DATATYPE.UINT32,
    "s32": ModbusClientMixin.DATATYPE.INT32,
    "f32": ModbusClientMixin.DATATYPE.FLOAT32,
}


@given(
    st.sampled_from(sorted(KINDS)),
    st.sampled_from(["ABCD", "CDAB"]),
    st.integers(-30000, 30000),
)
def test_pymodbus_puts_numbers_into_registers_as_we_take_them_out(kind, order, count):
    """ABCD and CDAB are pymodbus's big and little word order."""
    number = abs(count) if kind.startswith("u") else count
    words = "big" if order == "ABCD" else "little"
    values = ModbusClientMixin.convert_to_registers(number, KINDS[kind], word_order=words)
    where = Registers(kind=kind, order=order, shown="1")

    (fact,) = heard(answer(b"".join(struct.pack(">H", value) for value in values), where), where)

    assert fact.value == number


@pytest.mark.parametrize(
    ("order", "data"),
    [("ABCD", "0A0B0C0D"), ("CDAB", "0C0D0A0B"), ("BADC", "0B0A0D0C"), ("DCBA", "0D0C0B0A")],
)
def test_the_order_names_the_bytes_as_they_come(order, data):
    where = Registers(kind="u32", order=order, shown="1")

    assert heard(answer(bytes.fromhex(data), where), where)[0].value == 0x0A0B0C0D


@pytest.mark.parametrize(("order", "data"), [("ABCD", "0A0B"), ("BADC", "0B0A")])
def test_the_order_of_one_register_is_that_of_its_bytes(order, data):
    where = Registers(kind="u16", order=order, shown="1")

    assert heard(answer(bytes.fromhex(data), where), where)[0].value == 0x0A0B


@pytest.mark.parametrize(
    ("kind", "data"),
    [("s32", "7FFFFFFF"), ("s32", "80000000"), ("u16", "FFFF"), ("f32", "7FC00000"), ("f32", "FF800000")],
)
def test_what_stands_for_no_value_is_no_reading(kind, data):
    where = Registers(kind=kind)

    assert isinstance(heard(answer(bytes.fromhex(data), where), where)[0], Garbled)


@pytest.mark.parametrize("came", range(9))
def test_an_answer_that_broke_off_does_not_swallow_the_next(came):
    good = answer(b"\x00\x00\x30\x39")

    assert heard(good[:came] + good)[-1] == heard(good)[0]


@given(st.binary(max_size=20), st.integers(0, 8), st.integers(1, 7))
def test_after_noise_or_a_flipped_bit_the_third_good_answer_is_heard_at_the_latest(noise, place, bit):
    """Two whole answers are longer than what noise can make us wait for."""
    good = answer(b"\x00\x00\x30\x39")
    broken = bytearray(good)
    broken[place] ^= 1 << bit

    facts = Decoder(registers(MICROMETRES)).feed(noise + bytes(broken) + good * 3)[1]

    assert facts[-1] == heard(good)[0]


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"unit": 0}, "1 to 247"),
        ({"unit": 248}, "1 to 247"),
        ({"register": 65535}, "65534"),
        ({"scale": 0.0}, "scale"),
    ],
)
def test_settings_that_cannot_be_are_named(settings, words):
    with pytest.raises(ValueError, match=words):
        Registers(**settings)
