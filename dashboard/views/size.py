"""The four figures that the operator reads from two metres, and the way to size, all of one headline."""

from __future__ import annotations

from math import ceil, floor, log10
from typing import Any

from capture.analysis.grind.headline import Headline, headline
from capture.metrology.units import from_mm
from capture.sheet.job import Units
from capture.state.cold_size import Cold, at_20
from capture.state.session import State
from capture.state.stations import StationReading, Warmth
from capture.state.target import Target
from capture.text.lengths import minus
from capture.text.rounded import Shown, quantum, rounded
from capture.text.rounded import shown as as_shown
from dashboard.text.screen import word
from dashboard.views.lengths import degrees, fine_unit, size, size_parts, small, small_parts, within
from dashboard.views.lengths import place as place_words
from dashboard.views.memo import remember_by

K95 = 1.96
"""Two-sided 95 % of a normal distribution."""

MOST_TICKS = 8
"""On the way to size, at most, where it begins and ends at none."""
EDGE = 0.015
"""Share of the way at either end that has no room for a tick's number."""
HEAT_SEEN = 2.0
"""Last decimals by which the size must differ from what was read before unseen heat is said."""

head = remember_by(lambda state: (state.grind, state.stations, state.job), headline)
"""The headline of a state; it rests on passes, readings and commands."""


def shown(found: Headline, units: Units) -> Shown:
    """The headline's figures as they are shown."""
    aim = found.aim
    return as_shown(
        size=found.size,
        aim=None if aim is None else aim.aim,
        band=None if aim is None else aim.band,
        predicted=found.predicted,
        step=found.step,
        units=units,
    )


def fresh(state: State, place: str) -> Warmth | None:
    """How warm a place is, unless its probe has been silent for too long."""
    warmth = state.warmth.get(place)
    if warmth is None:
        return None
    old = (state.at.mono - warmth.at.mono) / 1e9 > state.job.settings.warm.max_age
    return None if old else warmth


def figures(state: State, units: Units) -> dict[str, str | None]:
    """The four figures with the line under each; where a pass has been made since, each says so."""
    found = head(state)
    rounded = shown(found, units)
    made = {
        **_size(found, rounded, state, units),
        **_to_go(found, rounded, units),
        **_cold(found, rounded, units),
        **_come(found, rounded, units),
    }
    for name in ("size", "togo", "cold", "come"):
        made.setdefault(f"{name}-note@data-state", None)
        if found.newest is not None and made[f"{name}-unit"]:
            made[f"{name}-note"] = f"{word('figure.before', number=found.newest)}. {made[f'{name}-note']}"
            made[f"{name}-note@data-state"] = "assumed"
    return made


def _size(found: Headline, rounded: Shown, state: State, units: Units) -> dict[str, str | None]:
    if rounded.size is None:
        return {"size": word("unknown"), "size-unit": "", "size-note": ""}
    number, unit = size_parts(rounded.size, units, found.step)
    note, doubt = _warmth(found, state, units)
    return {
        "size": number,
        "size-unit": unit,
        "size-note": ". ".join(filter(None, [_of(found, rounded, state, units), note, _raw(found, units)])),
        "size-note@data-state": doubt,
    }


def _of(found: Headline, as_said: Shown, state: State, units: Units) -> str:
    """Which places the size is of; where all passes together say another than they alone, what these say."""
    planned, measured = len(state.stations.plan_of("shaft").plan), len(found.places)
    if measured < planned:
        return word("size.some", measured=measured, planned=planned)
    if measured < 2:
        return ""
    cold = [rounded(at_20(reading, state.job).value, found.step, units) for reading in found.readings]
    alone, one = sum(cold) / len(cold), quantum(found.step, units)
    if as_said.size is None or abs(alone - as_said.size) <= 0.5 * one + 1e-9:
        return word("size.mean", places=measured)
    return word("size.by-passes", places=measured, alone=size(alone, units, found.step))


def _raw(found: Headline, units: Units) -> str:
    """What the gauge gave last, and where, if the size is of several places."""
    if not found.readings:
        return ""
    newest = max(found.readings, key=lambda reading: reading.seq)
    raw = size(newest.value, units, found.step)
    if len(found.readings) < 2 or newest.place.z is None:
        return word("size.raw", raw=raw)
    return word("size.raw-at", raw=raw, place=place_words(newest.place.z, units))


def _warmth(found: Headline, state: State, units: Units) -> tuple[str, str | None]:
    """What was done for heat, and the doubt about it."""
    if not found.readings:
        return "", None
    newest = max(found.readings, key=lambda reading: reading.seq)
    cold: Cold = at_20(newest, state.job)
    if cold.assumed or newest.warmth is None:
        unseen = _read(found.readings, state) - (found.size or 0.0)
        if unseen > HEAT_SEEN * quantum(found.step, units) and _heats(found):
            return word("size.unseen", growth=small(unseen, units, found.step)), "assumed"
        return word("size.assumed"), "assumed"
    key = "size.corrected" if cold.growth >= 0 else "size.corrected-cold"
    return word(key, t=degrees(newest.warmth.value), growth=small(abs(cold.growth), units, found.step)), None


def _heats(found: Headline) -> bool:
    """Whether the sizes look as if the part got warm unseen."""
    return found.outlook is not None and (found.outlook.p_heat or 0.0) >= 0.5


def _read(readings: tuple[StationReading, ...], state: State) -> float:
    return sum(at_20(reading, state.job).value for reading in readings) / len(readings)


