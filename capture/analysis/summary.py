"""The findings of a session as plain data, lengths in millimetres: what ``summary --json`` prints.

The keys are a contract with other programs: within a major version new ones may come, none
changes meaning or goes.
"""

from __future__ import annotations

from typing import Any

from capture.analysis.grind.headline import called_of, headline_of, step_of
from capture.analysis.grind.next_step import coach_of
from capture.analysis.grind.shaft_taper import taper_of
from capture.events import Event, Flag
from capture.state.cold_size import at_20
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.state.stations import StationReading
from capture.state.target import target
from capture.text.flag_sentences import flag_text


def summary(state: State) -> dict[str, Any]:
    """Stations, passes, flags, taper and sweeps of *state*; what is not known is None."""
    called = called_of(state)
    return {
        "headline": headline_of(state),
        "stations": [_station(reading, state) for reading in state.stations.taken],
        "passes": [_pass(row, called[row.number], step_of((), state.job)) for row in state.grind.passes],
        "flags": [_flag(event) for event in state.flags],
        "taper": taper_of(state),
        "target": _target(state),
        "coach": coach_of(state),
        "sweeps": [_sweep(reading, state) for reading in state.stations.taken if len(reading.of) > 1],
        "set_aside": sorted(state.aside),
    }


def _station(reading: StationReading, state: State) -> dict[str, Any]:
    cold = at_20(reading, state.job)
    return {
        "part": reading.part,
        "z": reading.place.z,
        "angle": reading.place.angle,
        "stage": reading.stage,
        "pass": reading.pass_,
        "value": reading.value,
        "value_20c": cold.value,
        "u": cold.u,
        "step": reading.step,
        "assumed_20c": cold.assumed,
        "temperature": None if reading.warmth is None else reading.warmth.value,
        "gauge": reading.gauge,
        "clamp": reading.clamp,
        "t": reading.at.seconds,
        "seq": reading.seq,
        "of": list(reading.of),
    }


def _sweep(reading: StationReading, state: State) -> dict[str, Any]:
    row = _station(reading, state)
    of = row.pop("of")
    return {**row, "turning_points": len(of), "of": of, "low": list(reading.low), "high": list(reading.high)}


def _pass(row: PassRow, called: str, step: float | None) -> dict[str, Any]:
    outlook = row.outlook
    return {
        "number": row.number,
        "infeed": row.infeed,
        "found": row.found,
        "value": None if outlook is None or outlook.size is None else outlook.size + row.growth,
        "value_20c": None if outlook is None else outlook.size,
        "u": None if outlook is None else outlook.u_size,
        "assumed_20c": row.assumed,
        "removed": None if outlook is None else outlook.removed,
        "to_come": None if outlook is None else outlook.to_come,
        "u_to_come": None if outlook is None else outlook.u_to_come,
        "next_removal": None if outlook is None else outlook.next_removal,
        "probability": None if outlook is None else outlook.p_below,
        "predicted": None if outlook is None else outlook.predicted,
        "u_predicted": None if outlook is None else outlook.u_predicted,
        "share": None if outlook is None else outlook.share,
        "method": None if outlook is None else outlook.method,
        "verdict": None if outlook is None else outlook.verdict,
        "called": called,
        "step": step,
        "t": (row.size_at or row.at).seconds,
        "seq": row.seq,
    }


def _flag(event: Event) -> dict[str, Any]:
    if not isinstance(event.fact, Flag):
        return {}
    flag = event.fact
    return {
        "t": event.at.seconds,
        "seq": event.seq,
        "pass": flag.pass_,
        "what": flag.what,
        "gauge": flag.gauge or None,
        "text": flag_text(flag),
        "figures": flag.figures,
        "of": list(flag.of),
    }


def _target(state: State) -> dict[str, Any] | None:
    wanted = target(state.job, state.stations)
    if wanted is None:
        return None
    return {
        "aim": wanted.aim,
        "least": wanted.least,
        "most": wanted.most,
        "band": None if wanted.band is None else list(wanted.band),
        "bore": wanted.bore,
        "u_bore": wanted.u_bore,
        "bore_from": wanted.source,
        "of": wanted.of,
    }
