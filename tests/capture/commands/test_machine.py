"""`tenths machine`: what is learnt from a recording, shown, and begun with."""

from __future__ import annotations

import json
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from capture.cli import tenths
from capture.commands.live import sheet_of
from capture.simulator.golden import good
from capture.simulator.shop import SLEEVE


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("machine") / "good.jsonl"
    good(path)
    return path


def test_a_recording_is_learnt_from_and_the_next_job_begins_with_it(recording: Path, tmp_path: Path):
    """The simulated sleeve is ground with a share of 0.5."""
    memory = tmp_path / "machines.toml"
    answer = CliRunner().invoke(tenths, ["machine", str(memory), "--learn", str(recording), "--json"])
    assert answer.exit_code == 0, answer.output
    known = json.loads(answer.output)["machines"]["grinder"]
    assert known["share"] == pytest.approx(0.5, abs=3.0 * known["u_share"])

    sheet = tmp_path / "sleeve.toml"
    sheet.write_text(SLEEVE.format(mike="/dev/ttyUSB0", probe="/dev/ttyUSB1"), "utf-8")
    job, plain = sheet_of(sheet, ())

    assert job.grinder is not None
    assert job.grinder.known is not None
    assert job.grinder.known.share == pytest.approx(known["share"], rel=1e-5)
    assert plain["grinder"]["known"]["jobs"] == 1


def test_a_second_job_says_how_far_it_agrees(recording: Path, tmp_path: Path):
    memory = tmp_path / "machines.toml"
    answer = CliRunner().invoke(
        tenths, ["machine", str(memory), "--learn", str(recording), "--learn", str(recording)]
    )

    assert answer.exit_code == 0
    assert "the first job of it" in answer.output
    assert "of what is to come (earlier jobs" in answer.output
    assert ": agrees)" in answer.output
    assert "jobs = 2" in memory.read_text("utf-8")


def test_without_a_file_there_is_nothing_to_show(tmp_path: Path):
    answer = CliRunner().invoke(tenths, ["machine", str(tmp_path / "none.toml")])

    assert answer.exit_code == 0
    assert "[" not in answer.output


def test_a_spoilt_memory_stops_nothing_silently(tmp_path: Path):
    (tmp_path / "machines.toml").write_text("[grinder]\nshare = 'much'\n", "utf-8")
    sheet = tmp_path / "sleeve.toml"
    sheet.write_text(SLEEVE.format(mike="/dev/ttyUSB0", probe="/dev/ttyUSB1"), "utf-8")

    with pytest.raises(click.UsageError, match=r"machines\.toml: grinder\.share"):
        sheet_of(sheet, ())
    answer = CliRunner().invoke(tenths, ["machine", str(tmp_path / "machines.toml")])
    assert answer.exit_code == 2
    assert "due a number" in answer.output
