"""What turns by the sheet, and the cause of a tone in a stream; speeds by the kinematics of a belt."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest

from capture.analysis.grind.chatter_findings import chatter_rows, speeds_of
from capture.events import Event, Instant, Reading
from capture.sheet.faults import BadSheet
from capture.sheet.job import Job
from capture.sheet.reader import read_sheet

SHEET = """
[job]
name = "sleeve"
units = "{units}"
[fit]
nominal = {nominal}
clearance = {{ aim = 0.0005, least = 0.0002, most = 0.0008 }}
[grinder]
dial = "diameter"
pump_rpm = 1425
[wheel]
diameter = {diameter}
{wheel}
[work]
rpm = 60
[[gauge]]
name = "ride"
measures = "diameter"
rides = 1
link = {{ serial = "/dev/ttyUSB0" }}
"""
DRIVE = "drive = { motor_rpm = 1440, motor_pulley = 150, spindle_pulley = 120, belt_length = 1250 }"


def job(wheel: str, units: str = "mm", nominal: float = 55, diameter: float = 300) -> Job:
    return read_sheet(SHEET.format(wheel=wheel, units=units, nominal=nominal, diameter=diameter), "job")[0]


def stream(hertz: float, rate: float = 50.0, seconds: float = 60.0) -> Iterator[Event]:
    noise = np.random.default_rng(5).normal(0, 0.0003, int(rate * seconds))
    for number, one in enumerate(noise):
        at = number / rate
        value = 55 + 0.002 * math.cos(2 * math.pi * hertz * at) + one
        yield Event(
            number + 1, Instant(round(at * 1e9), round(at * 1e9)), "ride", Reading(value, "mm", 4, "")
        )


def cause(hertz: float, of: Job) -> tuple[str, str]:
    found = chatter_rows(stream(hertz), of)
    assert found is not None
    best = found["tones"][0]["causes"][0]
    return best["kind"], best["name"]


def test_the_wheel_turns_as_motor_and_pulleys_make_it_where_its_speed_is_not_given() -> None:
    speeds = speeds_of(job(DRIVE))

    assert speeds.wheel == pytest.approx(1800 / 60)
    assert dict(speeds.drives) == pytest.approx(
        {"wheel motor": 24.0, "wheel belt": math.pi * 150 * 24 / 1250, "pump": 1425 / 60}
    )


def test_the_motor_follows_from_the_wheel_where_it_is_not_given() -> None:
    drive = "rpm = 1800\ndrive = { motor_pulley = 150, spindle_pulley = 120, belt_length = 1250 }"

    assert speeds_of(job(drive)).drives["wheel motor"] == pytest.approx(24.0)
    assert speeds_of(job(drive)).drives["wheel belt"] == pytest.approx(math.pi * 150 * 24 / 1250)


def test_pulleys_in_inches_turn_as_those_in_millimetres() -> None:
    pulleys = "motor_pulley = 5.9055118, spindle_pulley = 4.7244094, belt_length = 49.212598"
    inches = job(f"drive = {{ motor_rpm = 1440, {pulleys} }}", "in", 2, 12)

    assert dict(speeds_of(inches).drives) == pytest.approx(dict(speeds_of(job(DRIVE)).drives))


def test_a_motor_that_is_the_spindle_is_no_cause_of_its_own() -> None:
    assert set(speeds_of(job("rpm = 1440\ndrive = { motor_rpm = 1440 }")).drives) == {"pump"}


@pytest.mark.parametrize(
    ("hertz", "name"), [(math.pi * 150 * 24 / 1250, "wheel belt"), (24.0, "wheel motor"), (23.75, "pump")]
)
def test_a_tone_of_a_drive_on_the_sheet_names_it(hertz: float, name: str) -> None:
    """The pump and the motor differ by one in a hundred: each is a cause of the other's tone as well."""
    found = chatter_rows(stream(hertz), job(DRIVE))

    assert found is not None
    named = [one["name"] for one in found["tones"][0]["causes"] if one["kind"] == "drive"]
    assert named[0] == name


def test_without_the_drive_the_same_tone_is_no_drives() -> None:
    hertz = math.pi * 150 * 24 / 1250

    assert cause(hertz, job(DRIVE)) == ("drive", "wheel belt")
    assert cause(hertz, job("rpm = 1800"))[0] != "drive"


def test_a_wheel_that_its_drive_turns_faster_than_is_marked_on_it_is_refused() -> None:
    with pytest.raises(BadSheet, match=r"1\.20 times its limit"):
        job("marked_rpm = 1500\n" + DRIVE)
