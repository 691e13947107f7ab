"""The guide's section on `--json`: every key that a command prints stands in it, and no other."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from capture.cli import tenths
from capture.commands.teaching import gauges
from capture.links.bluetooth.radio import FoundDevice
from capture.links.ports import Port
from capture.metrology.form.contacts import RoundnessSetup
from capture.simulator.golden import Virtual
from tests.capture.analysis.test_calibration_certificate import certificate

ROOT = Path(__file__).parents[2]
SECTION = (ROOT / "capture/commands/JSON.md").read_text("utf-8").split("\n## ")[0]
RECORDINGS = [ROOT / "recordings" / name for name in ("bore.jsonl", "good.jsonl")]
OPEN = r"^(flags\[\]\.figures|coach\.machine\.known|bore\.profile)\..*"
"""What is named by what it is about, or is told elsewhere: figures by name, what is remembered, a part."""


def guided(command: str) -> set[str]:
    """The keys that the guide has for a command, each with the way to it."""
    table = SECTION.split(f"**`{command}`**")[1].split("**`")[0]
    found = set()
    for where, keys in re.findall(r"^\| (.*?) ?\| (.*) \|$", table, re.MULTILINE)[1:]:
        for way in re.findall(r"`([^`]+)`", where) or [""]:
            found |= {f"{way}.{key}".lstrip(".") for key in re.findall(r"`(\w+)`", keys)}
    return found


def flat(value: Any, way: str = "") -> Iterator[str]:
    """The ways to everything in *value* that is neither a table nor a list of tables."""
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            yield from flat(inner, f"{way}.{key}".lstrip("."))
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for inner in value:
            yield from flat(inner, f"{way}[]")
    else:
        yield way


def printed(*asked: tuple[str, ...]) -> set[str]:
    """The ways to all that these requests print together."""
    found: set[str] = set()
    for words in asked:
        answer = CliRunner().invoke(tenths, [*words, "--json"])
        assert answer.exit_code in {0, 1}, answer.output
        found |= set(flat(json.loads(answer.stdout)))
    found = {re.sub(OPEN, r"\1", way) for way in found}
    tables = {way[: at.start()] for way in found for at in re.finditer(r"\.|\[\]", way)}
    return {way for way in found if way not in tables}


@pytest.fixture
def sleeve(tmp_path: Path, fit_sheet_text: str, fit_recording: Callable[..., Path]) -> Path:
    """A folder with a sheet and a recording of both parts."""
    sheet = fit_sheet_text.replace('material = "steel 4140"', 'material = "steel 4140"\nhardness = 60')
    (tmp_path / "sleeve.toml").write_text(sheet, "utf-8")
    fit_recording(tmp_path / "one.jsonl", sheet)
    return tmp_path


@pytest.fixture
def studied(tmp_path: Path, fit_sheet_text: str) -> Path:
    """A recording in which two people read two places three times, and the gauge two masters."""
    shop = Virtual(tmp_path / "study.jsonl", fit_sheet_text)
    for size in (55.0, 55.02, 55.0):
        shop.say("master", "plug", str(size), "0.0003")
        for more in (0.0001, 0.0002):
            shop.wait(3)
            shop.receive("plug", f"{size + more:.4f}\r\n".encode())
        shop.say("station", "bore", "40", "0")
    for person in "AB":
        for trial in (1, 2, 3):
            shop.say("stage", "study", person, str(trial))
            for z in (40, 70):
                shop.say("station", "bore", str(z), "0")
                shop.wait(3)
                shop.receive("plug", f"{55.002 + 0.0001 * trial + z * 1e-5:.4f}\r\n".encode())
    shop.close()
    return tmp_path / "study.jsonl"


def test_what_summary_prints_stands_in_the_guide():
    said = [("summary", str(path)) for path in RECORDINGS]
    said.append(("summary", str(ROOT / "recordings" / "good.jsonl"), "--afresh"))

    assert printed(*said) == guided("summary")


def test_what_fit_prints_stands_in_the_guide(sleeve: Path):
    sheet, recording = str(sleeve / "sleeve.toml"), str(sleeve / "one.jsonl")

    assert printed(("fit", sheet, recording, "--at", "bore=22,shaft=25")) == guided("fit")


@pytest.fixture
def plated(sleeve: Path, fit_sheet_text: str) -> Path:
    """A recording in which the shaft was measured stripped and plated."""
    shop = Virtual(sleeve / "plated.jsonl", fit_sheet_text)
    for stage, size in (("stripped", 54.7), ("plated", 55.1)):
        shop.say("stage", stage)
        shop.say("station", "shaft", "20", "0")
        shop.wait(3)
        shop.receive("mike", f"{size:.4f}\r\n".encode())
    shop.close()
    return sleeve / "plated.jsonl"


def test_what_plan_prints_stands_in_the_guide(sleeve: Path, plated: Path):
    sheet, recording = str(sleeve / "sleeve.toml"), str(sleeve / "one.jsonl")

    assert printed(("plan", sheet, "--bore", recording, "--shaft", str(plated))) == guided("plan")


def test_what_steps_prints_stands_in_the_guide(sleeve: Path, fit_sheet_text: str):
    sheet = fit_sheet_text.replace('material = "steel 4140"', 'material = "steel 4140"\nhardness = 45')
    sheet += "\n[work]\nbetween_centres = 400.0\n[wheel]\nwidth = 40.0\n"
    shop = Virtual(sleeve / "steps.jsonl", sheet)
    for z, size in ((10, 55.001), (100, 55.004), (160, 55.0045)):
        shop.say("station", "bore", str(z), "0")
        shop.wait(3)
        shop.receive("plug", f"{size:.4f}\r\n".encode())
    shop.say("lap", "60")
    shop.say("checked", "centres", "ok")
    shop.say("tried", "60", "0", "free")
    shop.say("stage", "plated")
    shop.say("runout", "20", "0.006", "90")
    shop.say("picture", "0123456789abcdef.jpg", "0123456789abcdef" * 4, "100")
    shop.close()

    assert printed(("steps", str(sleeve / "steps.jsonl"))) == guided("steps")


def test_what_certificate_prints_stands_in_the_guide(tmp_path: Path, fit_sheet_text: str):
    (tmp_path / "ring.xml").write_bytes(certificate())
    (tmp_path / "sleeve.toml").write_text(fit_sheet_text)

    read = printed(("certificate", str(tmp_path / "ring.xml"), "--due", "2020-01-01"))
    assert read | printed(("certificate", str(tmp_path / "sleeve.toml"))) == guided("certificate")


def test_what_study_prints_stands_in_the_guide(studied: Path):
    assert printed(("study", str(studied))) == guided("study")


def test_what_roundness_prints_stands_in_the_guide(turned_recording: Callable[..., Path], tmp_path: Path):
    setups = [RoundnessSetup("centres", at=at) for at in (0.0, 100.0, 202.0)]
    path = turned_recording(tmp_path / "round.jsonl", setups, {3: 0.002})

    assert printed(("roundness", str(path))) == guided("roundness")


def test_what_chatter_prints_stands_in_the_guide(turned_recording: Callable[..., Path], tmp_path: Path):
    path = turned_recording(tmp_path / "round.jsonl", [RoundnessSetup("centres")], {3: 0.002})

    assert printed(("chatter", str(path), "--work", "20", "--drive", "belt=600")) == guided("chatter")


def test_what_gauges_prints_stands_in_the_guide(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(gauges, "ports", lambda: [Port("/dev/ttyUSB0", "a cable")])
    monkeypatch.setattr(gauges, "_in_the_air", lambda _: ([FoundDevice("plug", "AA:BB", -60)], ""))

    assert printed(("gauges",)) == guided("gauges")


def test_what_machine_prints_stands_in_the_guide(tmp_path: Path):
    memory, good = tmp_path / "machines.toml", str(ROOT / "recordings" / "good.jsonl")
    said = ("machine", str(memory), "--learn", good, "--learn", good)

    assert {way.replace("machines.grinder.", "machines.NAME.") for way in printed(said)} == guided("machine")


def test_what_check_prints_stands_in_the_guide():
    assert printed(("check", str(ROOT / "recordings" / "cut-tail.jsonl"))) == guided("check")


def test_a_program_finds_every_command_that_answers_it_in_the_guide():
    told = set(re.findall(r"^\*\*`(\w+)`", SECTION, re.MULTILINE))

    answering = {"summary", "fit", "plan", "steps", "certificate", "study", "roundness", "chatter"}
    assert told == answering | {"gauges", "machine", "check"}
