"""`teach`: from files, and at a gauge on a real port."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from typing import Any

import pytest

SHOWN = ["123.456", "-98.765", "0.004", "45.210"]


@pytest.fixture
def files(tmp_path):
    """Four readings of a gauge of our own invention that sends text with a channel and a checksum."""
    dump, shown = tmp_path / "came.jsonl", tmp_path / "shown.jsonl"
    with dump.open("w") as came, shown.open("w") as told:
        for number, text in enumerate(SHOWN):
            sign = "-" if text.startswith("-") else "+"
            frame = f"#7:{sign}{float(text.lstrip('-')):08.3f};mm\r\n".encode()
            for part, at in ((frame[:5], 0.0), (frame[5:], 0.004)):
                came.write(json.dumps({"example": number, "t": at, "hex": part.hex()}) + "\n")
            told.write(json.dumps({"example": number, "shown": text, "unit": "mm"}) + "\n")
    return dump, shown


def test_what_was_taught_reads_back(tenths, files, tmp_path):
    dump, shown = files
    out = tmp_path / "gauge.toml"

    found = tenths.json("teach", "--dump", str(dump), "--shown", str(shown), "-o", str(out))
    rows = tenths.json("teach", "--try", str(out), "--dump", str(dump))

    assert found["written"] == str(out)
    assert found["mistyped"] is None
    assert [(row["shown"], row["unit"]) for row in rows] == [(text, "mm") for text in SHOWN]


def test_a_taught_file_is_a_dialect_of_a_sheet(tenths, files, job, port, tmp_path):
    dump, shown = files
    tenths("teach", "--dump", str(dump), "--shown", str(shown), "-o", str(tmp_path / "gauge.toml"))
    job.write_text(
        job.read_text("utf-8").replace("resolution = 0.001", 'dialect = "gauge.toml"\nresolution = 0.001'),
        "utf-8",
    )

    capture = tenths.capture(str(job))
    capture.until("up", 1)
    port.send(b"#7:+0055.012;mm\r\n")
    (reading,) = capture.until("reading", 1)

    assert reading["value"] == 55.012


def test_a_mistyped_reading_is_named(tenths, files, tmp_path):
    dump, shown = files
    lines = shown.read_text("utf-8").splitlines()
    lines[2] = lines[2].replace("0.004", "0.040")
    shown.write_text("\n".join(lines) + "\n", "utf-8")

    found = json.loads(tenths("teach", "--dump", str(dump), "--shown", str(shown), "--json"))

    assert found["mistyped"] == 2


def test_a_wrong_dump_is_refused_with_its_line(tenths, files, tmp_path):
    dump, shown = files
    dump.write_text('{"example":0,"t":0.0,"hex":"zz"}\n', "utf-8")

    said = tenths("teach", "--dump", str(dump), "--shown", str(shown), status=2)

    assert f"{dump}, line 1: hex is 'zz'" in said


def test_a_request_for_nothing_says_what_is_due(tenths):
    assert "due: --serial PORT" in tenths("teach", status=2)


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_a_gauge_is_taught_in_a_conversation(tenths, port, tmp_path):
    out = tmp_path / "gauge.toml"
    process = subprocess.Popen(
        [sys.executable, "-m", "capture.cli", "teach", "--serial", str(port.path), "-o", str(out)],
        env=tenths.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    said = ""

    def until(asked: str) -> None:
        nonlocal said
        seen = len(said)
        while asked not in said[seen:]:
            some = os.read(process.stdout.fileno(), 4096).decode()
            assert some, said
            said += some

    until("listening")
    for text in ("123.456 mm", "-98.765 mm", "0.004 mm", "no", "no"):
        if text != "no":
            port.send(f"V{float(text.split()[0]):+09.3f}\r\n".encode())
        if "Now " not in said:
            until("Now ")
        elif text != "no":
            time.sleep(0.5)  # nothing says that a press has come
        process.stdin.write(text + "\n")
        process.stdin.flush()
        if text != "no":
            until("Now ")
    rest, trouble = process.communicate(timeout=60)
    said += rest

    assert process.returncode == 0, (said, trouble)
    assert "it reads as text at 9600 8N1" in said
    assert "show a negative reading" in said
    assert f"written to {out}" in said
    assert "V" in out.read_text("utf-8")


class Taught:
    """A lesson of another program: it writes wishes and waits for pictures."""

    def __init__(self, tenths: Any, *words: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "capture.cli", "teach", *words, "--json"],
            env=tenths.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def wish(self, do, **more):
        self.process.stdin.write(json.dumps({"do": do, **more}) + "\n")
        self.process.stdin.flush()

    def until(self, kind, **wanted):
        for line in self.process.stdout:
            said = json.loads(line)
            if said["kind"] == kind and wanted.items() <= said.items():
                return said
        raise AssertionError(f"no {kind} with {wanted}, and it ended")

    def end(self):
        self.process.stdin.close()
        said = self.until("ended")
        self.process.stdout.close()
        return said["why"], self.process.wait(20)


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_another_program_teaches_by_lines_of_json(tenths, port):
    lesson = Taught(tenths, "--serial", str(port.path))
    lesson.until("trouble", why="")
    for number, text in enumerate(("123.456", "-98.765", "0.004")):
        port.send(f"V{float(text):+09.3f}\r\n".encode())
        if number == 0:
            assert lesson.until("line", found=True)["words"] == "9600 8N1"
        lesson.until("came", since=12)
        lesson.wish("take", shown=text, unit="mm")
        step = lesson.until("step")
        assert lesson.until("answered")["why"] == ""
    lesson.wish("nonsense")
    refused = lesson.until("answered")["why"]
    lesson.wish("send", text="?\\r")
    asked = os.read(port._master, 2)
    port.send(b"V+0055.120\r\n")
    reads = lesson.until("reads", shown="55.120")

    assert step["sure"] == "reads"
    assert refused.startswith("not understood: ")
    assert reads["unit"] == "mm"
    assert lesson.end() == ("who taught has gone", 0)
    assert asked == b"?\r"


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_a_gauge_unplugged_in_the_lesson_is_waited_for(tenths, port):
    lesson = Taught(tenths, "--serial", str(port.path), "--baud", "4800")
    lesson.until("trouble", why="")
    port.unplug()
    lost = lesson.until("trouble")["why"]
    port.plug()
    lesson.until("trouble", why="")

    assert str(port.path) in lost
    assert lesson.end()[1] == 0


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_a_person_stops_a_conversation_or_names_the_setting_of_the_line(tenths, port, tmp_path):
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "capture.cli",
            "teach",
            "--serial",
            str(port.path),
            "-o",
            str(tmp_path / "g.toml"),
        ],
        env=tenths.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    said, trouble = process.communicate("twelve\n4800 7E1\nend\n", timeout=60)

    assert "'twelve' is no setting" in said
    assert said.count("Now ") == 1
    assert trouble == "stopped: nothing is certain yet, so nothing is written\n"
    assert process.returncode == 1
