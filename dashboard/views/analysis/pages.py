"""The pages of the analysis before anything is worked out, filled by `dashboard.pages.analysis`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from dash import dcc, html
from dash.development.base_component import Component
from msgspec import Struct

from capture.sheet.job import Units
from dashboard.sources.scene import Scene
from dashboard.text.screen import word
from dashboard.views.analysis.certificates import certificates_page
from dashboard.views.analysis.compare import compare_page
from dashboard.views.analysis.plan import fields
from dashboard.views.analysis.readings import marks, readings_page
from dashboard.views.analysis.record import record_page
from dashboard.views.analysis.roundness import roundness_page, turned
from dashboard.views.analysis.steps import steps_page
from dashboard.views.elements.boxes import box
from dashboard.views.elements.controls import plain
from dashboard.views.setup.home import home_page
from dashboard.views.setup.job import job_page
from dashboard.views.share import share_page


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
    """What the browser asks for: the script of the program fills it, and a callback answers."""
    return [dcc.Store(id=f"{name}-ask"), html.Div(id=f"{name}-key", hidden=True, **plain(data_key=""))]


def _body(name: str) -> html.Div:
    waiting = html.P(word("request.working"), className="empty")
    return html.Div(waiting, id=f"{name}-body", className="page-body")


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


def settled(scene: Scene) -> str:
    """Changes whenever the fit or the plan may be another."""
    state = scene.state
    if state is None:
        return opening(scene)
    tries = len(state.steps.tries)
    rest = (len(state.stations.taken), len(state.aside), len(state.grind.passes), len(state.warmth), tries)
    return f"{opening(scene)} {rest}"


def said(scene: Scene) -> str:
    """Changes with every word and every reading taken."""
    state = scene.state
    return opening(scene) if state is None else f"{opening(scene)} {len(state.history)} {len(state.aside)}"


def opening(scene: Scene) -> str:
    """Changes with the recording alone: what is long in the working is not worked out at every reading."""
    return f"{scene.name} {scene.state is not None} {scene.newer}"


def grown(scene: Scene) -> str:
    """Changes when there are some more raw readings; a replay has all of them from the start."""
    if scene.state is None or scene.transport is not None:
        return f"{opening(scene)} {scene.kind == 'loading'}"
    return f"{opening(scene)} {scene.state.seq // 100}"


def never(_scene: Scene) -> str:
    """Does not change."""
    return "once"


def nothing_more(_scene: Scene) -> dict[str, Any]:
    """Of most pages."""
    return {}


class AnalysisPage(Struct, frozen=True):
    """A page of the program: its name in the address, its elements, and when it is to be asked for anew."""

    name: str
    layout: Callable[[], list[Component]]
    key: Callable[[Scene], str] = opening
    more: Callable[[Scene], dict[str, Any]] = nothing_more
    """What comes through the live stream besides."""

    @property
    def draw(self) -> Callable[[Scene, Units], dict[str, Any]]:
        """What comes through the live stream for it."""
        return lambda scene, _units: {f"{self.name}-key@data-key": self.key(scene), **self.more(scene)}


PAGES: Final = (
    AnalysisPage("fit", fit_page, settled),
    AnalysisPage("plan", plan_page, settled),
    AnalysisPage("roundness", lambda: [*_ask("roundness"), _body("roundness"), *roundness_page()], turned),
    AnalysisPage("steps", lambda: [*_ask("steps"), _body("steps"), *steps_page()], said),
    AnalysisPage("job", job_page, never),
    AnalysisPage(
        "certificates", lambda: [*_ask("certificates"), _body("certificates"), *certificates_page()], opening
    ),
    AnalysisPage("record", lambda: [*_ask("record"), *record_page()]),
    AnalysisPage("readings", lambda: [*_ask("readings"), *readings_page()], grown, marks),
    AnalysisPage("compare", lambda: [*_ask("compare"), *compare_page()]),
    AnalysisPage("home", home_page, never),
    AnalysisPage("share", lambda: [*_ask("share"), *share_page()], never),
)
