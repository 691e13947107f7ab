"""What simulated gauges send, each line with its time: sent at that pace, or recorded without waiting."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from capture.events import Up
from capture.simulator.shop import Outlet
from capture.simulator.virtual_capture import Virtual

ONE_PLACE = """\
# A made-up job: nothing here was measured. The gauges are simulated.
[job]
name = "Jig-borer spindle sleeve, NAME (simulated)"
units = "mm"
simulated = true

[fit]
nominal = 55.0
clearance = {{ aim = 0.005, least = 0.003, most = 0.008 }}
bore = 55.0021
u_bore = 0.0005

[shaft]
material = "steel 4140"
stations = [140]
angles = [0]

[grinder]
dial = "diameter"

"""
"""The job sheet of a sleeve that is measured at one place, before its gauges; NAME says how it is ground."""


class GaugeLine(NamedTuple):
    """What a gauge sends, and when."""

    at: float
    """Seconds since the beginning."""
    gauge: str
    data: bytes


async def send(lines: Iterable[GaugeLine], outlets: Mapping[str, Outlet], *, speed: float = 1.0) -> None:
    """Let the gauges send, *speed* times as fast as in a shop.

    How fast the lines of a stream come is part of what they say, so that the clock and not the sum of the
    waits sets their pace.
    """
    for outlet in outlets.values():
        await outlet.connected.wait()
    loop = asyncio.get_running_loop()
    began = loop.time()
    for line in lines:
        await asyncio.sleep(max(0.0, began + line.at / speed - loop.time()))
        outlets[line.gauge].send(line.data)


def record(path: Path, sheet: str, gauges: Sequence[str], lines: Iterable[GaugeLine]) -> None:
    """Write the recording of what *gauges* send; *sheet* has their addresses left open."""
    path.unlink(missing_ok=True)
    ports = {name: f"/dev/ttyUSB{n}" for n, name in enumerate(gauges)}
    capture = Virtual(path, sheet.format(**ports))
    for name, port in ports.items():
        capture.link(name, Up(port))
    seconds = 0.0
    for line in lines:
        capture.wait(max(0.0, line.at - seconds))
        seconds = max(seconds, line.at)
        capture.receive(line.gauge, line.data)
    capture.close()
