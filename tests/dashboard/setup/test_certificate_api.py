"""A certificate through the page: what it says, where it may be written, and the sheet with it."""

from __future__ import annotations

import base64

import msgspec
import pytest
from fastapi import FastAPI

from capture.sheet.reader import read_sheet
from dashboard.setup.certificate_api import MOST, CertificateApi
from dashboard.setup.sheet_api import SheetApi
from dashboard.sources.feed import Feed
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw
from dashboard.web.api import LiveApi
from tests.capture.analysis.test_calibration_certificate import certificate
from tests.capture.commands.papers.test_certificate import SHEET

CHOSEN = {"sheet": "sleeve.toml", "gauge": "mike", "of": "master", "length": 0, "due": "2999-05-01"}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "sleeve.toml").write_text(SHEET)
    (tmp_path / "broken.toml").write_text("[[")
    return tmp_path


@pytest.fixture
def send(folder, asked):
    def one(road, given=None, *, token=True, **chosen):
        feed = Feed(folder, SceneStore(draw), {}, wall=lambda: 0)
        server, routes = FastAPI(), LiveApi(feed)
        CertificateApi(SheetApi(RecordingLibrary(folder), routes), routes).lay(server)
        body = certificate() if given is None else given
        what = {"data": base64.b64encode(body).decode(), **chosen}
        headers = [("x-tenths-token", routes.token)] if token else []
        return asked(
            server, f"/certificate/{road}", method="POST", headers=headers, body=msgspec.json.encode(what)
        )

    return one


def test_what_it_says_is_shown_with_the_gauges_that_it_may_be_of(send):
    answer = send("read").json()

    assert answer["said"][0] == "Certificate A-17 of setting ring 55 (R-9)"
    assert answer["lengths"] == ["diameter: 55.000300 mm, U 0.5 µm (k = 2)"]
    assert [(one["sheet"], one["gauge"], one["of"]) for one in answer["places"]] == [
        ("sleeve.toml", "mike", "master"),
        ("sleeve.toml", "mike", "gauge"),
    ]


def test_it_is_written_onto_the_sheet_that_was_chosen(send, folder):
    answer = send("keep", **CHOSEN).json()

    assert answer["ok"]
    gauge = read_sheet((folder / "sleeve.toml").read_text(), "sheet")[0].gauges[0]
    assert (gauge.master_size, gauge.master_expanded, gauge.coverage) == (55.0003, 0.0005, 2.0)
    assert (gauge.master_certificate, gauge.master_due) == ("A-17", "2999-05-01")
    assert "overdue" in send("keep", **{**CHOSEN, "due": "1999-05-01"}).json()["said"]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"due": "soon"}, "due"),
        ({"gauge": "plug"}, "place"),
        ({"sheet": "../sleeve.toml"}, "place"),
        ({"sheet": "broken.toml"}, "place"),
        ({"length": 9}, "length"),
        ({"given": b"<x/>"}, "file"),
    ],
)
def test_what_cannot_be_written_says_why_and_leaves_the_sheet(send, folder, wrong, field):
    answer = send("keep", **{**CHOSEN, **wrong})

    assert (answer.status, answer.json()["field"]) == (422, field)
    assert answer.json()["refused"]
    assert (folder / "sleeve.toml").read_text() == SHEET


def test_without_the_pages_token_and_beyond_the_bound_nothing_is_read(send):
    assert send("read", token=False).status == 403
    assert send("read", b"x" * MOST).status == 413
