"""The coach's advice on the operator's page: what to do next, what else is worth knowing, what it asks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from msgspec.structs import replace

from capture.analysis.grind.next_step import coach_of
from capture.sheet.job import Units
from capture.state.session import State
from dashboard.text.screen import word
from dashboard.views.memo import remember_by


def _in(units: Units) -> Callable[[State], dict[str, Any] | None]:
    """The advice with its lengths in *units*; it depends on passes and commands."""

    def advice(state: State) -> dict[str, Any] | None:
        return coach_of(replace(state, job=replace(state.job, units=units)))

    return remember_by(lambda state: (state.grind, state.stations, state.job), advice)


_ADVISED = {"mm": _in("mm"), "in": _in("in")}


def advised(state: State, units: Units) -> dict[str, Any] | None:
    """The newest advice with its lengths in *units*."""
    return _ADVISED[units](state)


def coach(state: State, units: Units) -> dict[str, Any]:
    """The sentence, the lines under it, and the questions; nothing where there is no advice."""
    found = advised(state, units)
    if found is None:
        return {
            "coach-say": word("coach.none"),
            "coach@data-state": "none",
            "coach-more[]": [],
            "coach-ask[]": [],
            "coach-caution": "",
        }
    return {
        "coach-say": begun(found["say"]),
        "coach@data-state": found["step"],
        "coach-more[]": [[[begun(line)]] for line in found["more"]],
        "coach-ask[]": [[[begun(line)]] for line in found["questions"]],
        "coach-caution": begun(found["caution"]),
    }


def begun(text: str) -> str:
    """A line as it begins on a page."""
    return text[:1].upper() + text[1:]
