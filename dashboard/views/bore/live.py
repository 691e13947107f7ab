"""The sweep in hand: what the gauge is doing in words, how many turning points more, and its live curve."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeAlias

from capture.analysis.sweep_guidance import SHOWN, Live
from capture.analysis.sweep_guidance import live as live_of
from capture.sheet.job import Gauge, Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import at_20
from capture.state.session import State
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.bore.shape import bore_of, newest_reading, signed, sizes_of, words_of
from dashboard.views.lengths import fine, fine_unit, size, size_parts, small, within
from dashboard.views.size import K95

TALL = 0.12
"""mm of the live curve that are shown at the most: what is far off is the gauge in the air."""
SAYS_MORE = {"lost", "paused", "silent", "differ", "doubted"}
"""What has a second sentence of its own."""

Shown: TypeAlias = dict[str, Any]

LOOKS = {
    "lost": "stalled",
    "silent": "stalled",
    "knocked": "stalled",
    "slower": "warm",
    "doubted": "warm",
    "differ": "warm",
    "still": "warm",
    "paused": "stop",
    "more": "cutting",
    "rock": "cutting",
    "entering": "cutting",
    "move": "at-size",
    "withdraw": "at-size",
}
"""The banner's look for what is to be known or done; the looks are those of the verdicts."""


def gauge_of(state: State) -> Gauge | None:
    """The bore gauge in hand: of several the one that spoke last."""
    gauges = [gauge for gauge in state.job.gauges if gauge.measures == "bore"]

    def spoke(gauge: Gauge) -> int:
        health = state.health.get(gauge.name)
        return -1 if health is None or health.last_seq is None else health.last_seq

    return max(gauges, key=spoke, default=None)


def sweep_of(state: State) -> Live | None:
    """The sweep of the gauge in hand; None where none streams."""
    gauge = gauge_of(state)
    return None if gauge is None else live_of(state, gauge.name)


def written(state: State, sweep: Live) -> bool:
    """Whether what was accepted is on disk: the program's word on it follows the reading that decided it."""
    return state.sweeps[sweep.gauge].due is None


def banner(scene: Scene, units: Units) -> Shown:
    """The sentence that reads from two metres, and the line under it."""
    state = scene.state
    if state is None:
        return _banner("none", word("bore.say-waiting"), word("bore.more-waiting"))
    gauge, sweep = gauge_of(state), sweep_of(state)
    if gauge is None:
        none = _banner("none", word("bore.say-none"), word("bore.more-none"))
        return {**none, "bore-banner@data-gauge": "none"}
    if sweep is None:
        place = words_of(state.stations.plan_of("bore").here, units)
        return _banner("none", word("bore.say-button", place=place), word("bore.more-button"))
    return _swept(state, sweep, units)


def _banner(look: str, sentence: str, more: str) -> Shown:
    shown = {"bore-say": sentence, "bore-more": more, "bore-banner@data-state": look}
    return {**shown, "bore-banner@data-gauge": "known"}


def _swept(state: State, sweep: Live, units: Units) -> Shown:
    say: str = sweep.say
    if say not in {"lost", "paused"} and sweep.phase == "silent":
        say = "silent"
    if say == "silent" and _complete(state):
        return _banner("none", word("bore.say-complete"), word("bore.more-complete", gauge=sweep.gauge))
    look = LOOKS.get(say, "none")
    if say == "move" and sweep.tone == "limits":
        look = "stop"
    place = words_of(sweep.here, units)
    if say in {"move", "withdraw"} and not written(state, sweep):
        return _banner("cutting", word("bore.say-writing"), _points(sweep, units))
    if say == "air" and sweep.on_master is not None:
        more = word("bore.master", size=size(sweep.on_master, units))
        return _banner(look, word("bore.say-air-master"), more)
    if say == "more":
        sentence = word("bore.say-more", more=sweep.more)
        return _banner(look, sentence, _points(sweep, units))
    more = word(f"bore.more-{say}") if say in SAYS_MORE else _points(sweep, units)
    return _banner(look, word(f"bore.say-{say}", gauge=sweep.gauge, place=place), more)


def _complete(state: State) -> bool:
    """Whether every planned place is measured in this stage: a gauge that rests then is no fault."""
    plan = [(one.z, one.angle or 0.0) for one in state.stations.plan_of("bore").plan if one.z is not None]
    return bool(plan) and sizes_of(state).keys() >= set(plan)


