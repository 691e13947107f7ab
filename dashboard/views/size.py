"""The size now, the way to the aim, and the figures that the operator reads from two metres."""

from __future__ import annotations

from msgspec import Struct

from capture.events import Instant, Reading
from capture.folds.cold import Cold, at_20
from capture.folds.desk import State
from capture.folds.places import Place
from capture.folds.stations import StationReading, Warmth, size_of
from capture.folds.target import Target
from capture.folds.target import target as work_out
from capture.metrology.grinding import Outlook
from capture.sheet import Gauge, Units
from dashboard.remember import remember
from dashboard.views.lengths import degrees, fine_unit, size, size_parts, small, small_parts
from dashboard.words import word

K95 = 1.96
"""Two-sided 95 % of a normal distribution."""

target = remember(work_out)
"""The aim and its band; worked out from every reading of the bore, so only when there is another."""


class Now(Struct, frozen=True):
    """The newest size of the shaft."""

    cold: Cold
    reading: StationReading
    shown: float
    """mm, as the gauge showed it."""


def now(state: State) -> Now | None:
    """The newest word of a gauge on the shaft's diameter, brought to 20 °C; None before the first."""
    newest: tuple[int, Gauge, Reading, Instant] | None = None
    for gauge in state.job.gauges:
        health = state.health.get(gauge.name)
        if gauge.measures != "diameter" or gauge.name == state.stations.mastering or health is None:
            continue
        if health.last is None or health.last_at is None or health.last_seq is None:
            continue
        if newest is None or health.last_seq > newest[0]:
            newest = (health.last_seq, gauge, health.last, health.last_at)
    return None if newest is None else _sized(state, *newest)


def _sized(state: State, seq: int, gauge: Gauge, reading: Reading, at: Instant) -> Now:
    value, u = size_of(state.stations, gauge, reading)
    as_taken = StationReading(
        seq=seq,
        at=at,
        part="shaft",
        place=Place(),
        stage=state.stations.stage,
        pass_=state.stations.passes,
        value=value,
        u=u,
        scatter=u,
        resolution=gauge.resolution,
        of=(seq,),
        gauge=gauge.name,
        warmth=fresh(state, "shaft"),
        gauge_warmth=fresh(state, "gauge") or fresh(state, "master"),
    )
    return Now(at_20(as_taken, state.job), as_taken, reading.value)


def fresh(state: State, place: str) -> Warmth | None:
    """How warm a place is, unless its probe has been silent for too long."""
    warmth = state.warmth.get(place)
    if warmth is None:
        return None
    old = (state.at.mono - warmth.at.mono) / 1e9 > state.job.settings.warm.max_age
    return None if old else warmth


def outlook(state: State) -> Outlook | None:
    """What is known after the newest pass that has a size."""
    row = state.grind.row
    if row is None:
        return None
    if row.outlook is not None:
        return row.outlook
    before = state.grind.rows.last
    return before.outlook if before is not None and before.number > state.grind.first else None


def figures(state: State, units: Units) -> dict[str, str | None]:
    """The four figures with the line under each."""
    return {**_size(state, units), **_to_go(state, units), **_cold(state, units), **_come(state, units)}


def _size(state: State, units: Units) -> dict[str, str | None]:
    newest = now(state)
    if newest is None:
        return {"size": word("unknown"), "size-unit": "", "size-note": "", "size-note@data-state": None}
    growth, warmth = newest.cold.growth, newest.reading.warmth
    if newest.cold.assumed or warmth is None:
        note, doubt = word("size.assumed"), "assumed"
    else:
        key = "size.corrected" if growth >= 0 else "size.corrected-cold"
        note, doubt = word(key, t=degrees(warmth.value), growth=small(abs(growth), units)), None
    raw = word("size.raw", raw=size(newest.shown, units))
    number, unit = size_parts(newest.cold.value, units)
    return {
        "size": number,
        "size-unit": unit,
        "size-note": f"{note}. {raw}",
        "size-note@data-state": doubt,
    }


def to_go(state: State) -> float | None:
    """What the newest size is above the aim, mm; below 0 it is under."""
    aim, newest = target(state.job, state.stations), now(state)
    return None if aim is None or newest is None else newest.cold.value - aim.aim


def _to_go(state: State, units: Units) -> dict[str, str | None]:
    aim, left = target(state.job, state.stations), to_go(state)
    number, unit = small_parts(left, units)
    if left is not None and left < 0:
        number, unit = small_parts(-left, units)[0], word("togo.under", unit=fine_unit(units))
    assumed = aim is not None and aim.source == "nominal"
    newest = now(state)
    note = _aim(aim, units)
    if (
        aim is not None
        and aim.band
        and newest is not None
        and aim.band[0] <= newest.cold.value <= aim.band[1]
    ):
        note = f"{word('togo.inside')}. {note}"
    return {
        "togo": number,
        "togo-unit": unit,
        "togo-note": note,
        "togo-note@data-state": "assumed" if assumed else None,
    }


def _aim(aim: Target | None, units: Units) -> str:
    if aim is None:
        return word("togo.none")
    key = {"measured": "togo.aim", "sheet": "togo.sheet", "nominal": "togo.nominal"}[aim.source]
    note = word(key, aim=size(aim.aim, units))
    return note if aim.band is not None else f"{note}. {word('togo.no-band')}"


def _cold(state: State, units: Units) -> dict[str, str | None]:
    found = outlook(state)
    if found is None or found.predicted is None:
        return {"cold": word("unknown"), "cold-unit": "", "cold-note": word("cold.none")}
    u = None if found.u_predicted is None else K95 * found.u_predicted
    number, unit = size_parts(found.predicted, units)
    return {"cold": number, "cold-unit": unit, "cold-note": word("cold.u", u=small(u, units))}


def _come(state: State, units: Units) -> dict[str, str | None]:
    found = outlook(state)
    if found is None or found.to_come is None:
        return {"come": word("unknown"), "come-unit": "", "come-note": word("come.none")}
    u = None if found.u_to_come is None else K95 * found.u_to_come
    number, unit = small_parts(found.to_come, units)
    return {"come": number, "come-unit": unit, "come-note": word("come.u", u=small(u, units))}


def way(state: State, units: Units) -> dict[str, str | None]:
    """The road from the size now to the band: places on it in per cent from the left, large sizes left."""
    aim, newest, found = target(state.job, state.stations), now(state), outlook(state)
    if aim is None or newest is None:
        return {"way@data-state": "none"}
    low, high = aim.band or (aim.least, aim.most)
    here = newest.cold.value
    end = found.predicted if found is not None else None
    u = K95 * found.u_predicted if found is not None and found.u_predicted is not None else 0.0
    ends = [] if end is None else [end - u, end + u]
    least, most = min([low, here, *ends]), max([high, here, *ends])
    margin = 0.12 * (most - least)
    least, most = least - margin, most + margin

    def at(value: float) -> str:
        return f"{min(max((most - value) / (most - least), 0.0), 1.0) * 100:.2f}%"

    shown: dict[str, str | None] = {
        "way@data-state": "open" if end is None else "predicted",
        "way@--high": at(high),
        "way@--low": at(low),
        "way@--aim": at(aim.aim),
        "way@--now": at(here),
        "way-band": word("way.band", low=size(low, units), high=size(high, units)),
    }
    if end is not None:
        shown |= {"way@--cold": at(end), "way@--most": at(end + u), "way@--least": at(end - u)}
    return shown
