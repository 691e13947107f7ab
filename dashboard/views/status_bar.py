"""What is shown and how old it is: live, old, replayed, simulated; and what is wrong."""

from __future__ import annotations

from typing import Any

from capture.events import Flag
from capture.sheet.job import Units
from capture.state.health import STOPPED
from capture.state.session import State, open_question
from capture.text.flag_sentences import flag_text
from dashboard.sources.scene import Scene, Transport
from dashboard.text.screen import word
from dashboard.views.gauges import QUIET
from dashboard.views.lengths import age

SILENT = 120.0
"""Seconds without a reading of any gauge after which the page is not called live (common practice)."""


def frame(scene: Scene, units: Units) -> dict[str, Any]:
    """What stands round every page."""
    return {"units@data-units": units, **status(scene, units), **transport(scene.state, scene.transport)}


def status(scene: Scene, units: Units | None = None) -> dict[str, Any]:
    """The chips at the top and the notices under them."""
    state = scene.state
    stage = state.stations.stage if state is not None else None
    return {
        "job": state.job.name if state is not None else "",
        "recording": scene.name,
        "status": _status(scene),
        "status@data-state": _kind(scene),
        "simulated": word("status.simulated") if state is not None and state.job.simulated else "",
        "stage": word("status.stage", stage=stage) if stage else "",
        "settings": _settings(scene),
        "last-reading": _last_reading(scene),
        "newer": word("notice.newer", name=scene.newer) if scene.newer else "",
        "trouble": word("notice.trouble", why=scene.trouble) if scene.trouble else "",
        "quiet": _quiet(scene),
        "question": "" if state is None else _question(state, units),
        "down": "" if state is None else _down(state),
        "closed": scene.closed,
        "ask@data-state": "closed" if scene.closed else "open",
    }


def _kind(scene: Scene) -> str:
    """How what is shown stands: a capture that stopped, or whose gauges are silent, is not live."""
    if scene.kind == "live" and scene.closed and _stopped(scene.state):
        return "ended"
    if scene.kind == "old" and scene.closed:
        return "ended"
    silence = _silence(scene) if scene.kind == "live" else None
    return "silent" if silence is not None and silence > SILENT else scene.kind


def _stopped(state: State | None) -> bool:
    """Whether the last word of every gauge that was connected is that the capture was stopped."""
    links = [] if state is None else [health for health in state.health.values() if health.up is not None]
    return bool(links) and all(health.up is False for health in links)


def _status(scene: Scene) -> str:
    match _kind(scene):
        case "ended":
            simulated = scene.state is not None and scene.state.job.simulated
            return word("status.demo-ended" if simulated else "status.ended", age=age(scene.age))
        case "silent" if scene.state is not None and scene.state.job.simulated:
            return word("status.demo-ended")
        case "silent":
            return word("status.silent", age=age(_silence(scene)))
        case "old":
            return word("status.old", age=age(scene.age))
        case "replay" if scene.transport is not None:
            key = "status.replay" if scene.transport.playing else "status.paused"
            return word(key, speed=f"{scene.transport.speed:g}")
        case kind:
            return word(f"status.{kind}")


def _silence(scene: Scene) -> float | None:
    """Seconds since any gauge was read; None before the first reading."""
    if scene.state is None:
        return None
    ages = [health.age(scene.state.at) for health in scene.state.health.values()]
    known = [one for one in ages if one is not None]
    return min(known) + (scene.age or 0.0) if known else None


def _settings(scene: Scene) -> str:
    """By which settings what is shown was decided, where they are not the recording's own."""
    if scene.transport is None:
        return word("status.set", settings=scene.settings) if scene.settings else ""
    if not scene.transport.redecided:
        return ""
    return word("status.redecided", settings=scene.settings or word("status.same"))


def _last_reading(scene: Scene) -> str:
    if scene.state is None:
        return ""
    silence = _silence(scene)
    return word("status.no-reading") if silence is None else word("status.reading", age=age(silence))


def _quiet(scene: Scene) -> str:
    """That a capture which should be running says nothing; one that ended is said at the top alone."""
    if scene.kind == "old":
        return "" if scene.closed else word("notice.old", age=age(scene.age))
    quiet = scene.kind == "live" and scene.age is not None and scene.age > QUIET
    return word("notice.quiet", age=age(scene.age)) if quiet and _kind(scene) != "ended" else ""


def _question(state: State, units: Units | None) -> str:
    """What the program asks and nobody has answered yet."""
    asked = open_question(state)
    if asked is None or not isinstance(asked.fact, Flag):
        return ""
    return word("notice.question", question=flag_text(asked.fact, units) or asked.fact.what)


def _down(state: State) -> str:
    """Gauges whose link is down; not those that went down because the capture was stopped."""
    lost = [(name, one.detail) for name, one in state.health.items() if one.up is False]
    return " ".join(word("notice.down", gauge=name, why=why) for name, why in lost if why != STOPPED)


def transport(state: State | None, play: Transport | None) -> dict[str, Any]:
    """The bar of a replay."""
    if play is None or state is None:
        return {}
    where = word("play.where", time=clock(play.position), whole=clock(play.length))
    return {
        "scrub@value": f"{play.position / play.length * 1000 if play.length else 0:.0f}",
        "scrub@aria-valuetext": where,
        "where": where,
        "lately-told": _lately(play),
        "play@aria-pressed": "true" if play.playing else "false",
        "redecide@aria-pressed": "true" if play.redecided else "false",
        "speed": f"{play.speed:g} ×",
        "marks[]": [[[mark.text, mark.kind, f"{mark.share:.5f}"]] for mark in play.marks],
    }


def _lately(play: Transport) -> str:
    """The newest mark before the place of the replay, passes apart: a mark on the scrubber has no words."""
    here = play.position / play.length if play.length else 0.0
    passed = [mark for mark in play.marks if mark.share <= here + 1e-9 and mark.kind not in {"pass", "spark"}]
    return word("play.lately", text=passed[-1].text) if passed else ""


def clock(seconds: float) -> str:
    """Hours, minutes and seconds.

    >>> clock(3723.4)
    '1:02:03'
    """
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
