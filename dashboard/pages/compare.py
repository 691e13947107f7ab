"""The pages Compare and Readings answered: two recordings, two ways of deciding, and every raw reading."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, ctx, html, no_update

from capture.recording.reader import BadRecording
from dashboard.pages.request import PageRequest, beside, nothing
from dashboard.sources.raw_traces import RawTraces
from dashboard.sources.recording_library import RecordingLibrary, TooLarge
from dashboard.sources.redecide import Redecisions
from dashboard.text.screen import word
from dashboard.views.analysis import readings
from dashboard.views.analysis.compare import OverlaidRecording, decisions, has_sizes, overlay, progress
from dashboard.web.api import Source

PATIENCE = 0.5
"""Seconds that an answer waits for its end before it says how far it is."""
DRAGGED = """(change) => change && ("xaxis.range[0]" in change || "xaxis.autorange" in change)
  ? change : dash_clientside.no_update"""
"""What a drag asked for. A mere change of size, as when the figure finds its place, asks for nothing: the
answer to it would take the place of the answer to a button that was pressed just before."""


class ComparePages:
    """The callbacks of both pages."""

    def __init__(self, source: Source, library: RecordingLibrary) -> None:
        self._source, self._library = source, library
        self._works = Redecisions()

    def lay(self, app: Dash) -> None:
        """Adds the callbacks to the application."""
        app.callback(
            Output("compare-overlay", "children"),
            Output("compare-with-fault", "children"),
            Output("compare-names", "children"),
            Input("compare-ask", "data"),
            Input("compare-with", "value"),
        )(self.overlay)
        app.callback(
            Output("compare-decisions", "children"),
            Output("compare-settings-fault", "children"),
            Output("compare-tick", "disabled"),
            Output("compare-stop", "hidden"),
            Output("compare-begin", "hidden"),
            Input("compare-ask", "data"),
            Input("compare-settings", "value"),
            Input("compare-tick", "n_intervals"),
            Input("compare-stop", "n_clicks"),
            Input("compare-begin", "n_clicks"),
        )(self.decisions)
        app.clientside_callback(  # type: ignore[no-untyped-call]  # Dash has not annotated it
            DRAGGED, Output("readings-drag", "data"), Input("readings-graph", "relayoutData")
        )
        app.callback(
            Output("readings-graph", "figure"),
            Output("readings-said", "children"),
            Output("readings-window", "data"),
            Output("readings-drawn", "style"),
            Input("readings-ask", "data"),
            Input("readings-drag", "data"),
            *(Input(f"readings-{move}", "n_clicks") for move in readings.MOVES),
            State("readings-window", "data"),
        )(self.readings)

    async def overlay(self, data: Any, other: str | None) -> Any:
        """The figure of two recordings, what is wrong with the name, and the names there are."""
        ask = PageRequest(data)
        return await beside(self._overlay, ask, other or "") if ask.known else (no_update,) * 3

    async def decisions(self, data: Any, settings: str | None, *_pressed: Any) -> Any:
        """The table of decisions or how far it is, what is wrong with the settings, and what to press."""
        ask = PageRequest(data)
        if not ask.known:
            return (no_update,) * 5
        return await beside(self._decisions, ask, settings or "", str(ctx.triggered_id))

    async def readings(self, data: Any, relayout: Any, *rest: Any) -> Any:
        """The strips of the window that was asked for by button or by drag."""
        ask = PageRequest(data)
        if not ask.known:
            return (no_update,) * 4
        triggered = str(ctx.triggered_id)
        return await beside(self._readings, ask, triggered, relayout, rest[-1])

    def _overlay(self, ask: PageRequest, other: str) -> Any:
        scene = self._source.store.scene
        names = [name for name in self._library.recordings() if name != scene.name]
        options = [html.Option(value=name) for name in names]
        if scene.state is None:
            return nothing(), "", options
        overlaid, fault = [OverlaidRecording(scene.name, scene.state)], ""
        if other.strip():
            try:
                found = OverlaidRecording(other.strip(), self._library.opened(other.strip()).state)
                overlaid.append(found)
                fault = "" if has_sizes(found.state) else word("compare.no-sizes", name=found.name)
            except (BadRecording, TooLarge) as error:
                fault = str(error)
        return overlay(overlaid, ask.units or scene.state.job.units, ask.theme), fault, options

    def _decisions(self, ask: PageRequest, settings: str, triggered: str) -> Any:
        scene = self._source.store.scene
        path = self._library.recordings().get(scene.name)
        if scene.state is None or path is None:
            return nothing(), "", True, True, True
        try:
            pairs = _pairs(settings)
            if triggered == "compare-stop":
                self._works.stop(path, pairs)
            work = self._works.of(path, pairs) if triggered in {"compare-tick", "compare-stop"} else None
            work = work or self._works.begin(path, pairs, anew=triggered == "compare-begin")
        except BadRecording as error:
            return html.P(str(error)), "", True, True, True
        except ValueError as error:
            return no_update, str(error), True, True, True
        work.over(PATIENCE)
        if work.states is None:
            working = work.phase == "working"
            return (
                progress(work.phase, work.share, work.events, work.why),
                "",
                not working,
                not working,
                working,
            )
        return decisions(*work.states, ask.units or scene.state.job.units), "", True, True, True

    def _readings(self, ask: PageRequest, triggered: str, relayout: Any, window: Any) -> Any:
        traces: RawTraces = self._source.traces
        whole = readings.moved((0.0, 1.0), "whole", traces.end)
        known = window if isinstance(window, list) and len(window) == 2 else None
        shown = whole if known is None else (float(known[0]), float(known[1]))
        if triggered == "readings-drag":
            autorange = isinstance(relayout, dict) and relayout.get("xaxis.autorange")
            shown = readings.asked(relayout) or (whole if autorange else shown)
        elif triggered.removeprefix("readings-") in readings.MOVES:
            shown = readings.moved(shown, triggered.removeprefix("readings-"), traces.end)
        found = traces.window(*shown)
        scene = self._source.store.scene
        units = ask.units or (scene.state.job.units if scene.state is not None else "mm")
        kept = None if shown == whole else list(shown)
        drawn = readings.figure(found, shown, units, ask.theme)
        return drawn, readings.said(found, shown), kept, readings.spanned(shown)


def _pairs(settings: str) -> dict[str, str]:
    """``key=value`` pairs with spaces or commas between.

    Raises:
        ValueError: Something is no such pair.
    """
    found = {}
    for text in settings.replace(",", " ").split():
        key, equals, value = text.removeprefix("--set").partition("=")
        if not equals:
            raise ValueError(word("compare.bad-setting", came=text))
        found[key] = value
    return found
