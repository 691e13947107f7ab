"""A recording whose numbers are finite and too large to square."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from capture.recording.reader import BadRecording
from capture.sessions import opened

GOOD = Path(__file__).parents[2] / "recordings" / "good.jsonl"


@pytest.fixture(params=["1e308", "-1e308"])
def enormous(request, tmp_path):
    """The good session with each length of it made enormous."""
    header, *lines = GOOD.read_text("utf-8").splitlines()
    events = [json.loads(re.sub(r',"chain":"[0-9a-f]{12}"\}$', "}", line)) for line in lines]
    for event in events:
        for key in ("value", "infeed", "size", "u"):
            if event["fact"].get(key) is not None:
                event["fact"][key] = float(request.param)
    path = tmp_path / "enormous.jsonl"
    path.write_text("\n".join([header, *map(json.dumps, events)]) + "\n", "utf-8")
    return path


def test_it_is_refused_in_a_sentence(enormous):
    with pytest.raises(BadRecording, match="too large to work with"):
        opened(enormous)


@pytest.mark.parametrize("more", [[], ["--afresh"]])
def test_a_summary_of_it_ends_in_a_sentence_without_a_traceback(enormous, more):
    command = [sys.executable, "-m", "capture.cli", "summary", str(enormous), *more]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)

    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "too large to work with" in done.stderr.splitlines()[-1]  # numpy may have warned before
