"""Saving a sheet: only with the token, only in the folder, only when nothing is wrong with it."""

from __future__ import annotations

from pathlib import Path

import pytest
from fastapi import FastAPI
from msgspec import json

from capture.sheet.reader import read_sheet
from dashboard.setup.sheet_api import SheetApi, digest_of
from dashboard.sources.feed import Feed
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.sources.scene_store import SceneStore
from dashboard.views.registry import draw
from dashboard.web.api import LiveApi

VALUES = {
    "job.name": "Sleeve",
    "job.units": "mm",
    "fit.nominal": "55",
    "fit.clearance.aim": "0.005",
    "fit.clearance.least": "0.003",
    "fit.clearance.most": "0.008",
}


@pytest.fixture
def shop(tmp_path) -> Path:
    """The dashboard's folder, with a sheet in it and one beside it."""
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "old.toml").write_text('[job]\nname = "Old"  # kept\n', "utf-8")
    (tmp_path / "outside.toml").write_text('[job]\nname = "Outside"\n', "utf-8")
    return folder


@pytest.fixture
def ask(shop, asked):
    """Asks the roads about sheets, with the page's token unless told otherwise."""
    server = FastAPI()
    routes = LiveApi(Feed(shop, SceneStore(draw), {}))
    SheetApi(RecordingLibrary(shop), routes).lay(server)

    def one(path, what=None, *, token=True):
        if what is None:
            return asked(server, path)
        headers = [("x-tenths-token", routes.token)] if token else []
        return asked(server, path, method="POST", headers=headers, body=json.encode(what))

    return one


def form(name="new.toml", digest="", **changed):
    return {"name": name, "values": VALUES | changed, "gauges": [], "digest": digest}


def files(folder):
    return sorted(path.name for path in folder.rglob("*"))


def test_a_good_sheet_is_saved_and_reads_back(ask, shop):
    answer = ask("/sheet/save", form()).json()
    job, _ = read_sheet((shop / "new.toml").read_text("utf-8"), "new.toml")

    assert answer["ok"]
    assert "next start of the capture" in answer["said"]
    assert (job.name, job.fit.clearance.aim) == ("Sleeve", 0.005)
    assert files(shop) == ["new.toml", "old.toml"]


def test_without_the_token_nothing_is_saved(ask, shop):
    answer = ask("/sheet/save", form(), token=False)

    assert answer.status == 403
    assert files(shop) == ["old.toml"]


def test_a_sheet_with_a_fault_is_not_saved_and_says_where(ask, shop):
    answer = ask("/sheet/save", form(**{"fit.nominal": "much"})).json()

    assert not answer["ok"]
    assert answer["fields"] == {"fit.nominal": "came 'much', due a length above 0"}
    assert files(shop) == ["old.toml"]


def test_checking_saves_nothing(ask, shop):
    assert ask("/sheet/check", form()).json()["ok"]
    assert files(shop) == ["old.toml"]


@pytest.mark.parametrize(
    "name",
    [
        "../outside.toml",
        "/etc/evil.toml",
        "..\\evil.toml",
        "sub/evil.toml",
        ".hidden.toml",
        "evil.py",
        "evil.toml.py",
        "con.toml",
        "a\x00.toml",
        "",
        "x" * 200 + ".toml",
        "ev\nil.toml",
    ],
)
def test_no_name_reaches_outside_the_folder_or_is_anything_but_a_sheet(ask, shop, name):
    before = files(shop.parent)
    answer = ask("/sheet/save", form(name)).json()

    assert not answer["ok"]
    assert "write a file name such as sleeve.toml" in answer["fields"]["name"]
    assert files(shop.parent) == before


def test_a_link_that_leads_outside_is_neither_shown_nor_written_through(ask, shop):
    (shop / "linked.toml").symlink_to(shop.parent / "outside.toml")
    shown = ask("/sheet?name=linked.toml")
    saved = ask("/sheet/save", form("linked.toml", digest_of('[job]\nname = "Outside"\n'))).json()
    fresh = ask("/sheet/save", form("linked.toml")).json()

    assert shown.status == 404
    assert not saved["ok"]
    assert not fresh["ok"]
    assert (shop.parent / "outside.toml").read_text("utf-8") == '[job]\nname = "Outside"\n'


@pytest.mark.parametrize(
    "name", ["../outside.toml", "%2e%2e/outside.toml", "nothing.toml", "..%5Coutside.toml"]
)
def test_only_the_folders_own_sheets_are_shown(ask, name):
    answer = ask(f"/sheet?name={name}")

    assert answer.status == 404
    assert "Outside" not in answer.text


def test_a_new_sheet_does_not_replace_one_that_is_there(ask, shop):
    answer = ask("/sheet/save", form("old.toml")).json()

    assert "exists" in answer["fields"]["name"]
    assert "Old" in (shop / "old.toml").read_text("utf-8")


def test_an_opened_sheet_is_saved_with_its_comments(ask, shop):
    opened = ask("/sheet?name=old.toml").json()
    saved = ask("/sheet/save", form("old.toml", opened["digest"])).json()
    text = (shop / "old.toml").read_text("utf-8")

    assert saved["ok"]
    assert text.startswith('[job]\nname = "Sleeve"  # kept\n')
    assert saved["digest"] == digest_of(text)


def test_a_sheet_that_changed_meanwhile_is_not_overwritten(ask, shop):
    opened = ask("/sheet?name=old.toml").json()
    (shop / "old.toml").write_text('[job]\nname = "By hand"\n', "utf-8")
    saved = ask("/sheet/save", form("old.toml", opened["digest"])).json()

    assert "open it again" in saved["fields"]["name"]
    assert "By hand" in (shop / "old.toml").read_text("utf-8")


def test_a_folder_that_cannot_be_written_is_said(ask, shop, monkeypatch):
    def full(mode, **more):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("dashboard.setup.sheet_api.tempfile.NamedTemporaryFile", full)
    answer = ask("/sheet/save", form()).json()

    assert answer["rest"] == ["new.toml: cannot be written: No space left on device"]
    assert files(shop) == ["old.toml"]


def test_sheets_are_listed(ask):
    assert ask("/sheets").json() == {"names": ["old.toml"]}


def test_an_empty_form_describes_every_field_with_a_name_for_people(ask):
    shown = ask("/sheet").json()
    fields = [field for group in shown["groups"] + shown["settings"] for field in group["fields"]]
    fields += [field for one in shown["listed"] for field in one["fresh"]]

    assert [field["key"] for field in fields if field["label"] == field["key"]] == []
    assert [group["title"] for group in shown["settings"] if group["title"].startswith("settings.")] == []
    assert [(one["kind"], one["all"]) for one in shown["listed"]] == [("gauge", []), ("pedal", [])]