def _to_go(found: Headline, rounded: Shown, units: Units) -> dict[str, str | None]:
    number, unit = small_parts(rounded.to_go, units, found.step)
    if rounded.to_go is not None and rounded.to_go < 0:
        number, unit = (
            small_parts(-rounded.to_go, units, found.step)[0],
            word("togo.under", unit=fine_unit(units)),
        )
    note = _aim(found.aim, rounded, units, found.step)
    if rounded.low is not None and rounded.high is not None and rounded.size is not None:
        inside = rounded.low - 1e-9 <= rounded.size <= rounded.high + 1e-9
        note = f"{note}. {word('togo.inside')}" if inside and found.whole else note
    assumed = found.aim is not None and found.aim.source == "nominal"
    return {
        "togo": number,
        "togo-unit": unit,
        "togo-note": note,
        "togo-note@data-state": "assumed" if assumed else None,
    }


def _aim(aim: Target | None, rounded: Shown, units: Units, step: float | None) -> str:
    if aim is None:
        return word("togo.none")
    key = {"measured": "togo.aim", "sheet": "togo.sheet", "nominal": "togo.nominal"}[aim.source]
    note = word(key, aim=size(rounded.aim, units, step))
    if aim.of == "stripped":
        note = word("togo.strip", aim=note)
    if aim.band is None:
        return f"{note}. {word('togo.no-band')}"
    if aim.asked != aim.aim:
        return f"{note}. {word('togo.moved', asked=size(aim.asked, units, step))}"
    return note


def _cold(found: Headline, rounded: Shown, units: Units) -> dict[str, str | None]:
    if rounded.predicted is None:
        return {"cold": word("unknown"), "cold-unit": "", "cold-note": word("cold.none")}
    u = None if found.u_predicted is None else K95 * found.u_predicted
    number, unit = size_parts(rounded.predicted, units, found.step)
    return {"cold": number, "cold-unit": unit, "cold-note": word("cold.u", u=within(u, units, found.step))}


def _come(found: Headline, rounded: Shown, units: Units) -> dict[str, str | None]:
    if rounded.to_come is None or found.to_come is None:
        return {"come": word("unknown"), "come-unit": "", "come-note": word("come.none")}
    key, u_come = "come.u", found.u_to_come
    if found.size is not None and found.predicted is not None:
        cooling = found.size - found.predicted - found.to_come
        if cooling > quantum(found.step, units):  # a riding gauge saw the part grow: it falls as it cools
            key, u_come = "come.cooling", found.u_predicted
    number, unit = small_parts(rounded.to_come, units, found.step)
    u = None if u_come is None else K95 * u_come
    return {"come": number, "come-unit": unit, "come-note": word(key, u=within(u, units, found.step))}


def way(state: State, units: Units) -> dict[str, Any]:
    """The way from the size now to the band: places on it in per cent from the left, large sizes left."""
    found = head(state)
    rounded, aim = shown(found, units), found.aim
    if aim is None or rounded.size is None:
        return {"way@data-state": "none"}
    low, high = aim.band or (aim.least, aim.most)
    end = rounded.predicted
    u = K95 * found.u_predicted if found.predicted is not None and found.u_predicted is not None else 0.0
    ends = [] if end is None else [end - u, end + u]
    least, most = min([low, rounded.size, *ends]), max([high, rounded.size, *ends])
    margin = 0.12 * (most - least)
    least, most = least - margin, most + margin

    def at(value: float) -> str:
        return f"{min(max((most - value) / (most - least), 0.0), 1.0) * 100:.2f}%"

    made: dict[str, Any] = {
        "way@data-state": "open" if end is None else "predicted",
        "way@--high": at(high),
        "way@--low": at(low),
        "way@--aim": at(aim.aim),
        "way@--now": at(rounded.size),
        "way-band": _band(aim, rounded, units, found.step),
        "way-scale[]": _scale(aim.aim, (least, most), units),
    }
    if end is not None:
        made |= {"way@--cold": at(end), "way@--most": at(end + u), "way@--least": at(end - u)}
    return made


def _scale(aim: float, ends: tuple[float, float], units: Units) -> list[list[list[str]]]:
    """Round distances from the aim along the way, each with its share of the way from the left."""
    least, most = ends
    one = from_mm(most - least, "tenth" if units == "in" else "um") / MOST_TICKS
    power = 10.0 ** floor(log10(one))
    every = next(power * by for by in (1.0, 2.0, 5.0, 10.0) if power * by >= one * (1.0 - 1e-9))
    unit = 0.00254 if units == "in" else 0.001
    first, last = ceil((least - aim) / unit / every), floor((most - aim) / unit / every)
    ticks = {n: (most - aim - n * every * unit) / (most - least) for n in range(first, last + 1)}
    return [
        [[_tick(n * every), "", f"{share:.4f}"]] for n, share in ticks.items() if EDGE <= share <= 1.0 - EDGE
    ]


def _tick(distance: float) -> str:
    if abs(distance) < 1e-9:
        return word("way.aim")
    return minus(f"{distance:+g}")


def _band(aim: Target, rounded: Shown, units: Units, step: float | None) -> str:
    """The band in words; where nothing is left of it, why."""
    if aim.band is None:
        low, high = size(aim.least, units, step), size(aim.most, units, step)
        return word("way.no-band", low=low, high=high)
    if rounded.narrow or rounded.low is None or rounded.high is None:
        return word("way.narrow", width=small(aim.band[1] - aim.band[0], units))
    return word("way.band", low=size(rounded.low, units, step), high=size(rounded.high, units, step))
