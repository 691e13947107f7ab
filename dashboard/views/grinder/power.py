"""The power of the wheel's drive: what it takes now, over what it takes while it runs free."""

from __future__ import annotations

from typing import Any

from capture.sheet.gauges.gauge import Gauge
from capture.state.session import State
from capture.state.stream.power_gauge import LOST, PowerGauge
from dashboard.text.screen import word


def power(state: State) -> dict[str, Any]:
    """The line under the trend; empty where no gauge measures power."""
    lines = [
        _line(gauge, state.powers[gauge.name], state.at.seconds)
        for gauge in state.job.gauges
        if gauge.name in state.powers
    ]
    return {"power-now": " · ".join(lines), "power-now@data-state": "shown" if lines else "none"}


def _line(gauge: Gauge, one: PowerGauge, now: float) -> str:
    bumps = one.bumps
    if bumps.last is None or now - bumps.last > LOST:
        return word("power.silent", gauge=gauge.name)
    if not bumps.ticks or bumps.noise is None:
        return word("power.learning", gauge=gauge.name)
    unit = "%" if gauge.unit == "%" else "W"
    level = bumps.ticks[-1].value
    if one.may_cut:
        over = level - bumps.rises[-1].base
        return word(
            "power.cutting", gauge=gauge.name, power=f"{level:.0f}", over=f"{max(over, 0.0):.0f}", unit=unit
        )
    said = word("power.free", gauge=gauge.name, power=f"{level:.0f}", unit=unit)
    if not one.passes.made:
        return said
    return f"{said}, {word('power.last', over=f'{one.passes.made[-1].level:.0f}', unit=unit)}"
