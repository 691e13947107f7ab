"""Papers by their own roads: of the folder's recordings and of nothing else."""

from __future__ import annotations

import io
import json
import zipfile

import pandas as pd
import pytest
from fastapi import FastAPI

from capture.recording.codec import first_chain, next_chain
from dashboard.pages.papers import Papers, prints
from dashboard.sources.recording_library import RecordingLibrary
from dashboard.web.access.guard import Guard
from dashboard.web.access.tokens import Tokens

SLEEVE = "?recording=sleeve.jsonl"


@pytest.fixture
def get(recording, asked):
    """Asks for papers as a browser on this machine does."""
    server = FastAPI()
    Papers(RecordingLibrary(recording.parent)).lay(server)
    app = Guard(server, host="127.0.0.1", tokens=Tokens("right-to-speak"), port=1)
    cookie = ("cookie", "tenths-1=right-to-speak")
    return lambda target: asked(app, target, headers=[("host", "127.0.0.1:1"), cookie])


def test_the_record_is_shown_in_a_frame_in_which_nothing_runs(get):
    answer = get("/record/report.html" + SLEEVE)
    policy = answer.headers["content-security-policy"]

    assert answer.status == 200
    assert "Record of fit" in answer.text
    assert "Jig-borer spindle sleeve" in answer.text
    assert "default-src 'none'" in policy
    assert "sandbox" in policy
    assert "allow-scripts" not in policy
    assert "content-disposition" not in answer.headers


def test_the_record_is_kept_as_a_file(get):
    answer = get("/record/report.html" + SLEEVE + "&keep=1")

    assert answer.headers["content-disposition"] == 'attachment; filename="sleeve-report.html"'


def test_tables_are_kept_and_hold_the_readings(get, ground):
    taken = len(ground.state.stations.taken)
    csv = pd.read_csv(io.StringIO(get("/record/stations.csv" + SLEEVE).text))
    parquet = pd.read_parquet(io.BytesIO(get("/record/readings.parquet" + SLEEVE).body))
    document = json.loads(get("/record/passes.json" + SLEEVE).text)

    assert len(csv) == taken
    assert len(parquet) == ground.state.kinds["reading"]
    assert len(document["rows"]) == 13


def test_the_results_are_kept_as_a_package_of_data(get, ground):
    answer = get("/record/package.zip" + SLEEVE)

    with zipfile.ZipFile(io.BytesIO(answer.body)) as archive:
        descriptor = json.loads(archive.read("datapackage.json"))
        taken = pd.read_csv(archive.open("stations.csv"))
        decision = pd.read_csv(archive.open("decision.csv"))
    assert answer.headers["content-disposition"] == 'attachment; filename="sleeve-package.zip"'
    assert [one["path"] for one in descriptor["sources"]] == ["sleeve.jsonl"]
    assert list(taken["value_mm"]) == [one.value for one in ground.state.stations.taken]
    assert len(decision) <= 1


@pytest.mark.parametrize(
    "name",
    [
        "../sleeve.jsonl",
        "..%2Fsleeve.jsonl",
        "%2Fetc%2Fpasswd",
        "/etc/passwd",
        "sheet.toml",
        "",
        "..",
        "x%00.jsonl",
    ],
)
@pytest.mark.parametrize(
    "road", ["/record/report.html", "/record/report.pdf", "/record/readings.csv", "/record/package.zip"]
)
def test_no_path_of_a_request_reaches_outside_the_recordings(get, recording, name, road):
    (recording.parent / "sheet.toml").write_text("secret", "utf-8")
    answer = get(f"{road}?recording={name}")

    assert answer.status == 404
    assert "root:" not in answer.text
    assert "secret" not in answer.text


@pytest.mark.parametrize("path", ["/record/../sheet.toml", "/record/secrets.csv", "/record/readings.py"])
def test_there_are_no_other_roads(get, path):
    assert get(path + SLEEVE).status == 404


def test_what_is_no_recording_is_said(get, recording):
    recording.with_name("letter.jsonl").write_text("Dear customer,\n")
    answer = get("/record/report.html?recording=letter.jsonl")

    assert answer.status == 422
    assert "not a recording" in answer.text


def test_what_users_wrote_is_never_markup_in_the_record(get, recording, session, sheet):
    nasty = {**sheet, "job": {**sheet["job"], "name": "<script>alert(1)</script>"}}
    recording.with_name("nasty.jsonl").write_bytes(session(nasty).text())
    answer = get("/record/report.html?recording=nasty.jsonl")

    assert "<script>alert" not in answer.text
    assert "&lt;script&gt;" in answer.text


def test_the_print_of_a_growing_recording_is_of_the_lines_that_were_read(recording, ground):
    before = recording.read_bytes()
    digest, chain = prints(recording, len(ground.events) + 1)
    with recording.open("ab") as file:
        file.write(b"half a line")
    lines = before.splitlines()
    due = first_chain(lines[0])
    for line in lines[1:]:
        due = next_chain(due, line)

    assert prints(recording, len(ground.events) + 1) == (digest, chain)
    assert prints(recording, None)[0] != digest
    assert chain == due
