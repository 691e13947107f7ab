"""Marks that turn the direction of writing (UAX #9) reach no page; what a form holds stays as it is."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.applications import Starlette
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from dashboard.web.access.guard import Guard
from dashboard.web.access.tokens import Tokens
from dashboard.web.documents.direction import undirected

MARKS = "\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
NAME = f"mike{MARKS}2.5 mm"


async def live(_request):
    return Response(json.dumps(NAME, ensure_ascii=False), media_type="text/event-stream")


async def worked_out(_request):
    return Response(json.dumps(NAME), media_type="application/json")


async def form(_request):
    return JSONResponse(NAME)


@pytest.fixture
def get(asked):
    routes = {"/live": live, "/_dash-update-component": worked_out, "/form": form}
    app = Guard(
        Starlette(routes=[Route(path, answer) for path, answer in routes.items()]),
        host="127.0.0.1",
        tokens=Tokens("right-to-speak", own=False),
        port=8050,
    )
    known = [("host", "127.0.0.1:8050"), ("cookie", "tenths-8050=right-to-speak")]
    return lambda path: asked(app, path, headers=known)


@pytest.mark.parametrize("path", ["/live", "/_dash-update-component"])
def test_what_a_page_shows_turns_no_writing(get, path):
    shown = json.loads(get(path).text)

    assert shown == f"mike{chr(0xFFFD) * len(MARKS)}2.5 mm"


def test_what_a_form_holds_is_what_the_sheet_has(get):
    assert json.loads(get("/form").text) == NAME


@given(st.text(), st.booleans())
def test_nothing_else_changes_and_nothing_grows(text, ascii_alone):
    """Law: as long as before, and of the letters only the marks are others."""
    said = json.dumps(text.replace("\\", ""), ensure_ascii=ascii_alone).encode("utf-8", "surrogatepass")
    made = undirected(said)

    assert len(made) == len(said)
    due = text.replace("\\", "").translate(dict.fromkeys(map(ord, MARKS), 0xFFFD))
    assert json.loads(made.decode("utf-8", "surrogatepass")) == due
