"""The cautions of the moment on the operator's page: beside measuring, starting the wheel, and grinding."""

from __future__ import annotations

from typing import Any, Final

from dash import html

from capture.metrology.cautions import caution
from capture.sheet.job import Units
from capture.state.session import State
from capture.text.catalogue import sentence
from dashboard.text.screen import word
from dashboard.views.grinder.coach import advised
from dashboard.views.size import head

AT_THE_GRINDER: Final = (
    "measuring",
    "rotating work",
    "wheel start",
    "between centres",
    "wheel speed",
    "ring test",
    "mist",
    "chromium swarf",
    "cracks after grinding",
)
"""What can be looked up on the page, in this order."""


def safety_section() -> html.Section:
    """The caution of the moment, and all of the grinder's under it."""
    return html.Section(
        [
            html.H2(word("safety.title")),
            html.P("", id="safety-now"),
            html.Details([html.Summary(word("safety.all")), html.Ul([], id="safety")]),
        ],
        id="safety-box",
    )


def safety(state: State, units: Units) -> dict[str, Any]:
    """The caution that belongs to what comes next, and the list with its sources."""
    return {
        "safety-now": _text(moment(state, units)),
        "safety[]": [
            [[_text(key)], [word("safety.from", source=caution(key).source, basis=caution(key).basis)]]
            for key in AT_THE_GRINDER
        ],
    }


def moment(state: State, units: Units) -> str:
    """Key of the caution that belongs to what comes next.

    A size is due: measuring. Nothing is ground yet: the start of the wheel. Else what turns.
    """
    found = advised(state, units)
    due = head(state).newest is not None or not state.stations.taken
    if due or (found is not None and _measures(found)):
        return "measuring"
    if found is not None and found["step"] == "stop":
        return "cracks after grinding" if _chromed(state) else "measuring"
    if state.grind.row is None:
        return "wheel start"
    return "rotating work"


def _measures(found: dict[str, Any]) -> bool:
    return bool(found["stale"]) or found["step"] in {"measure again", "cannot tell"}


def _chromed(state: State) -> bool:
    return state.job.shaft is not None and state.job.shaft.plating is not None


def _text(key: str) -> str:
    return sentence(caution(key).text, "mm")
