"""Chatter in the streams of a recording as plain data: what ``chatter --json`` prints."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
from msgspec import to_builtins

from capture.events import Event, Reading
from capture.metrology.grinding.wheel.chatter import Speeds, tones
from capture.metrology.grinding.wheel.drives import belt_rpm
from capture.metrology.grinding.wheel.stream_waves import FEWEST, rate_of
from capture.sheet.job import Gauge, Job
from capture.sheet.wheel_work import SpindleDrive

MOST: Final = 6000
"""Readings that are looked at, the newest: two minutes at 50 a second."""
SLOWEST: Final = 2.0
"""Readings a second; a gauge that sends fewer shows no vibration."""
APART: Final = 3.0
"""Seconds without a reading after which a stretch ends: the gauge was lifted, or the part stood."""
SAME: Final = 0.02
"""Share by which two speeds differ and are not distinguished: twice the uncertainty of a given speed."""


def speeds_of(
    job: Job, wheel: float | None = None, work: float | None = None, drives: Mapping[str, float] | None = None
) -> Speeds:
    """What turns, in turns a second.

    Args:
        job: The sheet, for every speed that is not given.
        wheel: Revolutions a minute of the wheel.
        work: Revolutions a minute of the work.
        drives: Revolutions a minute of belts, motors and pumps, beside those of the sheet; one of the same
            name goes before the sheet's.
    """
    wheel = wheel or (None if job.wheel is None else job.wheel.spindle_rpm)
    work = work or (None if job.work is None else job.work.spindle_rpm)
    known = drives_of(job, wheel, work) | dict(drives or {})
    return Speeds(
        wheel=None if wheel is None else wheel / 60,
        work=None if work is None else work / 60,
        drives={name: rpm / 60 for name, rpm in known.items()},
    )


def drives_of(job: Job, wheel: float | None, work: float | None) -> dict[str, float]:
    """Revolutions a minute of the motors, belts and pump of the sheet, by name.

    A motor without a pulley drives its spindle directly: both are one speed, and the spindle's own is
    looked for already.
    """
    found: dict[str, float] = {}
    for name, data, spindle in (("wheel", job.wheel, wheel), ("work", job.work, work)):
        if data is None or data.drive is None:
            continue
        motor, belt = _motor_and_belt(data.drive, spindle)
        if motor is not None and (spindle is None or abs(motor - spindle) > SAME * spindle):
            found[f"{name} motor"] = motor
        if belt is not None:
            found[f"{name} belt"] = belt
    if job.grinder is not None and job.grinder.pump_rpm is not None:
        found["pump"] = job.grinder.pump_rpm
    return found


def _motor_and_belt(drive: SpindleDrive, spindle: float | None) -> tuple[float | None, float | None]:
    """Revolutions a minute of the motor and of the belt, from whichever end of the belt is known."""
    motor = drive.motor_rpm
    if motor is None and spindle is not None and drive.motor_pulley and drive.spindle_pulley:
        motor = spindle * drive.spindle_pulley / drive.motor_pulley
    if drive.belt_length is None:
        return motor, None
    if spindle is not None and drive.spindle_pulley is not None:
        return motor, belt_rpm(spindle, drive.spindle_pulley, drive.belt_length)
    if motor is not None and drive.motor_pulley is not None:
        return motor, belt_rpm(motor, drive.motor_pulley, drive.belt_length)
    return motor, None


def stays_on(gauge: Gauge) -> bool:
    """Whether a gauge stays on the part while it turns, so that its stream shows how it vibrates."""
    return gauge.rides is not None or gauge.measures == "runout"


def chatter_rows(events: Iterable[Event], job: Job) -> dict[str, Any] | None:
    """Chatter in the newest stretch of a gauge that stays on the part; None where no such gauge streamed."""
    names = {gauge.name for gauge in job.gauges if stays_on(gauge)}
    if not names:
        return None
    kept: dict[str, deque[tuple[float, float]]] = {name: deque(maxlen=MOST) for name in names}
    for event in events:
        if event.source in names and isinstance(event.fact, Reading) and event.fact.unit == "mm":
            stretch = kept[event.source]
            if stretch and event.at.seconds - stretch[-1][0] > APART:
                stretch.clear()
            stretch.append((event.at.seconds, event.fact.value))
    name = max(sorted(kept), key=lambda one: len(kept[one]))
    if len(kept[name]) < FEWEST:
        return None
    times, values = np.array(kept[name]).T
    if times[-1] <= times[0] or rate_of(times) < SLOWEST:
        return None
    return findings(name, times, values, speeds_of(job))


def findings(name: str, times: Any, values: Any, speeds: Speeds) -> dict[str, Any]:
    """The tones of one stream as plain data.

    Raises:
        ValueError: Too few readings, or all at one time.
    """
    found = tones(times, values, speeds)
    row: dict[str, Any] = {
        "gauge": name,
        "rate": rate_of(times),
        "start": float(times[0]),
        "stop": float(times[-1]),
        "tones": to_builtins(found),
    }
    return row
