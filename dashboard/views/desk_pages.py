"""The desk's pages before anything is worked out: fixed elements with ids, filled by `dashboard.desk`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from dash import dcc, html
from dash.development.base_component import Component
from msgspec import Struct

from capture.sheet import Units
from dashboard.scene import Scene
from dashboard.views.boxes import box
from dashboard.views.compare import compare_page
from dashboard.views.controls import plain
from dashboard.views.job import job_page
from dashboard.views.plan import fields
from dashboard.views.readings import readings_page
from dashboard.views.record import record_page
from dashboard.views.share import share_page
from dashboard.words import word


def fit_page() -> list[Component]:
    """The fit: all of it is worked out on the server."""
    return [*_ask("fit"), _body("fit")]


def plan_page() -> list[Component]:
    """The plan: fields of what may be tried, and what follows."""
    asked = [_field(f"plan-try-{key}", word(f"plan.try-{key}"), f"plan-fault-{key}") for key in fields()]
    back = html.Button(word("plan.try-sheet"), id="plan-sheet", type="button")
    form = html.Div([*asked, back], className="fields")
    tried = box(word("plan.try"), html.P(word("plan.try-note"), className="note-line"), form, name="plan-try")
    return [*_ask("plan"), tried, _body("plan")]


def _ask(name: str) -> list[Component]:
    """What the browser asks for: the script of the desk fills it, and a callback answers."""
    return [dcc.Store(id=f"{name}-ask"), html.Div(id=f"{name}-key", hidden=True, **plain(data_key=""))]


def _body(name: str) -> html.Div:
    waiting = html.P(word("desk.working"), className="empty")
    return html.Div(waiting, id=f"{name}-body", className="desk-body")


def _field(name: str, label: str, fault: str) -> html.Div:
    """A field with its name above it and what is wrong with it below."""
    return html.Div(
        [
            html.Label(
                [
                    html.Span(label, id=f"{name}-label"),
                    html.Span("", id=fault, className="fault"),
                ],
                htmlFor=name,
            ),
            dcc.Input(id=name, type="text", autoComplete="off", debounce=0.4),
        ],
        className="field",
    )


def key(scene: Scene) -> str:
    """Changes whenever the desk's pages may say something else."""
    state = scene.state
    if state is None:
        return ""
    settled = (len(state.stations.taken), len(state.aside), len(state.grind.passes), len(state.flags))
    return f"{scene.name} {settled} {scene.settings} {scene.kind in {'live', 'old', 'replay'}}"


def drawn(name: str) -> Callable[[Scene, Units], dict[str, Any]]:
    """What comes through the live stream for a page: only when it is to be worked out again."""
    return lambda scene, _units: {f"{name}-key@data-key": key(scene)} if name != "job" else {}


class DeskPage(Struct, frozen=True):
    """A page of the desk: its name in the address, and its elements."""

    name: str
    layout: Callable[[], list[Component]]

    @property
    def draw(self) -> Callable[[Scene, Units], dict[str, Any]]:
        """What it shows of a scene."""
        return drawn(self.name)


PAGES: Final = (
    DeskPage("fit", fit_page),
    DeskPage("plan", plan_page),
    DeskPage("job", job_page),
    DeskPage("record", lambda: [*_ask("record"), *record_page()]),
    DeskPage("readings", lambda: [*_ask("readings"), *readings_page()]),
    DeskPage("compare", lambda: [*_ask("compare"), *compare_page()]),
    DeskPage("share", lambda: [*_ask("share"), *share_page()]),
)
