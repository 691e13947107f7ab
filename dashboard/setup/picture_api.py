"""A picture from the page: it is saved beside the recording, and its hash goes to the capture."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Final

import msgspec
from fastapi import FastAPI
from msgspec import Struct
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from capture.events import Picture
from capture.links.inbox.client import find, say
from capture.links.inbox.endpoint import NoCapture, read_endpoint
from capture.recording.pictures import BadPicture, picture_bytes, store_picture
from dashboard.sources.feed import Feed
from dashboard.text.screen import word
from dashboard.web.api import LiveApi, Source

MOST: Final = 1 << 20
"""Bytes of a request: the page makes a picture smaller before it sends it."""


class GivenPicture(Struct):
    """A picture in base64, and what it shows."""

    data: bytes
    text: str = ""


class PictureApi:
    """Takes pictures for the capture that is shown, and gives out those that a recording names."""

    def __init__(self, source: Source, routes: LiveApi) -> None:
        self._source, self._routes = source, routes

    def lay(self, server: FastAPI) -> None:
        """Adds the routes to *server*."""
        server.add_route("/picture/keep", self._routes.guarded(self.keep, MOST), methods=["POST"])
        server.add_route("/picture", self.show)

    async def keep(self, body: bytes) -> Response:
        """Answered when the picture and its event are on disk."""
        given = msgspec.json.decode(body, type=GivenPicture)
        return await asyncio.to_thread(self._keep, given)

    def _keep(self, given: GivenPicture) -> Response:
        scene = self._source.store.scene
        if not isinstance(self._source, Feed) or scene.state is None or scene.closed:
            return _no(word("ask.replay") if not isinstance(self._source, Feed) else word("ask.closed"), 409)
        try:
            place = read_endpoint(self._source.inbox) if self._source.inbox else find(self._source.folder)
            kept = store_picture(given.data, Path(place.recording).parent)
            words = ["picture", kept.file, kept.sha256, str(kept.size), *given.text.split()]
            reply = say(words, inbox=self._source.inbox)
        except BadPicture as error:
            return _no(str(error), 415)
        except NoCapture as error:
            return _no(str(error), 503)
        except OSError as error:
            return _no(error.strerror or str(error), 500)
        return Response(msgspec.json.encode(reply), media_type="application/json")

    async def show(self, request: Request) -> Response:
        """A picture that the recording shown names, and no other file."""
        name = request.query_params.get("file", "")
        state = self._source.store.scene.state
        events = () if state is None else state.steps.pictures
        for event in events:
            if isinstance(event.fact, Picture) and event.fact.file == name:
                folder = self._source.folder
                body = await asyncio.to_thread(picture_bytes, folder, name, event.fact.sha256)
                if body is not None:
                    return Response(body, media_type="image/jpeg", headers={"cache-control": "no-store"})
        return PlainTextResponse(word("picture.unknown"), status_code=404)


def _no(why: str, status: int) -> Response:
    return JSONResponse({"ok": False, "refused": why}, status_code=status)
