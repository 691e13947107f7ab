"""Belt drives, by following one place of the belt (kinematics: it moves as each pitch circle)."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.grinding.wheel.drives import belt_rpm, driven_rpm

DIAMETERS = st.floats(20, 500)
RPM = st.floats(10, 6000)


@given(rpm=RPM, motor=DIAMETERS, spindle=DIAMETERS)
def test_both_pulleys_move_the_belt_equally_fast(rpm: float, motor: float, spindle: float) -> None:
    assert pi * spindle * driven_rpm(rpm, motor, spindle) == pytest.approx(pi * motor * rpm)


@given(rpm=RPM, pulley=DIAMETERS, length=st.floats(300, 5000))
def test_a_place_of_the_belt_has_gone_once_round_after_one_turn_of_it(
    rpm: float, pulley: float, length: float
) -> None:
    minutes = 1.0 / belt_rpm(rpm, pulley, length)

    assert pi * pulley * rpm * minutes == pytest.approx(length)
