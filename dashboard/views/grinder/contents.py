"""The operator's page, as what each element of it shows.

A key is an element's id, ``id@attribute``, ``id@--property`` of its style, or ``id[]`` for
its rows, where a cell is text, state and share; ``id#figure`` holds the numbers of a figure.
"""

from __future__ import annotations

from typing import Any

from capture.events import Stage
from capture.metrology.units import from_mm, shown_on_dial
from capture.sheet.job import Units
from capture.sheet.stages import stages_of
from capture.state import session
from capture.state.session import State
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.gauges import gauges, heat, lately
from dashboard.views.grinder.coach import coach
from dashboard.views.grinder.passes import passes, trend
from dashboard.views.grinder.places import places
from dashboard.views.grinder.power import power
from dashboard.views.grinder.ride import ride
from dashboard.views.grinder.safety import safety
from dashboard.views.grinder.slope import slope
from dashboard.views.grinder.spoken import announced
from dashboard.views.grinder.verdict import verdict
from dashboard.views.size import figures, way


def grinding(scene: Scene, units: Units) -> dict[str, Any]:
    """What the page shows of *scene*."""
    shown: dict[str, Any] = {**verdict(scene, units), **announced(scene, units)}
    state = scene.state
    if state is None:
        return shown
    return {
        **shown,
        **coach(state, units),
        **figures(state, units),
        **way(state, units),
        **passes(state, units),
        **trend(state, units),
        **ride(state, units),
        **power(state),
        **places(state, units),
        **gauges(scene, state, units),
        **slope(state, units),
        **heat(state),
        **lately(state, units),
        **safety(state, units),
        **asking(state, units),
        "stage-choice[]": [
            [[name, "here" if name == state.stations.stage else None]] for name in stages(state)
        ],
    }


def stages(state: State) -> list[str]:
    """The stages of the job in the order of the work; lapped with its numbers so far and the next."""
    kept = (entry.event for entry in state.history if entry.event.seq not in state.aside)
    used = {event.fact.name for event in kept if isinstance(event.fact, Stage)}
    laps = 1 + sum(name.startswith("lapped ") for name in used)
    found: list[str] = []
    for stage in stages_of(sorted(name for name in used if not name.startswith("lapped "))):
        found += [f"lapped {n}" for n in range(1, laps + 1)] if stage == "lapped" else [stage]
    return found


def asking(state: State, units: Units) -> dict[str, Any]:
    """What the buttons stand ready to say."""
    dial = state.job.grinder.dial if state.job.grinder is not None else "diameter"
    fed = next((row for row in reversed(state.grind.passes) if row.infeed), None)
    step = 0.0001 if units == "in" else 0.001
    if state.job.grinder is not None and state.job.grinder.division is not None:
        step = from_mm(state.job.grinder.division, units)
    ready = step * 4
    if fed is not None and fed.infeed is not None:
        ready = from_mm(shown_on_dial(fed.infeed, dial), units)
    if fed is not None and fed.found:  # measured, so between two divisions; nobody dials that
        ready = step * max(1, round(ready / step))
    newest = next((r for r in reversed(state.stations.taken) if r.seq not in state.aside), None)
    undo = session.newest_undoable(state)
    return {
        "infeed-label": word("ask.infeed", dial=word(f"ask.{dial}"), unit=word(f"unit.{units}")),
        "infeed@placeholder": f"{ready:.6f}".rstrip("0").rstrip("."),
        "infeed@data-step": f"{step:.6f}".rstrip("0"),
        "reject@data-seq": None if newest is None else str(newest.seq),
        "undo@data-seq": None if undo is None else str(undo.seq),
    }
