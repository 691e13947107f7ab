"""What is said aloud at the grinder: a size that a gauge in a hand was placed for, and what is asked.

As of a bore sweep: once for each occasion, of what is live and on disk alone.
"""

from __future__ import annotations

from typing import Any

from capture.events import Event, Flag, Reject
from capture.metrology.units import from_mm
from capture.sheet.job import Units
from capture.state.cold_size import at_20
from capture.state.grinding import infeed_doubts
from capture.state.session import State, open_question
from capture.state.stations import StationReading
from capture.state.stream.hand_gauge import FURTHER, GESTURE
from capture.state.target import target
from capture.text.flag_sentences import flag_text
from dashboard.sources.scene import Scene
from dashboard.text.voice import number, spoken
from dashboard.views.lengths import fine

LOOKED_BACK = 4
"""Events of the history before a size in which the one that it takes the place of was set aside."""


def announced(scene: Scene, units: Units) -> dict[str, Any]:
    """The newest thing to say: an id that names its occasion, tone and text; the text is also shown."""
    state = scene.state
    streams = state is not None and any(one.streams for one in state.placings.values())
    said = None if state is None else _occasion(state, units)
    shown = "open" if streams or said else "none"
    return {
        "voice": said if scene.kind == "live" else None,
        "grinding-said": "" if said is None else said["text"],
        "grinding-sound-box@data-state": shown,
    }


def _occasion(state: State, units: Units) -> dict[str, str] | None:
    event, size = open_question(state), _placed(state)
    text = _question(event, units)
    if event is not None and text and (size is None or event.seq > size.seq):
        return {"id": f"question-{event.seq}", "tone": "question", "text": text}
    if size is None:
        return None
    return {"id": f"accepted-{size.seq}", "tone": "accepted", "text": _sized(state, size, units)}


def _question(event: Event | None, units: Units) -> str:
    if event is None or not isinstance(event.fact, Flag) or event.fact.what not in infeed_doubts.ASKED:
        return ""
    return flag_text(event.fact, units) or ""


def _placed(state: State) -> StationReading | None:
    """The newest size of the shaft, where a gauge in a hand streamed it."""
    size = next((one for one in reversed(state.stations.taken) if one.part == "shaft"), None)
    placing = None if size is None else state.placings.get(size.gauge)
    return size if placing is not None and placing.streams else None


def _sized(state: State, size: StationReading, units: Units) -> str:
    cold, wanted = at_20(size, state.job).value, target(state.job, state.stations)
    place = spoken("anywhere")
    if size.place.z is not None:
        z = from_mm(size.place.z, "in") if units == "in" else size.place.z
        place = spoken("along", z=f"{z:.3f}".rstrip("0").rstrip("."))
    if wanted is None:
        text = spoken(
            "sized-whole", place=place, size=number(from_mm(cold, units), 4 if units == "in" else 3)
        )
    else:
        off = round(fine(cold - wanted.aim, units) or 0.0, 1)
        key = "zero" if off == 0 else "plus" if off > 0 else "minus"
        text = spoken(
            "sized",
            place=place,
            deviation=spoken(key, number=number(abs(off), 0 if off == round(off) else 1)),
        )
    return spoken("sized-again", said=text) if _again(state, size) else text


def _again(state: State, size: StationReading) -> bool:
    """Whether it takes the place of one before it: the gauge was lifted and placed again."""
    for seen, entry in enumerate(reversed(state.history)):
        fact = entry.event.fact
        if isinstance(fact, Reject) and entry.event.seq < size.seq:
            return fact.why in {GESTURE, FURTHER}
        if seen >= LOOKED_BACK:
            break
    return False
