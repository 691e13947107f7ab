"""Whether how a part is held moved its readings: a change of clamp or lock is asked about."""

from __future__ import annotations

from collections.abc import Iterator

from capture.events import Part
from capture.metrology.message import Message, message, small
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading


def clamp_questions(state: State) -> Iterator[Message]:
    """What has to be asked of each part, from the newest stage in which it was read and the one before."""
    parts: tuple[Part, ...] = ("bore", "shaft")
    for part in parts:
        taken = [one for one in state.stations.taken if one.part == part]
        stages = list(dict.fromkeys(one.stage for one in taken))
        if not stages:
            continue
        now = [one for one in taken if one.stage == stages[-1]]
        ways = list(dict.fromkeys(_how(one) for one in now))
        if len(ways) > 1 and part == "bore":
            yield message("ask.clamp-mixed", part=part, ways=", ".join(ways))
        if part == "bore" and "lap" in (stages[-1] or "").lower() and now[-1].clamp is None:
            yield message("ask.clamp-untold", part=part)
        before = [one for one in taken if len(stages) > 1 and one.stage == stages[-2]]
        if before and _how(before[-1]) != ways[-1]:
            yield _changed(part, before, now, state)


def _changed(part: Part, before: list[StationReading], now: list[StationReading], state: State) -> Message:
    known = {one.place: at_20(one, state.job).value for one in before}
    both = [at_20(one, state.job).value - known[one.place] for one in now if one.place in known]
    mean = sum(both) / len(both) if both else 0.0
    return message(
        "ask.clamp", part=part, before=_how(before[-1]), now=_how(now[-1]), differs=small(mean, signed=True)
    )


def _how(reading: StationReading) -> str:
    return reading.clamp or "not said"
