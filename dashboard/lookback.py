"""The pages Compare and Readings answered: two recordings, two ways of deciding, and every raw reading."""

from __future__ import annotations

from itertools import islice
from typing import Any

from dash import Dash, Input, Output, State, ctx, html, no_update
from msgspec.structs import replace

from capture.folds import desk, retold
from capture.journal import BadRecording
from capture.sessions import Opened
from capture.sheet import Job
from capture.sheet_reader import job_of
from dashboard.ask import Ask, beside, nothing
from dashboard.feed import with_settings
from dashboard.roads import Source
from dashboard.shelf import Shelf, TooLarge
from dashboard.strips import Strips
from dashboard.views import readings
from dashboard.views.compare import Told, decisions, has_sizes, overlay
from dashboard.words import word


class Lookback:
    """The callbacks of both pages."""

    def __init__(self, source: Source, shelf: Shelf) -> None:
        self._source, self._shelf = source, shelf
        self._again: tuple[Opened, Job, desk.State] | None = None

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
            Input("compare-ask", "data"),
            Input("compare-settings", "value"),
        )(self.decisions)
        app.callback(
            Output("readings-graph", "figure"),
            Output("readings-said", "children"),
            Output("readings-window", "data"),
            Input("readings-ask", "data"),
            Input("readings-graph", "relayoutData"),
            *(Input(f"readings-{move}", "n_clicks") for move in readings.MOVES),
            State("readings-window", "data"),
        )(self.readings)

    async def overlay(self, data: Any, other: str | None) -> Any:
        """The figure of two recordings, what is wrong with the name, and the names there are."""
        ask = Ask(data)
        return await beside(self._overlay, ask, other or "") if ask.known else (no_update,) * 3

    async def decisions(self, data: Any, settings: str | None) -> Any:
        """The table of decisions, and what is wrong with the settings."""
        ask = Ask(data)
        if not ask.known:
            return (no_update,) * 2
        return await beside(self._decisions, ask, settings or "")

    async def readings(self, data: Any, relayout: Any, *rest: Any) -> Any:
        """The strips of the window that was asked for by button or by drag."""
        ask = Ask(data)
        if not ask.known:
            return (no_update,) * 3
        triggered = str(ctx.triggered_id)
        return await beside(self._readings, ask, triggered, relayout, rest[-1])

    def _overlay(self, ask: Ask, other: str) -> Any:
        scene = self._source.board.scene
        names = [name for name in self._shelf.recordings() if name != scene.name]
        options = [html.Option(value=name) for name in names]
        if scene.state is None:
            return nothing(), "", options
        told, fault = [Told(scene.name, scene.state)], ""
        if other.strip():
            try:
                found = Told(other.strip(), self._shelf.opened(other.strip()).state)
                told.append(found)
                fault = "" if has_sizes(found.state) else word("compare.no-sizes", name=found.name)
            except (BadRecording, TooLarge) as error:
                fault = str(error)
        return overlay(told, ask.units or scene.state.job.units, ask.theme), fault, options

    def _decisions(self, ask: Ask, settings: str) -> Any:
        scene = self._source.board.scene
        if scene.state is None:
            return nothing(), ""
        try:
            opened = self._shelf.opened(scene.name)
            job = with_settings(job_of(opened.recording.header.job), _pairs(settings))
        except (BadRecording, TooLarge) as error:
            return html.P(str(error)), ""
        except ValueError as error:
            return no_update, str(error)
        units = ask.units or scene.state.job.units
        return decisions(opened.state, self._decided(opened, job), units), ""

    def _decided(self, opened: Opened, job: Job) -> desk.State:
        """The recording decided again by *job*; the newest is kept, because a change of units asks for it."""
        if self._again is not None and self._again[0] is opened and self._again[1] == job:
            return self._again[2]
        state = retold.end_afresh(job, islice(opened.recording, opened.state.seq + 1))
        state = replace(state, seq=opened.state.seq)
        self._again = (opened, job, state)
        return state

    def _readings(self, ask: Ask, triggered: str, relayout: Any, window: Any) -> Any:
        strips: Strips = self._source.strips
        whole = readings.moved((0.0, 1.0), "whole", strips.end)
        known = window if isinstance(window, list) and len(window) == 2 else None
        shown = whole if known is None else (float(known[0]), float(known[1]))
        if triggered == "readings-graph":
            wanted = readings.asked(relayout)
            if wanted is None and not (isinstance(relayout, dict) and relayout.get("xaxis.autorange")):
                return (no_update,) * 3
            shown = wanted or whole
        elif triggered.removeprefix("readings-") in readings.MOVES:
            shown = readings.moved(shown, triggered.removeprefix("readings-"), strips.end)
        found = strips.window(*shown)
        scene = self._source.board.scene
        units = ask.units or (scene.state.job.units if scene.state is not None else "mm")
        kept = None if shown == whole else list(shown)
        return readings.figure(found, shown, units, ask.theme), readings.said(found, shown), kept


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
