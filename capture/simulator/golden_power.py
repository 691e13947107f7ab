"""Recordings of grinds by the spindle's power, whole and with what goes wrong."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from capture.simulator import gauge_lines
from capture.simulator.gauge_lines import GaugeLine
from capture.simulator.sessions.power_session import POWER, power_session
from capture.simulator.spindle_power import SpindleMeter


def power(path: Path) -> None:
    """The spindle's power alone shows the passes: a pump on its meter, a dresser, an air stroke, rests."""
    _powered(path, power_session())


def power_gone(path: Path) -> None:
    """The meter is silent for a minute from the middle of a pass on, in which the wheel passes again."""
    received = (one for one in power_session() if one.gauge != "spindle" or not 75.0 < one.at < 135.0)
    _powered(path, received)


def power_still(path: Path) -> None:
    """The meter hangs on another motor: it never moves, and the part becomes smaller."""
    lines = power_session(meter=SpindleMeter(specific_energy=0.0, rubbing=0.0, dressing=0.0))
    _powered(path, lines)


def power_scale(path: Path) -> None:
    """Counts of the meter are taken for per cent of what the drive is rated at."""
    sheet = POWER.replace('measures = "power"', 'measures = "power"\nunit = "%"')
    lines = (line._replace(data=line.data.replace(b" W", b"")) for line in power_session())
    _powered(path, lines, sheet)


def _powered(path: Path, lines: Iterable[GaugeLine], sheet: str = POWER) -> None:
    gauge_lines.record(path, sheet, ("spindle", "mike"), lines)
