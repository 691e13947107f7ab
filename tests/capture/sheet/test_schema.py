"""The schema of the sheet: a key is declared once, for reader, form, ``--set`` and reference alike."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from capture.analysis.grind.machine_memory import memories_of
from capture.sheet.faults import BadSheet
from capture.sheet.gauges.link_keys import TABLES, Ask
from capture.sheet.job import Fit, Gauge, Grinder, Job, Known, Pedal, Workpiece
from capture.sheet.reader import job_of, read_sheet
from capture.sheet.reference import reference, written
from capture.sheet.schema import Entry, entries_of, leaves
from capture.sheet.settings import Settings, with_setting

ROOT = Path(__file__).parents[3]
SETTINGS = dict(leaves(Settings))
NUMBERS = {key: entry for key, entry in SETTINGS.items() if entry.kind == "number"}

MUST = {
    "job": "",
    "fit": "nominal = 55.0\nclearance = { aim = 0.005, least = 0.003, most = 0.008 }\n",
    "grinder": 'dial = "radius"\n',
}
"""What each table must have for another key of it to be read."""


def every() -> list[tuple[str, Entry]]:
    """Every key of the sheet with its dotted name."""
    tables = {"fit": Fit, "shaft": Workpiece, "grinder": Grinder, "gauge": Gauge, "ask": Ask, "pedal": Pedal}
    links = [(f"link.{kind}.", one) for kind, all_ in TABLES.items() for one in all_]
    found = [(f"job.{one.name}", one) for one in entries_of(Job) if one.kind not in {"table", "tables"}]
    found += [one for name, struct in tables.items() for one in leaves(struct, f"{name}.")]
    found += [one for before, struct in links for one in leaves(struct, before)]
    return [one for one in (*found, *leaves(Settings, "settings.")) if one[0] != "gauge.ask"]


def toml(value: Any) -> str:
    """A value as TOML has it."""
    return json.dumps(list(value) if isinstance(value, tuple) else value)


def plain(entry: Entry) -> Any:
    return list(entry.default) if isinstance(entry.default, tuple) else entry.default


@pytest.mark.parametrize(("name", "entry"), every(), ids=lambda one: one if isinstance(one, str) else "")
def test_every_key_says_what_it_is_and_takes_its_own_default(name: str, entry: Entry):
    """`form.bow = 0`, its own default, was refused."""
    assert entry.key.label
    assert entry.key.help
    assert entry.must or entry.default in {None, ""} or entry.holds(plain(entry))


@pytest.mark.parametrize("key", SETTINGS)
def test_a_setting_set_to_its_default_changes_nothing(key: str):
    default = SETTINGS[key].default
    group, _, leaf = key.partition(".")
    job, _ = read_sheet(f'[job]\nname = "x"\n[settings.{group}]\n{leaf} = {toml(default)}\n', "x.toml")

    assert with_setting(Settings(), key, written(default)) == Settings()
    assert job.settings == Settings()


@given(key=st.sampled_from(sorted(NUMBERS)), value=st.floats())
def test_sheet_and_set_take_the_same_numbers_and_no_other(key: str, value: float):
    """Law: a number is taken exactly where its declared bounds hold, whichever way it comes."""
    group, _, leaf = key.partition(".")
    declared = NUMBERS[key].key
    inside = (
        abs(value) < 1e300
        and (declared.least is None or value >= declared.least)
        and (declared.above is None or value > declared.above)
        and (declared.most is None or value <= declared.most)
        and (declared.below is None or value < declared.below)
    )
    sheet = f'[job]\nname = "x"\n[settings.{group}]\n{leaf} = {value!r}\n'

    for read, name in (
        (lambda: with_setting(Settings(), key, repr(value)), key),
        (lambda: read_sheet(sheet, "x.toml"), f"settings.{key}"),
    ):
        why = refusal(read)
        assert (why == "") == inside
        assert inside or (f"{name}: came " in why and f"due {NUMBERS[key].due}" in why)


def refusal(read: Callable[[], object]) -> str:
    """Why it is refused; empty where it is taken."""
    try:
        read()
    except (ValueError, BadSheet) as error:
        return str(error)
    return ""


@pytest.mark.parametrize(
    ("sheet", "said"),
    [
        ("[settings.coach]\nundersize = 5\n", "settings.coach.undersize: came 5"),
        ("[settings.coach]\nundersize = 1\n", "due a number between 0 and 0.5"),
        ("[settings.growing]\nconfidence = 5\n", "due a number between 0.5 and 1"),
        (
            '[grinder]\ndial = "radius"\nknown = { heat = 5 }\n',
            "grinder.known.heat: came 5, due a number from 0 to 1",
        ),
        ('[grinder]\ndial = "radius"\nknown = { share = 5 }\n', "due a number above 0 and at most 1"),
        (
            "[settings.form]\nbow = -0.001\n",
            "settings.form.bow: came -0.001, due a length of at least 0, in mm",
        ),
        ("[shaft]\nexpansion = 0.011\n", "due a coefficient in 1/K, such as 11.4e-6"),
    ],
)
def test_a_figure_that_cannot_be_is_refused(sheet: str, said: str):
    """A probability lies between 0 and 1; a length of a deviation is not negative."""
    with pytest.raises(BadSheet, match=re.escape(said)):
        read_sheet(f'[job]\nname = "x"\n{sheet}', "x.toml")


@pytest.mark.parametrize("before", ["fit", "bore", "shaft", "grinder"])
def test_a_table_with_every_default_written_is_the_table_without_them(before: str):
    struct = {"fit": Fit, "grinder": Grinder}.get(before, Workpiece)
    least = MUST.get(before, "")
    given = "".join(
        f"{entry.name} = {toml(entry.default)}\n"
        for entry in entries_of(struct)
        if not entry.must and entry.kind != "table" and entry.default not in {None, ""}
    )
    short, _ = read_sheet(f'[job]\nname = "x"\n[{before}]\n{least}', "x.toml")
    long, _ = read_sheet(f'[job]\nname = "x"\n[{before}]\n{least}{given}', "x.toml")

    assert short == long


@pytest.mark.parametrize("path", sorted((ROOT / "recordings").glob("*.jsonl")), ids=lambda path: path.stem)
def test_no_kept_recording_has_a_sheet_that_is_refused(path: Path):
    """What was recorded with an earlier version of the schema is taken by this one without a fault."""
    with path.open("rb") as file:
        header = json.loads(file.readline())["job"]

    job, read_back = read_sheet(_toml(header), path.name)

    assert read_back == header
    assert job == job_of(header)


def _toml(header: dict[str, Any]) -> str:
    text = tomlkit.dumps(header)
    assert tomllib.loads(text) == header
    return text


def test_the_reference_beside_the_schema_is_the_one_that_it_makes():
    """`python -m capture.sheet` prints it."""
    stands = (ROOT / "capture" / "sheet" / "REFERENCE.md").read_text("utf-8")

    assert stands == reference()


@pytest.mark.parametrize("name", [name for name, _ in every()])
def test_every_key_stands_in_the_reference(name: str):
    key = re.sub(r"^(job|fit|shaft|grinder|gauge|pedal|settings|link\.\w+)\.", "", name)

    assert f"| `{key}` | " in reference()


def test_the_memory_of_a_machine_has_the_keys_of_known():
    text = '["mill 2 / 60 J"]\n' + "".join(f"{entry.name} = 1\n" for entry in entries_of(Known))

    assert "mill 2 / 60 J" in memories_of(text, "machines.toml")
