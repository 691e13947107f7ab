"""Whether how a part is held moved its readings: a change of clamp or lock is asked about."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from capture.events import Part
from capture.metrology.message import Message, message, small
from capture.state.cold_size import at_20
from capture.state.session import State
from capture.state.stations import StationReading


def clamp_questions(state: State) -> Iterator[Message]:
    """What has to be asked of each part: of a bore by its stages, of a shaft by its passes."""
    yield from _of_bore(state)
    yield from _of_shaft(state)


def _of_bore(state: State) -> Iterator[Message]:
    before, now = _last_two(state, "bore")
    if not now:
        return
    yield from _mixed("bore", now)
    if "lap" in (now[-1].stage or "").lower() and now[-1].clamp is None:
        yield message("ask.clamp-untold", part="bore")
    if before and _how(before[-1]) != _how(now[-1]):
        yield _changed("bore", before, now, state)


def _of_shaft(state: State) -> Iterator[Message]:
    """Between passes it is ground and may be plated: by how much the clamping moved its size is not known."""
    before, now = _last_two(state, "shaft")
    yield from _mixed("shaft", now)
    if before and _how(before[-1]) != _how(now[-1]):
        yield message("ask.clamp-shaft", before=_how(before[-1]), now=_how(now[0]))


def _last_two(state: State, part: Part) -> tuple[list[StationReading], list[StationReading]]:
    """The last two runs of readings of *part*: of a bore by stage, of a shaft by stage and pass."""
    taken = [one for one in state.stations.taken if one.part == part]
    runs = groupby(taken, lambda one: (one.stage, one.pass_ if part == "shaft" else None))
    each: list[list[StationReading]] = [[], [], *(list(run) for _, run in runs)]
    return each[-2], each[-1]


def _mixed(part: Part, now: list[StationReading]) -> Iterator[Message]:
    newest = {one.place: one for one in now}
    ways = list(dict.fromkeys(_how(one) for one in newest.values()))
    if len(ways) > 1:
        yield message(f"ask.clamp-mixed-{part}", ways=", ".join(ways))


def _changed(part: Part, before: list[StationReading], now: list[StationReading], state: State) -> Message:
    known = {one.place: at_20(one, state.job).value for one in before}
    both = [at_20(one, state.job).value - known[one.place] for one in now if one.place in known]
    mean = sum(both) / len(both) if both else 0.0
    return message(
        "ask.clamp", part=part, before=_how(before[-1]), now=_how(now[-1]), differs=small(mean, signed=True)
    )


def _how(reading: StationReading) -> str:
    return reading.clamp or "not said"
