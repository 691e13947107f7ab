"""Planted mistakes: all can still be made, and a few that are drawn are caught; all of them by hand.

`TENTHS_MISTAKES` sets how many are drawn (3 unless told).
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("mistakes.py")
SOME = os.environ.get("TENTHS_MISTAKES", "3")


def mistakes(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, str(SCRIPT), *words], capture_output=True, text=True, check=False)


def test_every_mistake_can_still_be_made() -> None:
    done = mistakes("--look")

    assert (done.returncode, done.stdout) == (0, "")


@pytest.mark.timeout(600)
def test_mistakes_that_are_drawn_are_caught() -> None:
    done = mistakes("--some", SOME, "--seed", "2")

    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{SOME} of {SOME} caught" in done.stdout


def test_a_check_that_catches_nothing_is_named(tmp_path: Path) -> None:
    """The script itself: a mistake that harms nothing is not called caught."""
    text = SCRIPT.read_text("utf-8")
    harmless = text.replace("MM_PER_INCH = 25.04", "MM_PER_INCH = 25.40")
    assert harmless != text
    script = tmp_path / "tests" / "mistakes.py"
    script.parent.mkdir()
    for part in ("capture", "dashboard", "pyproject.toml"):
        (tmp_path / part).symlink_to(SCRIPT.parents[1] / part)
    for part in ("capture", "dashboard", "conftest.py"):
        (tmp_path / "tests" / part).symlink_to(SCRIPT.parent / part)
    script.write_text(harmless, "utf-8")

    done = subprocess.run(
        [sys.executable, str(script), "25.04 mm"], capture_output=True, text=True, check=False
    )

    assert done.returncode == 1
    assert "NOT CAUGHT  an inch has 25.04 mm" in done.stdout
