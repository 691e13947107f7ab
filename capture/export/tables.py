"""A recording's readings as tables for other programs: CSV, Parquet and JSON.

Units stand in the names of columns, and as UCUM codes (Unified Code for Units of Measure) beside
them in Parquet and JSON. `COLUMNS` says what each column means.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any, Literal, TypeAlias

from msgspec import Struct

from capture.analysis.summary import summary
from capture.events import Event, Instant, Reading, Reject
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading

What: TypeAlias = Literal["stations", "readings", "passes"]
FORMAT = "tenths table 1"


class Column(Struct, frozen=True):
    """One column of a table."""

    name: str
    kind: Literal["int64", "float64", "string", "bool", "date"]
    unit: str
    """UCUM code; empty where it has no unit."""
    text: str


T = Column("t_s", "float64", "s", "Seconds since the recording began, on its monotonic clock.")
TIME = Column("time_utc", "string", "", "The host's wall clock, ISO 8601 in UTC.")

COLUMNS: dict[What, tuple[Column, ...]] = {
    "stations": (
        Column("seq", "int64", "1", "Number of the event by which the reading was taken."),
        T,
        TIME,
        Column("part", "string", "", "bore or shaft."),
        Column("z_mm", "float64", "mm", "Place along the part from its datum end; empty: not given."),
        Column("angle_deg", "float64", "deg", "Direction of the diameter; empty: not given."),
        Column("stage", "string", "", "Stage that a person entered; empty: none."),
        Column("pass", "int64", "1", "Number of the pass it was measured after; 0: before the first."),
        Column("value_mm", "float64", "mm", "Diameter as the gauge had it, mastering included."),
        Column("value_20c_mm", "float64", "mm", "The same at 20 °C."),
        Column("u_mm", "float64", "mm", "Standard uncertainty of value_20c_mm."),
        Column("assumed_20c", "bool", "", "No probe measured the part: it is taken to be at 20 °C."),
        Column("temperature_degC", "float64", "Cel", "Temperature of the part; empty: not known."),
        Column("gauge_temperature_degC", "float64", "Cel", "Of the gauge or its master; empty: not known."),
        Column("gauge", "string", "", "Name of the gauge."),
        Column("of", "string", "", "Numbers of the readings it rests on, with spaces between."),
        Column("step_mm", "float64", "mm", "Step of the gauge: finer figures are worked out, not read."),
        Column("clamp", "string", "", "How the part was held; empty: not said."),
    ),
    "readings": (
        Column("seq", "int64", "1", "Number of the event."),
        T,
        TIME,
        Column("gauge", "string", "", "Name of the gauge."),
        Column("value_mm", "float64", "mm", "A length; empty where the gauge measures something else."),
        Column("value_degC", "float64", "Cel", "A temperature; empty where it measures something else."),
        Column("value_other", "float64", "", "Any other quantity, in the unit of unit_ucum."),
        Column("unit_ucum", "string", "", "UCUM code of the value."),
        Column("digits", "int64", "1", "Decimals that the gauge itself showed, in its own unit."),
        Column("shown", "string", "", "The gauge's own unit where it is another, such as in."),
        Column("raw", "string", "", "What the gauge sent, one character a byte (latin-1)."),
        Column("set_aside", "bool", "", "A person set it aside: it counts for nothing."),
        Column("why", "string", "", "Why it was set aside."),
    ),
    "passes": (
        Column("number", "int64", "1", "Number of the pass."),
        Column("seq", "int64", "1", "Number of the event."),
        Column("t_s", "float64", "s", "Seconds since the recording began when its size was measured."),
        Column("infeed_mm", "float64", "mm", "Infeed on diameter; empty: not known."),
        Column("found", "bool", "", "Not entered: the program found it."),
        Column("value_mm", "float64", "mm", "Size after it, as warm as the part was."),
        Column("value_20c_mm", "float64", "mm", "The same at 20 °C."),
        Column("u_mm", "float64", "mm", "Standard uncertainty of value_20c_mm."),
        Column("assumed_20c", "bool", "", "No probe measured the part: it is taken to be at 20 °C."),
        Column("removed_mm", "float64", "mm", "What it took off, on diameter."),
        Column("to_come_mm", "float64", "mm", "What still comes off by itself, on diameter."),
        Column("u_to_come_mm", "float64", "mm", "Its standard uncertainty."),
        Column("predicted_mm", "float64", "mm", "Cold size when nothing more comes off."),
        Column("u_predicted_mm", "float64", "mm", "Its standard uncertainty."),
        Column("verdict", "string", "", "What the sizes that were measured say of it."),
        Column("called", "string", "", "What the program calls it: nothing while places are open."),
        Column("step_mm", "float64", "mm", "Step of the gauge: finer figures are worked out, not read."),
    ),
}
"""Every column of every table, in order."""

UCUM = {"mm": "mm", "degC": "Cel", "%": "%", "deg": "deg", "N": "N", "W": "W", "1": "1"}
"""UCUM codes of the program's own units."""