def _points(sweep: Live, units: Units) -> str:
    if sweep.value is None or sweep.u is None:
        return word("bore.more-none-yet")
    value, u = size(sweep.value, units), small(K95 * sweep.u, units)
    return word("bore.more-points", points=sweep.points, value=value, u=u)


def figures(state: State, units: Units) -> Shown:
    """Place in hand and next, turning points, the last accepted value, and the smallest place."""
    route = state.stations.plan_of("bore")
    following = route.step(route.here, 1)
    sweep = sweep_of(state)
    on = sweep.on_master if sweep is not None else None
    here = words_of(route.here, units) if on is None else word("bore.master", size=size(on, units))
    then = "" if following == route.here else word("bore.next", place=words_of(following, units))
    return {
        "bore-here": here,
        "bore-here-note": then,
        **_counted(sweep),
        **_last(state, units),
        **_smallest(state, units),
    }


def _counted(sweep: Live | None) -> Shown:
    if sweep is None:
        return {"bore-points": word("unknown"), "bore-points-note": word("bore.points-none")}
    if sweep.more is None:
        note = word("bore.points-done" if sweep.say != "differ" else "bore.points-many")
    else:
        note = word("bore.points-more", more=sweep.more)
    return {"bore-points": str(sweep.points), "bore-points-note": note}


def _last(state: State, units: Units) -> Shown:
    reading = newest_reading(state)
    if reading is None:
        return {"bore-last": word("unknown"), "bore-last-unit": "", "bore-last-note": word("bore.last-none")}
    cold, reference = at_20(reading, state.job), bore_of(state).reference
    step = reading.step
    number, unit = size_parts(cold.value, units, step)
    note = word(
        "bore.last-note",
        place=words_of(reading.place, units),
        deviation=f"{signed(cold.value - reference, units, step)} {fine_unit(units)}",
        reference=size(reference, units),
        u=within(K95 * cold.u, units, step),
    )
    return {"bore-last": number, "bore-last-unit": unit, "bore-last-note": note}


def _smallest(state: State, units: Units) -> Shown:
    found = bore_of(state).newest
    if found is None:
        none = word("bore.smallest-none")
        return {"bore-smallest": word("unknown"), "bore-smallest-unit": "", "bore-smallest-note": none}
    step = bore_of(state).step
    place, u = found.smallest, within(K95 * found.smallest.u, units, step)
    number, unit = size_parts(place.value, units, step)
    where = words_of(PlannedPlace(place.z, place.angle), units)
    others = ", ".join(words_of(PlannedPlace(z), units).split(",")[0] for z in place.or_at)
    note = (
        word("bore.smallest-or", place=where, u=u, others=others)
        if others
        else word("bore.smallest-note", place=where, u=u)
    )
    return {"bore-smallest": number, "bore-smallest-unit": unit, "bore-smallest-note": note}


def curve(state: State, units: Units) -> Shown:
    """The live curve as times and sizes: readings, turning points that agree and others, what they say."""
    sweep = sweep_of(state)
    if sweep is None or not sweep.curve:
        return {"rock": None}
    end, reference = sweep.curve[-1][0], bore_of(state).reference
    if sweep.on_master is not None:
        reference = sweep.on_master

    def at(value: float) -> float:
        return round(fine(value - reference, units) or 0.0, 1)

    def points(found: Iterable[tuple[float, float]]) -> list[list[float]]:
        return [[round(t - end, 2), at(value)] for t, value in found]

    low = sweep.value if sweep.value is not None else min(value for _, value in sweep.curve)
    high = min(max(value for _, value in sweep.curve), low + TALL)
    margin = 0.12 * max(high - low, 0.002)
    return {
        "bore-rock-axis": word("trend.axis", unit=fine_unit(units), reference=size(reference, units)),
        "rock": {
            "x": [-SHOWN, 0.2],
            "y": [at(low - margin), at(max(high, low + 0.002) + margin)],
            "says": None if sweep.value is None else at(sweep.value),
            "curve": points(sweep.curve),
            "kept": points((turn.at, turn.value) for turn in sweep.turned if turn.kept),
            "aside": points((turn.at, turn.value) for turn in sweep.turned if not turn.kept),
        },
    }
