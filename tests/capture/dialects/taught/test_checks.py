"""Checks against published check values and independent libraries."""

from __future__ import annotations

import binascii

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.framer import FramerRTU

from capture.dialects.taught.checks import CYCLIC, FrameCheck, cyclic, total

NINE = b"123456789"

CHECK_VALUES = {
    "crc16-modbus": 0x4B37,
    "crc16-8005-mirrored": 0xBB3D,
    "crc16-8005": 0xFEE8,
    "crc16-8005-mirrored-inverted": 0xB4C8,
    "crc16-1021-ffff": 0x29B1,
    "crc16-1021": 0x31C3,
    "crc16-1021-1d0f": 0xE5CC,
    "crc16-1021-inverted": 0xD64E,
    "crc16-1021-mirrored": 0x2189,
    "crc16-1021-mirrored-ffff": 0x6F91,
    "crc16-1021-mirrored-inverted": 0x906E,
    "crc16-3d65": 0xC2B7,
    "crc8-07": 0xF4,
    "crc8-07-ff": 0xFB,
    "crc8-07-55": 0xA1,
    "crc8-07-mirrored": 0xD0,
    "crc8-31-mirrored": 0xA1,
    "crc8-31-ff": 0xF7,
    "crc8-31": 0xA2,
    "crc8-1d": 0x37,
    "crc8-1d-inverted": 0x4B,
    "crc8-9b-mirrored": 0x25,
    "crc8-2f-inverted": 0xDF,
    "crc8-d5": 0xBC,
    "crc32": 0xCBF43926,
}
"""Checks of the text 123456789, the usual way to tell one cyclic check from another; from memory."""


@pytest.mark.parametrize("name", CYCLIC)
def test_cyclic_checks_have_their_published_check_values(name):
    assert cyclic(CYCLIC[name], NINE) == CHECK_VALUES[name]


@given(st.binary(max_size=40))
def test_cyclic_checks_agree_with_independent_implementations(data):
    """References: binascii of the standard library, and pymodbus (which gives the small end first)."""
    swapped = int.from_bytes(total("crc16-modbus", data).to_bytes(2, "little"))

    assert total("crc32", data) == binascii.crc32(data)
    assert total("crc16-1021", data) == binascii.crc_hqx(data, 0)
    assert total("crc16-1021-ffff", data) == binascii.crc_hqx(data, 0xFFFF)
    assert swapped == FramerRTU.compute_CRC(data)


@pytest.mark.parametrize(
    ("check", "frame"),
    [
        (FrameCheck("sum8", at=-1), b"\x01\x02\x03"),
        (FrameCheck("neg8", at=-1), b"\x01\x02\xfd"),
        (FrameCheck("not8", at=-1), b"\x01\x02\xfc"),
        (FrameCheck("xor8", at=-1), b"\x05\x03\x06"),
        (FrameCheck("xor8", at=-1, start=1), b"\xff\x03\x05\x06"),
        (FrameCheck("sum8", at=-2, size=2, written="HEX"), b"\x3a\x01\x023D"),
        (FrameCheck("sum8", at=-2, size=2, written="hex"), b"\x3a\x01\x023d"),
        (FrameCheck("sum8", at=-3, size=3, written="decimal"), b"AB131"),
        (FrameCheck("sum16", at=-2, size=2), b"\xff\xff\x01\xfe"),
        (FrameCheck("sum16", at=-2, size=2, written="little"), b"\xff\xff\xfe\x01"),
        (FrameCheck("xor8", at=-3, size=2, written="HEX", start=1, skip=1), b"$AB*03\x03"),
        (FrameCheck("sum8", at=-1, plus=0x20), b"\x01\x02\x23"),
    ],
)
def test_sums_as_worked_out_by_hand(check, frame):
    assert check.holds(frame)
    assert not check.holds(bytes([frame[0], frame[1] ^ 4, *frame[2:]]))


def test_a_frame_without_its_check_is_the_rest():
    assert FrameCheck("sum8", at=-2).without(b"abcXd") == b"abcd"


def test_a_frame_too_short_for_its_check_does_not_hold():
    assert not FrameCheck("sum16", at=-2, size=2).holds(b"\x00")
