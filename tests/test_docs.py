"""The documents: what they show is run, and what they name is there."""

from __future__ import annotations

import doctest
import json
import pkgutil
import re
from importlib import import_module
from pathlib import Path
from typing import get_args

import click
import pytest
from msgspec import structs

import capture
import dashboard
from capture.cli import COMMANDS, tenths
from capture.events import AnyFact, Event, Other
from capture.recording.codec import Header, decode_event, encode_event, split_chain
from capture.sheet.reader import read_sheet

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
COMMAND_GUIDE = (ROOT / "capture/commands/COMMANDS.md").read_text("utf-8")
FORMAT = (ROOT / "capture/recording/FORMAT.md").read_text("utf-8")
SECURITY = (ROOT / "dashboard/web/SECURITY.md").read_text("utf-8")
DOCUMENTS = sorted(
    path
    for part in (".", "capture", "dashboard")
    for path in (ROOT / part).glob("*.md" if part == "." else "**/*.md")
)
MODULES = [
    module.name
    for package in (capture, dashboard)
    for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
    if not module.name.endswith("__main__")
]


@pytest.mark.parametrize("name", MODULES)
def test_what_a_docstring_shows_is_true(name):
    found = doctest.testmod(import_module(name))

    assert found.failed == 0


def test_every_command_stands_in_the_guide_of_commands_and_no_other():
    named = set(re.findall(r"^\| `(\w+)", COMMAND_GUIDE.split("## What it says")[0], re.MULTILINE))

    assert named == set(COMMANDS)


OPTION = re.compile(r"(?<![\w-])--?[a-z][\w-]*")
COMMON = {"--json", "--help"}
WRITTEN = {"-o": "--out", "--no-bluetooth": "--bluetooth"}
"""Options that stand there by another of their names."""


def options_told() -> dict[str, set[str]]:
    """By command, the options in its row of the first table and in the rows of the second that name it."""
    first, second = (COMMAND_GUIDE.split(head)[1].split("\n\n")[0] for head in ("| command |", "| options |"))
    told: dict[str, set[str]] = {}
    for row in re.findall(r"^\| `(.*)$", first, re.MULTILINE):
        told[re.split(r"\W", row)[0]] = set(OPTION.findall(row))
    for options, of in re.findall(r"^\| (`--.*) \| (.*) \|$", second, re.MULTILINE):
        for name in re.findall(r"`(\w+)`", of):
            told[name] |= set(OPTION.findall(options))
    return {name: {WRITTEN.get(one, one) for one in found} for name, found in told.items()}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_of_a_command_stands_there_and_no_other(name):
    context = click.Context(tenths)
    command = tenths.get_command(context, name)
    assert command is not None
    shown = [one for one in command.params if not getattr(one, "hidden", False)]
    taken = {word for one in shown for word in one.opts if word.startswith("--")}

    assert options_told()[name] - COMMON == taken - COMMON


def test_the_sheet_in_the_readme_is_a_sheet():
    sheet = re.search(r"```toml\n(.*?)```", README, re.DOTALL)

    assert sheet is not None
    assert read_sheet(sheet[1], "README.md")[0].name == "Jig-borer spindle sleeve"


def test_the_line_in_the_guide_is_a_line_of_a_recording():
    line = next(line for line in FORMAT.splitlines() if line.startswith('{"seq"')).encode()

    body, _ = split_chain(line)
    assert json.loads(encode_event(decode_event(body))) == json.loads(body)


def test_every_kind_of_event_stands_in_the_guide_with_its_fields():
    table = FORMAT.split("| kind | fields")[1].split("*Rules")[0]
    told = {
        kind: (re.findall(r"`(\w+)`", must), re.findall(r"`(\w+)`", may))
        for kind, must, may in re.findall(r"^\| `(\w+)` \| ([^|[]*)(.*?) \|", table, re.MULTILINE)
    }
    due = {}
    for fact in set(get_args(AnyFact)) - {Other}:
        fields = structs.fields(fact)
        must = [field.encode_name for field in fields if field.required]
        due[fact.__name__.lower()] = (must, [one.encode_name for one in fields if not one.required])

    assert told == due


def test_every_field_of_a_record_has_its_row():
    """The header, an event and each kind of fact: field by field, in the order in which they are written."""
    tables = re.findall(
        r"\*\*`(\w+)`\*\*[^\n]*\n\n((?:\|.*\n)+)", FORMAT.split("## The fields of each record")[1]
    )
    told = {name: re.findall(r"^\| `(\w+)` \|", rows, re.MULTILINE) for name, rows in tables}
    records = {"header": Header, "event": Event}
    records |= {fact.__name__.lower(): fact for fact in set(get_args(AnyFact)) - {Other}}
    due = {name: [field.encode_name for field in structs.fields(one)] for name, one in records.items()}

    assert told == {name: fields for name, fields in due.items() if fields}


def test_the_map_names_every_room_and_each_is_there():
    rows = re.findall(r"^\| (`.*?) \|", GUIDE.split("## Map")[1].split("## ")[0], re.MULTILINE)
    named = [part.strip("`… ") for row in rows for part in row.split(",")]
    rooms = {
        str(path.relative_to(ROOT))
        for part in ("capture", "dashboard")
        for path in (ROOT / part).iterdir()
        if path.is_dir() and path.name not in {"__pycache__", "assets"}
    }

    assert [name for name in named if not (ROOT / name).exists()] == []
    assert rooms - set(named) == set()


def guards_named() -> list[tuple[str, str]]:
    """File and test of everything that the table of threats names; `…::` is of the file before."""
    found, file = [], ""
    for row in SECURITY.split("| threat |")[1].split("\n\n")[0].splitlines():
        for said in re.findall(r"`([^`]*(?:\.py|::)[^`]*)`", row.rsplit(" | ", 1)[-1]):
            path, _, test = said.partition("::")
            file = file if path == "…" else path
            found.append((file, test))
    return found


@pytest.mark.parametrize(("file", "test"), guards_named())
def test_what_guards_against_a_threat_is_there(file, test):
    places = [ROOT / file, ROOT / "tests" / file, ROOT / "tests/capture" / file]
    path = next((place for place in places if place.exists()), None)
    assert path is not None, file

    assert f"def {test.rstrip('…')}" in path.read_text("utf-8") if test else path.stat().st_size


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_what_a_document_links_to_is_there(document):
    links = re.findall(r"\]\((?!http)([^)#]+)", document.read_text("utf-8"))

    assert [link for link in links if not (document.parent / link).exists()] == []


def test_the_first_documents_stay_short():
    """A README of 6 kB and a guide of 12 kB are read; longer ones are not."""
    assert (len(README.encode()) <= 6000, len(GUIDE.encode()) <= 12000) == (True, True)
