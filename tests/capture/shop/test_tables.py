"""The same tables in PostgreSQL and from a folder, true to the recordings, and only to be read."""

from __future__ import annotations

import json
import math
import shutil
from datetime import datetime
from pathlib import Path

import psycopg
import pytest

from capture.recording.reader import read
from capture.sessions import opened
from capture.shop.archive.database import Database
from capture.shop.archive.schema import migrate
from capture.shop.archive.working import Working
from capture.shop.messages.topics import recording_name, stem_of
from capture.shop.tables.ask import BadQuestion, asked
from capture.shop.tables.rows import PROGRAM, VIEWS
from capture.state import session

RECORDINGS = Path(__file__).parents[3] / "recordings"
PATHS = [RECORDINGS / f"{name}.jsonl" for name in ("bore", "glazed-wheel", "good")]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("asked") / "recordings"
    place.mkdir()
    for path in PATHS:
        shutil.copy(path, place)
    return place


@pytest.fixture(scope="module")
def stored(postgres):
    """The URL of a database with the golden recordings, and their jobs worked out."""
    url = postgres.create("golden")
    migrate(url)
    database = Database(url)
    for path in PATHS:
        lines = path.read_bytes().split(b"\n")[:-1]
        database.store({("g1", recording_name(path.stem, lines[0])): lines})
    database.close()
    working = Working(url)
    while working.turn(rested=0.0):
        pass
    working.close()
    return url


def rows_in(url: str, question: str):
    with psycopg.connect(url) as one:
        found = one.execute(question)
        names = [column.name for column in found.description or ()]
        return names, found.fetchall()


def test_both_have_the_same_views_with_the_same_columns(folder, stored):
    for view, columns in VIEWS.items():
        names = [name for name, _ in columns]

        question = f"SELECT * FROM {view} WHERE false"  # noqa: S608 - our own names
        assert rows_in(stored, question)[0] == names, view
        assert asked(question, folder, print).columns == names, view


@pytest.mark.parametrize("view", VIEWS)
def test_both_have_the_same_rows(folder, stored, view):
    names = [name for name, _ in VIEWS[view] if name not in {"machine", "recording"}]
    columns = ", ".join(f'"{name}"' for name in names)
    question = f"SELECT recording, {columns} FROM {view}"  # noqa: S608 - our own names
    one = {(stem_of(row[0]), *row[1:]) for row in rows_in(stored, question)[1]}
    other = {tuple(row) for row in asked(question, folder, lambda _: None).rows}

    assert one or view in {"stations", "pictures"}  # which no golden recording has
    assert sorted(map(repr, _rounded(one))) == sorted(map(repr, _rounded(other)))


def _rounded(rows):
    """As text both alike: the last bit of a time in seconds, and the zone's name, are not the matter."""
    return [[_round(value) for value in row] for row in rows]


def _round(value):
    if isinstance(value, datetime):
        return value.timestamp()
    return f"{value:.9g}" if isinstance(value, float) else value


def test_the_tables_hold_what_the_recordings_say(folder):
    for path in PATHS:
        due = [event.fact.value for event in read(path) if event.fact.__class__.__name__ == "Reading"]
        state = opened(path).state
        readings = f"SELECT list(value ORDER BY seq) FROM readings WHERE recording = '{path.stem}'"  # noqa: S608
        jobs = f"SELECT passes, events FROM jobs WHERE recording = '{path.stem}'"  # noqa: S608 - our own names
        found, job = asked(readings, folder, lambda _: None), asked(jobs, folder, lambda _: None)

        assert found.rows == [(due,)]
        assert job.rows == [(len(state.grind.passes), state.seq + 1)]


def test_a_wheel_that_glazes_loses_its_bite_and_a_good_one_does_not(folder):
    found = asked("SELECT recording, bite_loss FROM jobs", folder, lambda _: None)

    loss = dict(found.rows)
    assert loss["glazed-wheel"] > 0.03
    assert abs(loss["good"]) < 0.01


def test_a_recording_that_grows_is_answered_as_it_is_now(tmp_path):
    data = (RECORDINGS / "good.jsonl").read_bytes()
    path = tmp_path / "good.jsonl"
    for size in (5000, 50_000, len(data)):
        path.write_bytes(data[:size])

        found = asked("SELECT events FROM recordings", tmp_path, lambda _: None)

        assert found.rows == [(data[:size].count(b"\n") - 1,)]
    assert len(list((tmp_path / ".tables").iterdir())) == 1


@pytest.mark.parametrize(
    "question",
    [
        "SELECT * FROM read_text('/etc/passwd')",
        "SELECT * FROM read_csv('/etc/passwd')",
        "SELECT * FROM glob('/*')",
        "COPY (SELECT 1) TO 'out.csv'",
        "COPY jobs TO 'out.csv'",
        "DROP VIEW jobs",
        "ATTACH 'x.db'",
        "SET enable_external_access = true",
        "INSTALL httpfs",
        "SELECT 1; SELECT 2",
        "SELECT 1; COPY (SELECT 1) TO 'out.csv'",
        "SELEC",
        "",
    ],
)
def test_a_question_reads_the_tables_and_nothing_else(folder, question):
    before = sorted(folder.rglob("*"))

    with pytest.raises(BadQuestion):
        asked(question, folder, lambda _: None)

    assert sorted(folder.rglob("*")) == before


def test_a_folder_without_recordings_has_empty_tables_and_rubbish_is_named(tmp_path):
    assert asked("SELECT count(*) FROM jobs", tmp_path, print).rows == [(0,)]
    (tmp_path / "rubbish.jsonl").write_text("rubbish", "utf-8")
    said = []

    assert asked("SELECT count(*) FROM jobs", tmp_path, said.append).rows == [(0,)]
    assert "not a recording" in said[0]


@pytest.mark.parametrize("change", ["changed", "lacking", "torn"])
def test_what_stands_before_a_damaged_line_is_answered_and_the_damage_said_each_time(tmp_path, change):
    """As the archive has it: of a changed line, and of what follows it, neither takes anything."""
    lines = (RECORDINGS / "good.jsonl").read_bytes().split(b"\n")
    if change == "changed":
        lines[600] = lines[600].replace(b'"seq":', b'"seq" :', 1)
    elif change == "lacking":
        del lines[600]
    else:
        lines[600:] = [lines[600][:30]]
    (tmp_path / "good.jsonl").write_bytes(b"\n".join(lines))

    for _ in range(2):
        said = []
        assert asked("SELECT events FROM jobs", tmp_path, said.append).rows == [(599,)]
        assert [one for one in said if "good.jsonl:601" in one and "what stands before it is there" in one]


def test_the_command_answers_a_person_and_a_program(commands, folder):
    question = "SELECT recording, job, size, began FROM jobs WHERE recording = 'good'"

    told = commands.run("ask", question, str(folder))
    rows = json.loads(commands.run("ask", question, str(folder), "--json"))

    assert told.splitlines()[0] == "recording\tjob\tsize\tbegan"
    assert rows[0]["recording"] == "good"
    assert math.isclose(rows[0]["size"], 54.997, abs_tol=0.001)
    assert "due one SELECT" in commands.run("ask", "DROP VIEW jobs", str(folder), status=2)


def test_the_program_is_named_in_the_tables_as_in_the_state():
    assert PROGRAM == session.PROGRAM
