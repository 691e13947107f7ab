"""The shop's page on a server: its elements, what fills them, and the way to a machine's own page."""

from __future__ import annotations

import asyncio
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote

import psycopg
from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component
from fastapi import FastAPI
from msgspec.structs import replace
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from capture.shop.archive.troubles import why_of
from capture.shop.history.findings import judged_changes
from capture.shop.history.search import History
from capture.shop.live import LiveShop
from dashboard.shop.changes import change_sentences
from dashboard.shop.history import FIELDS, BadSearch, found_jobs, search_fields, search_of
from dashboard.shop.machines import machine_table
from dashboard.shop.screens import MachineScreens, NoScreen
from dashboard.text.screen import word
from dashboard.views.elements import theme
from dashboard.views.elements.boxes import box
from dashboard.web.documents.compression import CompressedFiles
from dashboard.web.documents.packaged import drawer, head, lay_packaged

EVERY: Final = 1000
"""Milliseconds between two looks at the machines."""
SELDOM: Final = 60_000
"""Milliseconds between two looks at the names that there are."""
LATELY: Final = timedelta(days=5 * 365)
"""For which changes are looked for where no day is given: two years show few of them (RESULTS.md)."""


class ShopPage:
    """The page of one shop; *history* is None where there is no database."""

    def __init__(
        self, live: LiveShop, screens: MachineScreens, history: History | None, *, name: str, place: str
    ) -> None:
        self._live, self._screens, self._history = live, screens, history
        self._name, self._place = name, place

    def build(self) -> FastAPI:
        """The ASGI application."""
        server = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
        server.add_middleware(CompressedFiles)
        lay_packaged(server)
        server.add_route("/machine/{name}", self.machine)
        backend: Any = server  # Dash takes a FastAPI; its annotations do not say so
        app = Dash(
            "dashboard.shop",
            server=backend,
            title=word("shop.title", name=self._name),
            update_title="",
            assets_folder=str(Path(__file__).with_name("assets")),
            index_string=_document(),
        )
        app.layout = self._layout
        app.callback(
            Output("shop-said", "children"),
            Output("shop-machines", "children"),
            Input("shop-tick", "n_intervals"),
        )(self.machines)
        if self._history is not None:
            fields = [Input(f"shop-{name}", "value") for name in FIELDS]
            app.callback(Output("shop-found", "children"), *fields)(self.found)
            app.callback(Output("shop-changes", "children"), *fields)(self.changes)
            app.callback(
                *(Output(f"shop-{name}-names", "children") for name in ("machine", "wheel", "gauge")),
                Input("shop-seldom", "n_intervals"),
            )(self.names)
        return server

    def _layout(self) -> Component:
        return html.Main(
            [
                html.H1(word("shop.title", name=self._name)),
                html.P("", id="shop-said", role="status"),
                box(word("shop.machines"), html.Div(id="shop-machines"), name="shop-machines-box"),
                *self._past(),
                dcc.Interval(id="shop-tick", interval=EVERY),
                dcc.Interval(id="shop-seldom", interval=SELDOM),
                html.Footer(word("page.caution"), id="caution"),
            ],
            id="shop",
        )

    def _past(self) -> list[Component]:
        if self._history is None:
            return [box(word("shop.history"), html.P(word("shop.no-database"), className="empty"))]
        return [
            box(word("shop.history"), search_fields(), html.Div(id="shop-found"), name="shop-history-box"),
            box(word("shop.changes"), html.Div(id="shop-changes"), name="shop-changes-box"),
        ]

    def machines(self, _ticks: Any) -> tuple[str, Component]:
        """How the broker is, and the table of machines."""
        said = word("shop.connected" if self._live.connected else "shop.away", place=self._place)
        return said, machine_table(self._live.machines, time.time_ns())

    async def found(self, *given: str | None) -> Component:
        """The jobs that the fields ask for."""
        return await asyncio.to_thread(self._asked, self._found, given)

    async def changes(self, *given: str | None) -> Component:
        """What has changed over the months, among the jobs that the fields ask for."""
        return await asyncio.to_thread(self._asked, self._changes, given)

    async def names(self, _ticks: Any) -> list[list[Component]]:
        """The machines, wheels and gauges that there are, to be chosen from."""
        return await asyncio.to_thread(self._names)

    def _asked(self, answer: Any, given: tuple[str | None, ...]) -> Component:
        """An answer of the database, or why there is none."""
        try:
            found: Component = answer(dict(zip(FIELDS, given, strict=True)))
        except BadSearch as error:
            return html.P(str(error), className="bad")
        except psycopg.Error as error:
            return html.P(word("shop.database-away", why=why_of(error)), className="bad")
        return found

    def _found(self, given: dict[str, str | None]) -> Component:
        begun = time.monotonic()
        jobs, number = self._known.search(search_of(given))
        return found_jobs(jobs, number, time.monotonic() - begun)

    def _changes(self, given: dict[str, str | None]) -> Component:
        wanted = search_of(given)
        if wanted.since is None:
            wanted = replace(wanted, since=datetime.now(UTC) - LATELY)
        series = self._known.series(wanted)
        return change_sentences(judged_changes(series), series)

    def _names(self) -> list[list[Component]]:
        try:
            names = self._known.names()
        except psycopg.Error:
            return [[], [], []]  # the search says what is wrong
        return [[html.Option(value=one) for one in names[of]] for of in ("machine", "wheel", "gauge")]

    @property
    def _known(self) -> History:
        if self._history is None:
            raise BadSearch(word("shop.no-database"))
        return self._history

    async def machine(self, request: Request) -> Response:
        """A machine's own page: a browser is sent to where it can be looked at."""
        name = unquote(str(request.path_params["name"]))
        one = next((one for one in self._live.machines if one.name == name), None)
        if one is None or one.path is None:
            return PlainTextResponse(word("shop.no-copy", name=name[:80]) + "\n", status_code=404)
        host = request.url.hostname or "127.0.0.1"
        try:
            address = await asyncio.to_thread(self._screens.address, one.path, host)
        except NoScreen as error:
            return PlainTextResponse(word("shop.not-opened", name=name, why=error) + "\n", status_code=503)
        return RedirectResponse(address, status_code=303)


_THEME: Final = """const night = matchMedia("(prefers-color-scheme: dark)");
const choose = () => { document.documentElement.dataset.theme = night.matches ? "dark" : "light"; };
night.addEventListener("change", choose);
choose();"""


def _document() -> str:
    """The document around the page, in the light or the dark that the system asks for."""
    return f"""<!DOCTYPE html>
<html lang="en" data-theme="light">
    <head>
        {{%metas%}}
        <title>{{%title%}}</title>
        {{%favicon%}}
        {head()}
        {{%css%}}
        <style>{theme.stylesheet()}</style>
        <script>{_THEME}</script>
    </head>
    <body>
        {{%app_entry%}}
        <footer>{{%config%}}<script>{drawer()}</script>{{%scripts%}}{{%renderer%}}</footer>
    </body>
</html>"""