def rows(what: What, events: Iterable[Event], state: State) -> list[dict[str, Any]]:
    """The rows of a table; what is not known is None.

    Args:
        what: Which table.
        events: All events of the recording.
        state: Its state at the end.
    """
    match what:
        case "stations":
            return [_station(reading, state) for reading in state.stations.taken]
        case "readings":
            return list(_readings(events, state))
        case "passes":
            return [_pass(row) for row in summary(state)["passes"]]


def iso(at: Instant) -> str:
    """The wall clock, ISO 8601 in UTC to the microsecond."""
    return (
        datetime.fromtimestamp(at.wall // 1000 / 1e6, UTC)
        .isoformat(timespec="microseconds")
        .replace("+00:00", "Z")
    )


def _station(reading: StationReading, state: State) -> dict[str, Any]:
    cold = at_20(reading, state.job)
    return {
        "seq": reading.seq,
        "t_s": reading.at.seconds,
        "time_utc": iso(reading.at),
        "part": reading.part,
        "z_mm": reading.place.z,
        "angle_deg": reading.place.angle,
        "stage": reading.stage,
        "pass": reading.pass_,
        "value_mm": reading.value,
        "value_20c_mm": cold.value,
        "u_mm": cold.u,
        "assumed_20c": cold.assumed,
        "temperature_degC": None if reading.warmth is None else reading.warmth.value,
        "gauge_temperature_degC": None if reading.gauge_warmth is None else reading.gauge_warmth.value,
        "gauge": reading.gauge,
        "of": " ".join(str(seq) for seq in reading.of),
        "step_mm": reading.step,
        "clamp": reading.clamp,
    }


def _readings(events: Iterable[Event], state: State) -> Iterator[dict[str, Any]]:
    why: dict[int, str] = {}
    found = []
    for event in events:
        if isinstance(event.fact, Reject) and event.seq not in state.aside:
            why[event.fact.of] = event.fact.why
        if isinstance(event.fact, Reading):
            found.append((event, event.fact))
    for event, reading in found:
        aside = event.seq in state.aside
        yield {
            "seq": event.seq,
            "t_s": event.at.seconds,
            "time_utc": iso(event.at),
            "gauge": event.source,
            "value_mm": reading.value if reading.unit == "mm" else None,
            "value_degC": reading.value if reading.unit == "degC" else None,
            "value_other": reading.value if reading.unit not in {"mm", "degC"} else None,
            "unit_ucum": UCUM[reading.unit],
            "digits": reading.digits,
            "shown": reading.shown or None,
            "raw": reading.raw,
            "set_aside": aside,
            "why": why.get(event.seq) if aside else None,
        }


def _pass(row: dict[str, Any]) -> dict[str, Any]:
    return {
        "number": row["number"],
        "seq": row["seq"],
        "t_s": row["t"],
        "infeed_mm": row["infeed"],
        "found": row["found"],
        "value_mm": row["value"],
        "value_20c_mm": row["value_20c"],
        "u_mm": row["u"],
        "assumed_20c": row["assumed_20c"],
        "removed_mm": row["removed"],
        "to_come_mm": row["to_come"],
        "u_to_come_mm": row["u_to_come"],
        "predicted_mm": row["predicted"],
        "u_predicted_mm": row["u_predicted"],
        "verdict": row["verdict"],
        "called": row["called"],
        "step_mm": row["step"],
    }
