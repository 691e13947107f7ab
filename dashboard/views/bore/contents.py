"""The bore's page: what to do now, the place in hand, the bore filling in, and lapping."""

from __future__ import annotations

import json
from typing import Any

from capture.sheet.job import Units
from capture.state.session import State
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.bore.lapping import lap
from dashboard.views.bore.live import banner, curve, figures
from dashboard.views.bore.section import section
from dashboard.views.bore.shape import grid, profile, shape
from dashboard.views.bore.voice import voice


def bore(scene: Scene, units: Units) -> dict[str, Any]:
    """What the page shows of *scene*."""
    shown = {**banner(scene, units), **voice(scene, units)}
    state = scene.state
    if state is None:
        return shown
    return {
        **shown,
        **figures(state, units),
        **curve(state, units),
        **section(state, units),
        **grid(state, units),
        **profile(state, units),
        **shape(state, units),
        **lap(state, units),
        **_words(state),
    }


def _words(state: State) -> dict[str, Any]:
    """What the buttons stand ready to say."""
    stage = next_stage(state)
    paused = state.stations.paused
    return {
        "bore-pause@data-say": json.dumps(["go" if paused else "pause"]),
        "bore-pause@aria-pressed": "true" if paused else "false",
        "bore-pause-text": word("bore.go") if paused else word("bore.pause"),
        "bore-stage@data-say": json.dumps(["stage", stage]),
        "bore-stage-text": word("bore.stage", stage=stage),
    }


def next_stage(state: State) -> str:
    """The stage that comes after the one in hand: as found, then lapped 1, lapped 2 and so on."""
    stages = dict.fromkeys([r.stage for r in state.stations.taken if r.part == "bore"])
    if not stages and state.stations.stage is None:
        return word("bore.stage-found")
    known = {*stages, state.stations.stage}
    number = 1
    while word("bore.stage-lapped", number=number) in known:
        number += 1
    return word("bore.stage-lapped", number=number)
