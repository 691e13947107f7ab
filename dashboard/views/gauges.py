"""How each gauge is, how warm things are, and what was said lately."""

from __future__ import annotations

from itertools import islice
from typing import Any

from capture.events import Event, Flag, Note, Reading
from capture.host.clock import iso
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Gauge, Units
from capture.state.health import Health
from capture.state.session import State
from capture.text.flag_sentences import flag_text
from dashboard.sources.scene import Scene
from dashboard.text.screen import WORDS, word
from dashboard.views.lengths import age, degrees, size
from dashboard.views.size import fresh

LATELY = 5
"""Flags and notes shown."""
QUIET = 5.0
"""Seconds without an event, where the capture beats once a second, after which that is said."""


def gauges(scene: Scene, state: State, units: Units) -> dict[str, Any]:
    """A row for each gauge."""
    rows = [
        _row(gauge, state.health.get(gauge.name, Health()), state, units, scene) for gauge in state.job.gauges
    ]
    return {"gauges[]": rows, "gauges-none": "" if rows else word("gauges.none")}


def _row(gauge: Gauge, health: Health, state: State, units: Units, scene: Scene) -> list[list[str | None]]:
    since = health.age(state.at)
    since = None if since is None else since + extra(scene)
    how = now(scene) or link(gauge, health, since)
    return [
        [gauge.name],
        [word(f"gauges.{how}"), how],
        [value(health.last, units, gauge.resolution)],
        [age(since)],
        [str(health.garbled), "bad" if health.in_a_row else None],
        ["" if health.battery is None else f"{health.battery:.0f} %"],
    ]


def extra(scene: Scene) -> float:
    """Seconds that have passed since the newest event of what is shown as it is now."""
    return scene.age if scene.kind in {"live", "old"} and scene.age is not None else 0.0


def now(scene: Scene) -> str:
    """Why nobody knows how the gauges are: no capture reads them, or it says nothing; else empty."""
    if scene.kind not in {"live", "old"}:
        return ""
    if scene.closed:
        return "ended"
    return "unknown" if extra(scene) > QUIET else ""


def link(gauge: Gauge, health: Health, since: float | None) -> str:
    """How a gauge's link is: never, down, silent or up."""
    if health.up is None:
        return "never"
    if not health.up:
        return "down"
    silent = gauge.silence is not None and since is not None and since > gauge.silence
    return "silent" if silent else "up"


def value(reading: Reading | None, units: Units, step: float = 0.0) -> str:
    """A reading in the units of the screen, no finer than *step*, mm, or else than the gauge shows."""
    if reading is None:
        return word("unknown")
    if reading.unit == "degC":
        return degrees(reading.value)
    shown = 10.0**-reading.digits * (MM_PER_INCH if reading.shown == "in" else 1.0)
    return (
        size(reading.value, units, step or shown)
        if reading.unit == "mm"
        else f"{reading.value:g} {reading.unit}"
    )


def heat(state: State) -> dict[str, Any]:
    """A row for each place whose probe has spoken."""
    rows = [
        [[place], [degrees(warmth.value)], [word("heat.old") if fresh(state, place) is None else ""]]
        for place, warmth in state.warmth.items()
    ]
    return {"heat[]": rows, "heat-none": "" if rows else word("heat.none")}


def lately(state: State, units: Units | None = None) -> dict[str, Any]:
    """The newest flags and notes, newest first, with the time of day in UTC."""
    said = [*islice(reversed(state.flags), LATELY), *islice(reversed(state.notes), LATELY)]
    kept = [event for event in said if event.seq not in state.aside]
    newest = sorted(kept, key=lambda event: -event.seq)[:LATELY]
    rows = [[[iso(event.at.wall)[11:19]], *_said(event, units)] for event in newest]
    return {"lately[]": rows, "lately-none": "" if rows else word("lately.none")}


def _said(event: Event, units: Units | None) -> list[list[str | None]]:
    match event.fact:
        case Flag() as flag:
            text = WORDS.get(f"flag.{flag.what}", flag.what)
            number = word("lately.pass", number=flag.pass_) if flag.pass_ else ""
            return [[flag_text(flag, units) or text, flag.what], [number]]
        case Note(text=text):
            return [[word("lately.note", text=text), "note"], [""]]
        case _:
            return [[""], [""]]
