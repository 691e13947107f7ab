"""Falls of the size that come when no pass is due; the strokes of a table are worked by hand.

That coolant lifts a finger by half a micrometre, and that it is shut while the part is measured, is common
practice, no source.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from capture.state.stream import ride_rhythm
from capture.state.stream.ride_passes import figures_of
from capture.state.stream.riding_state import RidingState, SizeStep
from tests.capture.state.stream.test_ride_passes import rider

STROKES = [30.0, 42.0, 60.0, 72.0, 90.0]
"""There and back: 12 s and 18 s."""


def after(times: list[float], fall: float = 0.006) -> RidingState:
    steps = tuple(
        SizeStep(
            t, fall, 4e-5, -fall * n, before_at=t - 5, u_before=2e-5, after_at=t + 5, u_after=2e-5, rest=n > 2
        )
        for n, t in enumerate(times, 1)
    )
    return RidingState(steps=steps, count=len(steps), due=steps[-1])


@pytest.mark.parametrize("at", [102.0, 100.0, 105.0, 108.0])
def test_a_fall_where_a_pass_is_due_is_one(at: float):
    """12 s or 18 s after the newest, within a third of the shorter stroke."""
    assert not ride_rhythm.is_doubtful(after(STROKES), at, 0.0005)


@pytest.mark.parametrize("at", [116.0, 128.0, 150.0])
def test_a_small_fall_in_a_pause_is_odd(at: float):
    assert ride_rhythm.is_doubtful(after(STROKES), at, 0.0005)
    assert not ride_rhythm.is_doubtful(after(STROKES), at, 0.004)  # no coolant does that


@given(st.floats(100.0, 400.0))
def test_nothing_is_odd_before_a_rhythm_is_known(at: float):
    assert not ride_rhythm.is_doubtful(after(STROKES[:2]), at, 0.0005)


def test_a_little_fall_soon_after_a_pass_is_the_part_that_springs_back():
    state = after(STROKES)

    assert ride_rhythm.springs_back(state, 95.0, 0.0012)
    assert not ride_rhythm.springs_back(state, 95.0, 0.0020)  # a rest takes a quarter at the least
    assert not ride_rhythm.springs_back(state, 101.0, 0.0012)


def test_an_odd_fall_makes_no_spark_out():
    """0.1 µm in the rhythm after rests may be called; the same beside it may not."""
    state = after(STROKES, 0.0008)
    last = replace(state.steps[-1], removed=0.0001, odd=True)
    odd = replace(state, steps=(*state.steps[:-1], last), due=last)
    plain = replace(state, steps=(*state.steps[:-1], replace(last, odd=False)), due=last)

    assert figures_of(odd, rider(), [])["rides.seen"] == 0.0
    assert figures_of(plain, rider(), [])["rides.seen"] == 1.0
    assert float(figures_of(odd, rider(), [])["rides.u_coming"]) > float(
        figures_of(plain, rider(), [])["rides.u_coming"]
    )
