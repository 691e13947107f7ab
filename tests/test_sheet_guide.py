"""The guide's section on the sheet: every key that the reader knows stands in it, and no other."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from msgspec import structs

from capture.analysis.machine_memory import memories_of
from capture.sheet.gauges import LINKS
from capture.sheet.job import Known
from capture.sheet.reader import read_sheet
from capture.sheet.settings import Settings
from capture.sheet.table import SheetTable

GUIDE = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text("utf-8")
SECTION = GUIDE.split("## The sheet\n")[1].split("\n## ")[0]

FULL = """
[job]
name = "sleeve"
[fit]
nominal = 55.0
clearance = { aim = 0.005, least = 0.003, most = 0.008 }
engagement = { length = 160.0, from = 20.0, to = 120.0 }
[bore]
plating = { least = 0.1, most = 0.2, stock = 0.06 }
[shaft]
plating = { least = 0.1, most = 0.2, stock = 0.06 }
[grinder]
dial = "radius"
swivel = { pivot = 140.0, reading_at = 740.0 }
known = { share = 0.5 }
""" + "".join(
    f"""
[[gauge]]
name = "{kind}"
measures = "diameter"
link = {{ {kind} = "place of {kind}" }}
ask = {{ send = "?" }}
"""
    for kind in LINKS
)
PEDAL = '[[pedal]]\nname = "foot"\nkeyboard = "pedal"\nkeys = { KEY_B = "pass 0" }\n'


def rows() -> Iterator[tuple[str, str, str]]:
    """Table, key and default of every row."""
    tables: list[str] = []
    for line in SECTION.splitlines():
        if line.startswith("**"):
            tables = [
                f"link.{found[2]}" if found[2] else found[1]
                for found in re.finditer(r"\*\*`(?:\[+(\w+)\]+|link = \{ (\w+) = … \})`\*\*", line)
            ]
        elif found := re.match(r"\| `([\w.]+)` \| (.*?) ?\| ", line):
            yield from ((table, found[1], found[2]) for table in tables)


@pytest.fixture
def reader(monkeypatch: pytest.MonkeyPatch) -> tuple[set[str], set[str]]:
    """Every key that is looked for while a full sheet is read, and those that must be there."""
    known: set[str] = set()
    must: set[str] = set()
    took, needed = SheetTable.take, SheetTable.need

    def place(table: SheetTable, key: str) -> str:
        where = re.sub(r"^gauge '(\w+)'\.link", r"link.\1", table.where)
        where = re.sub(r"^(gauge|pedal) ('\w+'|number \d+)", r"\1", where)
        return f"{where}.{key}"

    def take(table: SheetTable, key: str, *rest: Any, **more: Any) -> Any:
        known.add(place(table, key))
        return took(table, key, *rest, **more)

    def need(table: SheetTable, key: str, due: str) -> bool:
        known.add(place(table, key))
        must.add(place(table, key))
        return needed(table, key, due)

    monkeypatch.setattr(SheetTable, "take", take)
    monkeypatch.setattr(SheetTable, "need", need)
    read_sheet(FULL + PEDAL, "full.toml")
    for kind, options in LINKS.items():
        known |= {f"link.{kind}.{option}" for option in options}
        must.add(f"link.{kind}.{kind}")
    tables = {".".join(key.split(".")[:2]) for key in known if key.count(".") == 2 and key[:5] != "link."}
    return {key for key in known if not key.startswith(".")} - tables, must - tables


def test_every_key_of_a_sheet_stands_in_the_guide_and_no_other(reader):
    known, _ = reader
    told = {f"{table}.{key}" for table, key, _ in rows() if table != "settings"}

    assert told == known


def test_what_must_be_given_is_marked_so(reader):
    _, must = reader
    told = {f"{table}.{key}" for table, key, default in rows() if default == "*must*"}

    assert told == must


def test_every_setting_stands_in_the_guide_with_its_default():
    told = {key: default for table, key, default in rows() if table == "settings"}
    due = {
        f"{group}.{key}": value
        for group, each in structs.asdict(Settings()).items()
        for key, value in structs.asdict(each).items()
    }

    assert told.keys() == due.keys()
    assert {key: json.loads(default) for key, default in told.items()} == due


def test_the_memory_of_a_machine_has_the_keys_of_known():
    told = [key.removeprefix("known.") for _, key, _ in rows() if key.startswith("known.")]
    text = '["mill 2 / 60 J"]\n' + "".join(f"{key} = 1\n" for key in told)

    assert set(told) == set(Known.__struct_fields__)
    assert "mill 2 / 60 J" in memories_of(text, "machines.toml")
