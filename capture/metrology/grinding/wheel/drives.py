"""Belt drives: the spindle's speed by its pulleys, and how often motor and belt come round.

A belt that does not slip moves at ``pi * d * n`` on both pulleys (kinematics), so that ``n2 = n1 * d1 / d2``,
and one place of it comes round ``pi * d * n / L`` times. A V-belt creeps by some 1 to 2 % under load
(common practice, no source): speeds by pulleys are no finer.
"""

from __future__ import annotations

from math import pi


def driven_rpm(motor_rpm: float, motor_pulley: float, spindle_pulley: float) -> float:
    """Revolutions a minute of a spindle whose belt does not slip; pulleys by their pitch diameters, mm.

    >>> driven_rpm(1450, 150, 120)
    1812.5
    """
    return motor_rpm * motor_pulley / spindle_pulley


def belt_rpm(pulley_rpm: float, pulley: float, length: float) -> float:
    """How often a minute one place of the belt comes round; *pulley* and pitch *length* in mm.

    >>> round(belt_rpm(1450, 150, 1250), 1)
    546.6
    """
    return pi * pulley * pulley_rpm / length
