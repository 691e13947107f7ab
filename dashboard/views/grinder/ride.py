"""The live trend: size against time while the wheel is on, by a gauge that rides on the part."""

from __future__ import annotations

from math import log
from typing import Any

from capture.metrology.grinding.stream.ride_figures import RideFigures
from capture.sheet.job import Units
from capture.state.session import State
from capture.state.stream.ride_gauge import RideGauge, leader, zero_now
from capture.state.stream.ride_rhythm import next_due
from capture.state.stream.riding_state import RidingState
from dashboard.text.screen import word
from dashboard.views.lengths import fine, fine_unit, size, small
from dashboard.views.size import fresh

SHOWN = 180.0
"""Seconds in sight."""


def ride(state: State, units: Units) -> dict[str, Any]:
    """Numbers of the live trend and the line under it; hidden where no gauge rides.

    ``traces`` fill those of the figure in order: size by the second, size at the gauge's own rate, passes,
    and where the size is going.
    """
    name = leader(state.rides) or next(iter(state.rides), None)
    gauge = None if name is None else state.job.gauge(name)
    if name is None or gauge is None:
        return {"ride-box@data-state": "none", "ride-now": "", "ride#figure": None}
    one = state.rides[name]
    zero = zero_now(one, gauge, state.stations, state.job)
    shown = {"ride-box@data-state": one.stream.phase, "ride-now": _line(state, one, zero, units)}
    return {**shown, "ride#figure": _figure(state, one.stream, 0.0 if zero is None else zero[0], units)}


def _figure(state: State, stream: RidingState, zero: float, units: Units) -> dict[str, Any] | None:
    now = stream.times[-1] if stream.times else state.at.seconds
    drawn = [(at, value) for at, value in stream.drawn if now - at <= SHOWN]
    if not drawn:
        return None
    reference = round(drawn[-1][1] + zero, 3)

    def y(value: float) -> float:
        return round(fine(value + zero - reference, units) or 0.0, 2)

    def x(at: float) -> float:
        return round(at - now, 2)

    steps = [one for one in stream.steps if now - one.at <= SHOWN]
    end = _going(state)
    levels = [y(value) for _, value in drawn]
    margin = max(0.08 * (max(levels) - min(levels)), 1.0)
    goal = [] if end is None else [round(fine(end - reference, units) or 0.0, 2)] * 2
    low, high = min([*levels, *goal]), max([*levels, *goal])
    return {
        "x": [-SHOWN, 2.0],
        "y": [round(low - margin, 2), round(high + margin, 2)],
        "title": word("trend.axis", unit=fine_unit(units), reference=size(reference, units)),
        "traces": [
            {"x": [x(at) for at, _ in drawn], "y": levels},
            {"x": [x(at) for at in stream.times], "y": [y(value) for value in stream.values]},
            {"x": [x(one.at) for one in steps], "y": [y(one.size) for one in steps]},
            {"x": [-SHOWN, 2.0] if goal else [], "y": goal},
        ],
    }


def _going(state: State) -> float | None:
    """Where passes without infeed would bring the size, mm."""
    row = state.grind.row
    return None if row is None or row.outlook is None else row.outlook.predicted


def _line(state: State, one: RideGauge, zero: tuple[float, float] | None, units: Units) -> str:
    """Size now and when cold, and the decay with its time constant."""
    stream = one.stream
    if stream.phase == "lifted":
        return word("ride.lifted")
    if stream.size is None or zero is None:
        return word("ride.unset")
    said = [word("ride.now", size=size(stream.size + zero[0], units), phase=word(f"ride.{stream.phase}"))]
    newest = next((reading for reading in reversed(state.stations.taken) if reading.ride is not None), None)
    row = state.grind.row
    if row is not None and row.outlook is not None and row.outlook.predicted is not None:
        key = "ride.cold" if fresh(state, "shaft") is not None else "ride.cold-assumed"
        said.append(word(key, size=size(row.outlook.predicted, units)))
    if stream.plunge is not None:
        fit = stream.plunge.fit
        said += [] if fit is None else [_dwell(fit.to_come[0], fit.tau[0], units)]
    elif newest is not None and newest.ride is not None:
        said.append(_decay(newest.ride, stream, units))
    return " · ".join(said)


def _dwell(come: float, tau: float, units: Units) -> str:
    """What the dwell still takes, and its time constant."""
    return word("ride.dwell", come=small(max(come, 0.0), units), seconds=f"{tau:.1f}")


def _decay(ride: RideFigures, stream: RidingState, units: Units) -> str:
    """What comes off by the next pass without infeed, and the time constant in passes and seconds."""
    if ride.tau is not None:
        return _dwell(ride.to_come[0], ride.tau[0], units)
    passes = -1.0 / log(ride.left)
    due = next_due(stream)
    text = word("ride.decay", next=small(ride.next_removal[0], units), passes=f"{passes:.1f}")
    return text if due is None else f"{text} ({word('ride.seconds', seconds=f'{passes * due[1]:.0f}')})"
