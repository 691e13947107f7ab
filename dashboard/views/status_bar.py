"""What is shown and how old it is: live, old, replayed, simulated; and what is wrong."""

from __future__ import annotations

from typing import Any

from capture.sheet.job import Units
from capture.state.session import State
from dashboard.sources.scene import Scene, Transport
from dashboard.text.screen import word
from dashboard.views.lengths import age

QUIET = 5.0
"""Seconds without an event, where the capture beats once a second, after which it is said."""


def frame(scene: Scene, units: Units) -> dict[str, Any]:
    """What stands round every page."""
    return {"units@data-units": units, **standing(scene), **transport(scene.state, scene.transport)}


def standing(scene: Scene) -> dict[str, Any]:
    """The chips at the top and the notices under them."""
    state = scene.state
    stage = state.stations.stage if state is not None else None
    return {
        "job": state.job.name if state is not None else "",
        "recording": scene.name,
        "standing": _standing(scene),
        "standing@data-state": scene.kind,
        "simulated": word("standing.simulated") if state is not None and state.job.simulated else "",
        "stage": word("standing.stage", stage=stage) if stage else "",
        "settings": _settings(scene),
        "last-reading": _last_reading(scene),
        "newer": word("notice.newer", name=scene.newer) if scene.newer else "",
        "trouble": word("notice.trouble", why=scene.trouble) if scene.trouble else "",
        "quiet": _quiet(scene),
        "down": "" if state is None else _down(state),
        "closed": scene.closed,
        "ask@data-state": "closed" if scene.closed else "open",
    }


def _standing(scene: Scene) -> str:
    match scene.kind:
        case "old":
            return word("standing.old", age=age(scene.age))
        case "replay" if scene.transport is not None:
            key = "standing.replay" if scene.transport.playing else "standing.paused"
            return word(key, speed=f"{scene.transport.speed:g}")
        case _:
            return word(f"standing.{scene.kind}")


def _settings(scene: Scene) -> str:
    """By which settings what is shown was decided, where they are not the recording's own."""
    if scene.transport is None:
        return word("standing.set", settings=scene.settings) if scene.settings else ""
    if not scene.transport.redecided:
        return ""
    return word("standing.afresh", settings=scene.settings or word("standing.same"))


def _last_reading(scene: Scene) -> str:
    if scene.state is None:
        return ""
    ages = [health.age(scene.state.at) for health in scene.state.health.values()]
    known = [one for one in ages if one is not None]
    if not known:
        return word("standing.no-reading")
    return word("standing.reading", age=age(min(known) + (scene.age or 0.0)))


def _quiet(scene: Scene) -> str:
    if scene.kind == "old":
        return word("notice.old", age=age(scene.age))
    quiet = scene.kind == "live" and scene.age is not None and scene.age > QUIET
    return word("notice.quiet", age=age(scene.age)) if quiet else ""


def _down(state: State) -> str:
    lost = [(name, health.detail) for name, health in state.health.items() if health.up is False]
    return " ".join(word("notice.down", gauge=name, why=why) for name, why in lost)


def transport(state: State | None, play: Transport | None) -> dict[str, Any]:
    """The bar of a replay."""
    if play is None or state is None:
        return {}
    where = word(
        "play.where",
        time=clock(play.position),
        whole=clock(play.length),
        seq=state.seq + 1,
        events=play.events,
    )
    return {
        "scrub@value": f"{play.position / play.length * 1000 if play.length else 0:.0f}",
        "scrub@aria-valuetext": where,
        "where": where,
        "lately-told": _told(play),
        "play@aria-pressed": "true" if play.playing else "false",
        "afresh@aria-pressed": "true" if play.redecided else "false",
        "speed": f"{play.speed:g} ×",
        "marks[]": [[[mark.text, mark.kind, f"{mark.share:.5f}"]] for mark in play.marks],
    }


def _told(play: Transport) -> str:
    """The newest mark before the place of the replay, passes apart: a mark on the scrubber has no words."""
    here = play.position / play.length if play.length else 0.0
    told = [mark for mark in play.marks if mark.share <= here + 1e-9 and mark.kind not in {"pass", "spark"}]
    return word("play.told", text=told[-1].text) if told else ""


def clock(seconds: float) -> str:
    """Hours, minutes and seconds.

    >>> clock(3723.4)
    '1:02:03'
    """
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
