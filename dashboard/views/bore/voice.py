"""What is said aloud of a sweep, and its tone; a browser says each occasion once, and only what is live."""

from __future__ import annotations

from typing import Any

from capture.analysis.sweep_guidance import Live
from capture.metrology.units import from_mm
from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading
from dashboard.sources.scene import Scene
from dashboard.text.voice import number, spoken
from dashboard.views.bore.live import sweep_of, written
from dashboard.views.bore.shape import bore_of
from dashboard.views.lengths import fine


def voice(scene: Scene, units: Units) -> dict[str, Any]:
    """The newest thing to say: an id that names its occasion, tone and text; the text is also shown.

    It is on disk already, because it comes out of the recording; what has been accepted but
    whose fact is not there yet is not said. Nothing is said of what is old or replayed.
    """
    state = scene.state
    said = None if state is None else _occasion(state, units)
    if said is None:
        return {"voice": None, "bore-said": ""}
    shown = {"voice": said if scene.kind == "live" else None, "bore-said": said["text"]}
    # Whoever uses a screen reader hears what happened, without the counting.
    return {**shown, "bore-spoken": said["text"]} if said["tone"] else shown


def _occasion(state: State, units: Units) -> dict[str, str] | None:
    sweep = sweep_of(state)
    if sweep is None:
        return None
    if sweep.tone == "lost":
        return _said("lost", sweep.tone_seq, spoken("lost", gauge=sweep.gauge))
    points = state.sweeps[sweep.gauge].placement.points
    if sweep.say in {"more", "differ"} and points and points[-1].seq > sweep.tone_seq:
        text = spoken("differ") if sweep.more is None else spoken("more", more=sweep.more)
        return _said("", points[-1].seq, text)
    if not sweep.tone or not written(state, sweep):
        return None
    return _said(sweep.tone, sweep.tone_seq, _text(state, sweep, units))


def _said(tone: str, seq: int, text: str) -> dict[str, str]:
    return {"id": f"{tone}-{seq}", "tone": tone, "text": text}


def _text(state: State, sweep: Live, units: Units) -> str:
    match sweep.tone:
        case _ if sweep.doubted and not state.sweeps[sweep.gauge].placement.mastered:
            return spoken("doubted", place=_place(sweep.here, units))
        case "again":
            here = _place(sweep.here, units)
            return spoken("again") if sweep.on_master is not None else spoken("again-at", place=here)
        case "slower":
            return spoken("slower")
        case _ if state.sweeps[sweep.gauge].placement.mastered or sweep.accepted is None:
            return spoken("mastered")
        case _:
            return _accepted(state, sweep.accepted, sweep, units)


def _accepted(state: State, reading: StationReading, sweep: Live, units: Units) -> str:
    place = _place(reading.place, units)
    deviation = _deviation(at_20(reading, state.job).value - bore_of(state).reference, units)
    if sweep.tone == "limits":
        return spoken("limits", place=place, deviation=deviation)
    if sweep.here == reading.place:
        return spoken("accepted-last", place=place, deviation=deviation)
    return spoken("accepted", place=place, deviation=deviation, next=_place(sweep.here, units))


def _place(place: PlannedPlace, units: Units) -> str:
    if place.z is None:
        return spoken("anywhere")
    z = from_mm(place.z, "in") if units == "in" else place.z
    along = f"{z:.3f}".rstrip("0").rstrip(".")
    return spoken("place", z=along, angle=f"{place.angle or 0:g}")


def _deviation(value: float, units: Units) -> str:
    """In micrometres or tenths, as the map has it; a unit said each time would tire the ear."""
    off = round(fine(value, units) or 0.0, 1)
    key = "zero" if off == 0 else "plus" if off > 0 else "minus"
    return spoken(key, number=number(abs(off)))
