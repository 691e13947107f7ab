"""The size now, the way to the aim, and the figures that the operator reads from two metres."""

from __future__ import annotations

from msgspec import Struct

from capture.events import Reading
from capture.metrology.grinding.judgement import Outlook
from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import Cold, at_20
from capture.state.grinding.passes import PassRow
from capture.state.session import State
from capture.state.stations import StationReading, Warmth, size_of
from capture.state.target import Target
from capture.state.target import target as work_out
from dashboard.text.screen import word
from dashboard.views.lengths import degrees, fine_unit, size, size_parts, small, small_parts
from dashboard.views.memo import remember

K95 = 1.96
"""Two-sided 95 % of a normal distribution."""

target = remember(work_out)
"""The aim and its band; worked out from every reading of the bore, so only when there is another."""


class Now(Struct, frozen=True):
    """The newest size of the shaft."""

    cold: Cold
    reading: StationReading
    shown: float
    """mm, as the gauge meant it: its mastering included, heat not."""


def now(state: State) -> Now | None:
    """The newest size of the shaft that stands, at 20 °C by how warm it was then; None before the first."""
    taken = next((reading for reading in reversed(state.stations.taken) if reading.part == "shaft"), None)
    waiting = _waiting(state)
    if waiting is not None and (taken is None or waiting.seq > taken.seq):
        taken = waiting
    return None if taken is None else Now(at_20(taken, state.job), taken, taken.value)


def _waiting(state: State) -> StationReading | None:
    """The newest reading of the shaft where the program has not taken it."""
    event = state.candidate
    gauge = None if event is None else state.job.gauge(event.source)
    if event is None or gauge is None or gauge.measures != "diameter" or not isinstance(event.fact, Reading):
        return None
    value, u = size_of(state.stations, gauge, event.fact)
    return StationReading(
        seq=event.seq,
        at=event.at,
        part="shaft",
        place=PlannedPlace(),
        stage=state.stations.stage,
        pass_=state.stations.passes,
        value=value,
        u=u,
        scatter=u,
        resolution=gauge.resolution,
        of=(event.seq,),
        gauge=gauge.name,
        warmth=fresh(state, "shaft"),
        gauge_warmth=fresh(state, "gauge") or fresh(state, "master"),
    )


def fresh(state: State, place: str) -> Warmth | None:
    """How warm a place is, unless its probe has been silent for too long."""
    warmth = state.warmth.get(place)
    if warmth is None:
        return None
    old = (state.at.mono - warmth.at.mono) / 1e9 > state.job.settings.warm.max_age
    return None if old else warmth


def measured_row(state: State) -> PassRow | None:
    """The newest pass that has a size: the pass in hand, or the one before it in this stage."""
    row = state.grind.row
    if row is None or row.outlook is not None:
        return row
    before = state.grind.rows.last
    known = before is not None and before.outlook is not None and before.number > state.grind.first
    return before if known else None


def outlook(state: State) -> Outlook | None:
    """What is known after the newest pass that has a size."""
    row = measured_row(state)
    return None if row is None else row.outlook


def unmeasured(state: State) -> int | None:
    """Number of the newest pass where no size has been taken since."""
    row = state.grind.row
    return row.number if row is not None and row.outlook is None else None


def figures(state: State, units: Units) -> dict[str, str | None]:
    """The four figures with the line under each; where a pass has been made since, each says so."""
    shown = {**_size(state, units), **_to_go(state, units), **_cold(state, units), **_come(state, units)}
    number = unmeasured(state)
    for name in ("size", "togo", "cold", "come"):
        shown.setdefault(f"{name}-note@data-state", None)
        if number is not None and shown[f"{name}-unit"]:
            shown[f"{name}-note"] = f"{word('figure.before', number=number)}. {shown[f'{name}-note']}"
            shown[f"{name}-note@data-state"] = "assumed"
    return shown


def _size(state: State, units: Units) -> dict[str, str | None]:
    newest = now(state)
    if newest is None:
        return {"size": word("unknown"), "size-unit": "", "size-note": ""}
    growth, warmth = newest.cold.growth, newest.reading.warmth
    doubt = None
    if newest.cold.assumed or warmth is None:
        note, doubt = word("size.assumed"), "assumed"
    else:
        key = "size.corrected" if growth >= 0 else "size.corrected-cold"
        note = word(key, t=degrees(warmth.value), growth=small(abs(growth), units))
    number, unit = size_parts(newest.cold.value, units)
    raw = word("size.raw", raw=size(newest.shown, units))
    return {"size": number, "size-unit": unit, "size-note": f"{note}. {raw}", "size-note@data-state": doubt}


def to_go(state: State) -> float | None:
    """What the size is above the aim, mm; below 0 it is under. Of several places it is their mean."""
    aim, newest = target(state.job, state.stations), now(state)
    if aim is None or newest is None:
        return None
    sizes = [at_20(reading, state.job).value for reading in _latest(state).values()]
    here = sum(sizes) / len(sizes) if len(sizes) > 1 else newest.cold.value
    return here - aim.aim


def _latest(state: State) -> dict[PlannedPlace, StationReading]:
    """The newest reading of each place of the shaft since the newest pass that was measured."""
    found: dict[PlannedPlace, StationReading] = {}
    number: int | None = None
    for reading in reversed(state.stations.taken):
        if reading.part != "shaft" or number not in {None, reading.pass_}:
            break
        number = reading.pass_
        found.setdefault(reading.place, reading)
    return found


def _to_go(state: State, units: Units) -> dict[str, str | None]:
    aim, left = target(state.job, state.stations), to_go(state)
    number, unit = small_parts(left, units)
    if left is not None and left < 0:
        number, unit = small_parts(-left, units)[0], word("togo.under", unit=fine_unit(units))
    note = _aim(aim, units)
    if aim is not None and aim.band and left is not None and aim.band[0] <= aim.aim + left <= aim.band[1]:
        note = f"{word('togo.inside')}. {note}"
    places = len(_latest(state))
    if left is not None and places > 1:
        note = f"{note}. {word('togo.mean', places=places)}"
    assumed = aim is not None and aim.source == "nominal"
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
    if aim.of == "stripped":
        note = word("togo.strip", aim=note)
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
    aim, left, found = target(state.job, state.stations), to_go(state), outlook(state)
    if aim is None or left is None:
        return {"way@data-state": "none"}
    low, high = aim.band or (aim.least, aim.most)
    here = aim.aim + left
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
