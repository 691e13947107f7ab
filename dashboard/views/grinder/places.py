"""Stations side by side, each with what it was last found to be."""

from __future__ import annotations

from typing import Any

from capture.events import Part
from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading
from capture.text.rounded import rounded
from dashboard.text.screen import word
from dashboard.views.grinder.verdict import place_of
from dashboard.views.lengths import place as place_words
from dashboard.views.lengths import size, small
from dashboard.views.size import head, shown


def part_in_hand(state: State) -> Part:
    """The part that was measured last; the shaft before anything was."""
    newest = state.stations.taken.last
    return "shaft" if newest is None else newest.part


def places(state: State, units: Units) -> dict[str, Any]:
    """The cards of the part in hand: place, size, deviation from the aim (or the mean), after which pass."""
    part = part_in_hand(state)
    route = state.stations.plan_of(part)
    newest = _newest(state, part)
    order = sorted({*route.plan, *newest}, key=lambda p: (p.z if p.z is not None else -1.0, p.angle or 0.0))
    cold = {place: at_20(reading, state.job).value for place, reading in newest.items()}
    found = head(state)
    step = found.step if part == "shaft" else _step(newest)
    aim = shown(found, units).aim if part == "shaft" else None
    cold = {place: rounded(value, step, units) for place, value in cold.items()}
    reference = rounded(sum(cold.values()) / max(len(cold), 1), step, units) if aim is None else aim
    widest = max((abs(value - reference) for value in cold.values()), default=0.0) or 1.0
    cards = [
        [
            [_name(place, units), "here" if place == route.here else None],
            [size(cold.get(place), units, step)],
            _deviation(cold.get(place), reference, widest, units, step),
            [word("places.pass", number=newest[place].pass_) if place in newest and part == "shaft" else ""],
        ]
        for place in order
    ]
    following = route.step(route.here, 1)
    then = ""
    if following != route.here and following.z is not None:
        z = place_words(following.z, units)
        then = ", " + word("places.next", z=z, angle=f"{following.angle or 0:g}")
    return {
        "places-title": word("places.title", part=word(f"part.{part}")),
        "here": word("places.here", place=place_of(route.here, part, units)) + then,
        "places[]": cards,
        "places-none": "" if cards else word("places.none"),
    }


def _newest(state: State, part: Part) -> dict[PlannedPlace, StationReading]:
    """The newest reading of each place in the stage in hand."""
    found: dict[PlannedPlace, StationReading] = {}
    for reading in state.stations.taken[-2000:]:
        if reading.part == part and reading.stage == state.stations.stage:
            found[reading.place] = reading
    return found


def _name(place: PlannedPlace, units: Units) -> str:
    if place.z is None:
        return word("unknown")
    if place.angle is None:  # a size of the whole turn, as a gauge that rides on the part gives it
        return place_words(place.z, units)
    return f"{place_words(place.z, units)} · {place.angle:g}°"


def _step(newest: dict[PlannedPlace, StationReading]) -> float | None:
    """The coarsest step of the gauges that measured them."""
    return max((reading.resolution for reading in newest.values()), default=0.0) or None


def _deviation(
    value: float | None, reference: float, widest: float, units: Units, step: float | None
) -> list[str | None]:
    if value is None:
        return [word("unknown")]
    off = value - reference
    text = small(abs(off), units, step)
    if text == small(0.0, units, step):
        return [text]
    side = "above" if off > 0 else "below"
    return [f"{text} {word(f'places.{side}')}", side, f"{abs(off) / widest:.3f}"]
