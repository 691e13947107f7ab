"""Counts of a converter: a scale that is no round number is learnt from sizes, and never read past it."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.dialects.dialect import Decoder
from capture.dialects.taught.formats import dialect
from capture.events import Reading
from capture.teaching.learner import Example, learn

STEP = Decimal("0.001")


def shown(count, scale):
    return (count * scale).quantize(STEP, ROUND_HALF_UP)


def press(count):
    return b"R%+08d\r\n" % count


def taught(scale, sizes=(24.9, -22.4, 0.317, 18.8, -7.9)):
    counts = [int(Decimal(size) / scale) for size in sizes]
    return learn([Example(((10.0, press(count)),), shown(count, scale), "mm") for count in counts])


def heard(learnt, count):
    decoder, facts = Decoder(dialect(learnt.format, "taught")).feed(press(count))
    return [fact.value for fact in [*facts, *decoder.silence()[1]] if isinstance(fact, Reading)]


@cache
def lesson(digits):
    return taught(Decimal(digits).scaleb(-8))


@given(
    digits=st.sampled_from((10_007, 27_183, 48_317, 99_991)),
    sizes=st.lists(st.floats(-24, 24), min_size=1, max_size=20),
)
def test_what_is_read_is_what_the_display_shows_whatever_the_scale(digits, sizes):
    learnt, scale = lesson(digits), Decimal(digits).scaleb(-8)
    assert learnt.format is not None

    for count in (int(Decimal(size) / scale) for size in sizes):
        assert heard(learnt, count) in ([], [float(shown(count, scale)) + 0.0])


@pytest.mark.parametrize("scale", [Decimal(25) / 65536, Decimal("25.4") / 32768, Decimal(10) / 4095])
def test_travel_in_a_power_of_two_parts_is_recognized_and_nothing_is_refused(scale):
    learnt = taught(scale, sizes=(24.931, -24.877, 24.412, -24.136, 23.963, 0.301))
    counts = [int(Decimal(size) / scale) for size in range(-24, 25)]

    assert [heard(learnt, count) for count in counts] == [
        [float(shown(count, scale)) + 0.0] for count in counts
    ]


def test_two_sizes_alone_prove_no_scale():
    assert taught(Decimal("0.0004831"), sizes=(24.9, -22.4)).format is None


def test_another_reading_near_full_travel_is_asked_for_while_the_scale_is_unsure():
    assert "show another reading near full travel" in taught(Decimal("0.00048317")).open
