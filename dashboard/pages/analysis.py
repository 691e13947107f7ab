"""Answers what a browser asks of the pages of the analysis, beside the server and not in its way."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from dash import Dash, Input, Output, no_update

from capture.analysis.calibrations import calibration_rows
from capture.analysis.grind.chatter_findings import chatter_rows, stays_on
from capture.analysis.roundness.roundness_findings import places_of
from capture.analysis.steps.job_steps import steps_of
from capture.analysis.steps.setup_runout import runouts_of
from capture.analysis.steps.trial_assembly import tries_beside
from capture.host.disk import read_small_text
from capture.recording.reader import BadRecording, read
from capture.report.terminal.chatter_text import chatter_text
from capture.sheet.faults import BadSheet
from capture.sheet.job import Job, Units
from capture.sheet.reader import read_sheet
from capture.state.strip_target import plating_of
from dashboard.pages.request import PageRequest, beside, nothing
from dashboard.sources.fit_findings import fit_of, plan_of, sources
from dashboard.sources.recording_library import LARGEST, RecordingLibrary
from dashboard.text.screen import word
from dashboard.views.analysis.certificates import certificates_body
from dashboard.views.analysis.fit import fit_body
from dashboard.views.analysis.plan import fields, on_sheet, plan_body, tried
from dashboard.views.analysis.record import record_address, record_list
from dashboard.views.analysis.roundness import roundness_body
from dashboard.views.analysis.steps import chatter_box, steps_body
from dashboard.views.share import share_body
from dashboard.web.access.guard import viewing
from dashboard.web.api import Source
from dashboard.web.share import Share, picture


class AnalysisPages:
    """The callbacks of the pages Fit, Plan, Roundness, Steps, Certificates, Record and Share."""

    def __init__(self, source: Source, library: RecordingLibrary, shared: Share) -> None:
        self._source, self._library, self._shared = source, library, shared

    def lay(self, app: Dash) -> None:
        """Adds the callbacks to the application."""
        app.callback(Output("fit-body", "children"), Input("fit-ask", "data"))(self.fit)
        app.callback(
            Output("record-body", "children"), Output("record-preview", "src"), Input("record-ask", "data")
        )(self.record)
        app.callback(Output("steps-body", "children"), Input("steps-ask", "data"))(self.steps)
        app.callback(Output("roundness-body", "children"), Input("roundness-ask", "data"))(self.roundness)
        app.callback(Output("certificates-body", "children"), Input("certificates-ask", "data"))(
            self.certificates
        )
        app.callback(Output("share-body", "children"), Input("share-ask", "data"))(self.share)
        names = fields()
        app.callback(
            Output("plan-body", "children"),
            *(Output(f"plan-fault-{key}", "children") for key in names),
            *(Output(f"plan-try-{key}-label", "children") for key in names),
            *(Output(f"plan-try-{key}", "placeholder") for key in names),
            Input("plan-ask", "data"),
            *(Input(f"plan-try-{key}", "value") for key in names),
        )(self.plan)
        app.callback(
            *(Output(f"plan-try-{key}", "value") for key in names),
            Input("plan-sheet", "n_clicks"),
            prevent_initial_call=True,
        )(lambda _clicks: ("",) * len(names))

    async def fit(self, data: Any) -> Any:
        """The body of the page Fit."""
        ask = PageRequest(data)
        return await beside(self._fit, ask) if ask.known else no_update

    async def steps(self, data: Any) -> Any:
        """The body of the page Steps."""
        ask = PageRequest(data)
        return await beside(self._steps, ask) if ask.known else no_update

    async def roundness(self, data: Any) -> Any:
        """The body of the page Roundness."""
        ask = PageRequest(data)
        return await beside(self._roundness, ask) if ask.known else no_update

    async def certificates(self, data: Any) -> Any:
        """The calibrations of the folder's sheets on the page Certificates."""
        ask = PageRequest(data)
        return await beside(self._certificates, ask) if ask.known else no_update

    async def plan(self, data: Any, *typed: str | None) -> Any:
        """The body of the page Plan, with what is wrong in each field, its name and what the sheet has."""
        ask = PageRequest(data)
        if not ask.known:
            return (no_update,) * (1 + 3 * len(fields()))
        said = {key: value or "" for key, value in zip(fields(), typed, strict=True)}
        return await beside(self._plan, ask, said)

    async def record(self, data: Any) -> Any:
        """The recordings of the folder on the page Record, and the preview of the one that is shown."""
        if not PageRequest(data).known:
            return no_update, no_update
        names = await beside(self._library.recordings)
        shown = self._source.store.scene.name
        return record_list(list(names), shown), record_address(shown) if shown in names else no_update

    async def share(self, data: Any) -> Any:
        """The codes on the page Share: a viewer sees the viewer's alone."""
        if not PageRequest(data).known:
            return no_update
        may = ("watch",) if viewing.get() else ("watch", "speak")
        addresses = {name: getattr(self._shared, name) for name in may if getattr(self._shared, name)}
        codes = {name: (address, picture(address)) for name, address in addresses.items()}
        return share_body(codes, self._shared.fingerprint)

    def _certificates(self, ask: PageRequest) -> Any:
        day, found = datetime.now(UTC).date(), []
        for name, path in sorted(self._library.sheets().items()):
            try:
                job = read_sheet(read_small_text(path), name)[0]
            except (BadSheet, OSError):  # the page Job says what is wrong with it
                continue
            found.append((name, job.units, calibration_rows(job, day)))
        return certificates_body(found, ask.units)

    def _fit(self, ask: PageRequest) -> Any:
        scene = self._source.store.scene
        if scene.state is None:
            return nothing()
        units = ask.units or scene.state.job.units
        known = sources(scene.state, scene.name, self._library)
        found = fit_of(known, units)
        made = [event for state in known.states for event in state.steps.tries]
        return fit_body(found, units, ask.theme, tries_beside(made, found["clearance"], units))

    def _steps(self, ask: PageRequest) -> Any:
        scene = self._source.store.scene
        if scene.state is None:
            return nothing()
        units = ask.units or scene.state.job.units
        state, clearance, planned = scene.state, None, None
        plated = plating_of(state.job) is not None and len(runouts_of(state, state.job)) > 0
        if len(state.steps.tries) or plated:
            known = sources(state, scene.name, self._library)
            clearance = fit_of(known, units)["clearance"] if len(state.steps.tries) else None
            planned = plan_of(known, state.job, units) if plated else None
        found = steps_of(state, clearance=clearance, planned=planned, units=units)
        return [*steps_body(found, state.job, units), *self._chatter(scene.name, state.job, units)]

    def _chatter(self, name: str, job: Job, units: Units) -> list[Any]:
        """Chatter in the streams of the recording that is shown, where a gauge stays on the part."""
        path = self._library.recordings().get(name)
        if path is None or not any(stays_on(gauge) for gauge in job.gauges):
            return []
        try:
            if path.stat().st_size > LARGEST:
                return []
            found = chatter_rows(read(path), job)
        except (BadRecording, OSError):
            return []
        return [] if found is None else [chatter_box(chatter_text(found, units))]

    def _roundness(self, ask: PageRequest) -> Any:
        state = self._source.store.scene.state
        if state is None:
            return nothing()
        run = state.rounds.under_way(state.aside)
        done = places_of(state, state.job, turning=False)
        return roundness_body(
            done, None if run is None else len(run.readings), ask.units or state.job.units, ask.theme
        )

    def _plan(self, ask: PageRequest, said: Mapping[str, str]) -> Any:
        scene = self._source.store.scene
        names = fields()
        if scene.state is None:
            return (nothing(), *(("",) * len(names)), *(no_update for _ in range(2 * len(names))))
        units = ask.units or scene.state.job.units
        found = sources(scene.state, scene.name, self._library)
        job, faults = tried(found.job, said, units)
        known = on_sheet(found.job, units)
        labels = [
            word("plan.unit", text=word(f"plan.try-{key}"), unit=word(f"unit.{units}")) for key in names
        ]
        body = plan_body(plan_of(found, job, units), units, tried=any(said.values()) and not faults)
        return (
            body,
            *(faults.get(key, "") for key in names),
            *labels,
            *(known.get(key, "") for key in names),
        )
