"""The shaft's taper by its newest round of stations, and what to do at the swivel table."""

from __future__ import annotations

from math import sqrt
from typing import Any

from capture.metrology.form.taper import SwivelGeometry, TableMove, correct, line
from capture.sheet.job import Units
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading
from capture.state.target import target
from capture.text.catalogue import sentences

NO_ROUND = "measure at least two stations after one pass: a taper needs a round of them"
NO_SWIVEL = "the sheet has no swivel: write down where the table pivots and where it is read"


def taper_of(state: State, units: Units = "mm") -> dict[str, Any]:
    """Slope (mm/mm) and its uncertainty, table movement, residual, stock left (mm); advice in *units*."""
    stations = _newest_round(state)
    if not stations:
        return _row(None, None, None, None, None, NO_ROUND, None)
    z = list(stations)
    diameters = [sum(cold for cold, _ in readings) / len(readings) for readings in stations.values()]
    u = max(sqrt(sum(u**2 for _, u in readings)) / len(readings) for readings in stations.values())
    swivel = state.job.grinder.swivel if state.job.grinder is not None else None
    wanted = target(state.job, state.stations)
    if swivel is None:
        found = line(z, diameters, u)
        if found is None:
            return _row(None, None, None, None, None, NO_ROUND, None)
        residual = max(abs(one) for one in found.residuals)
        return _row(found.slope, found.u_slope, None, residual, None, NO_SWIVEL, None)
    table = SwivelGeometry(swivel.pivot, swivel.reading_at, swivel.toward_wheel)
    found_by = correct(z, diameters, table, u=u, target=None if wanted is None else wanted.aim)
    return _corrected(found_by, units)


def _corrected(correction: TableMove, units: Units) -> dict[str, Any]:
    found = correction.line
    return _row(
        None if found is None else found.slope,
        None if found is None else found.u_slope,
        correction.adjust,
        None if found is None else max(abs(one) for one in found.residuals),
        correction.stock_left,
        "; ".join(sentences(correction.said, units)),
        correction.verdict,
    )


def _row(
    slope: float | None,
    u_slope: float | None,
    adjust: float | None,
    residual: float | None,
    stock_left: float | None,
    advice: str,
    verdict: str | None,
) -> dict[str, Any]:
    return {
        "slope": slope,
        "u_slope": u_slope,
        "adjust": adjust,
        "residual": residual,
        "stock_left": stock_left,
        "advice": advice,
        "verdict": verdict,
    }


def _newest_round(state: State) -> dict[float, list[tuple[float, float]]]:
    """By station, (size at 20 °C, u) of the newest pass that was measured at two stations or more."""
    rounds: dict[tuple[int, str | None], list[StationReading]] = {}
    for reading in state.stations.taken:
        if reading.part == "shaft" and reading.place.z is not None and reading.stage == state.stations.stage:
            rounds.setdefault((reading.pass_, reading.stage), []).append(reading)
    for key in sorted(rounds, key=lambda key: key[0], reverse=True):
        stations: dict[float, list[tuple[float, float]]] = {}
        for reading in rounds[key]:
            stations.setdefault(reading.place.z or 0.0, []).append(
                (at_20(reading, state.job).value, reading.u)
            )
        if len(stations) > 1:
            return dict(sorted(stations.items()))
    return {}
