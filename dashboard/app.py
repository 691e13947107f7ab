"""Puts Dash's page and the dashboard's own routes on one server."""

from __future__ import annotations

from typing import Any

from dash import Dash, html
from fastapi import FastAPI

from dashboard.pages.analysis import AnalysisPages
from dashboard.pages.compare import ComparePages
from dashboard.pages.papers import Papers
from dashboard.setup.certificate_api import CertificateApi
from dashboard.setup.gauge_api import GaugeApi
from dashboard.setup.home_api import HomeApi
from dashboard.setup.picture_api import PictureApi
from dashboard.setup.sheet_api import SheetApi
from dashboard.sources.player import Player
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.text.screen import word
from dashboard.views.render_errors import answered
from dashboard.web.access.guard import viewing
from dashboard.web.api import LiveApi, Source
from dashboard.web.documents.compression import CompressedFiles
from dashboard.web.documents.document import index_string, opened, page
from dashboard.web.documents.installed import lay_installed
from dashboard.web.documents.packaged import lay_packaged
from dashboard.web.share import Share


def build(source: Source, shared: Share | None = None) -> FastAPI:
    """The ASGI application that shows what *source* publishes; *shared*: where others find it."""
    server = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    server.add_middleware(CompressedFiles)
    lay_packaged(server)
    lay_installed(server)
    routes = LiveApi(source)
    library = RecordingLibrary(source.folder)
    Papers(library).lay(server)
    sheets = SheetApi(library, routes)
    sheets.lay(server)
    HomeApi(source, library, sheets, routes).lay(server)
    GaugeApi(source, library, sheets, routes).lay(server)
    PictureApi(source, routes).lay(server)
    CertificateApi(sheets, routes).lay(server)
    routes.lay(server)  # before Dash, whose page answers every address that is left
    backend: Any = server  # Dash takes a FastAPI; its annotations do not say so
    dash = Dash(
        "dashboard",
        server=backend,
        title=word("page.grinding"),
        update_title="",
        index_string=index_string(),
        suppress_callback_exceptions=True,  # elements of a page that nobody opened are not there yet
        on_error=answered,
    )
    # Else every page tries a web socket, which the server does not have and warns of on the terminal.
    dash.backend.websocket_capability = False
    dash.layout = lambda: _laid(routes, replay=isinstance(source, Player))
    opened(dash)
    AnalysisPages(source, library, shared or Share()).lay(dash)
    ComparePages(source, library).lay(dash)
    return server


def _laid(routes: LiveApi, *, replay: bool) -> html.Div:
    """The page; a viewer's lacks the token, and says so."""
    if not viewing.get():
        return page(token=routes.token, run=routes.run, replay=replay)
    laid = page(token="", run=routes.run, replay=replay)
    laid.children = [html.P(word("share.viewer"), id="viewer"), *laid.children]
    return laid
