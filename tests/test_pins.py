"""The pins: every package of one version, by the hash of its files, and from no named place."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

PINS = Path(__file__).parents[1] / "pins.txt"


def test_every_package_is_pinned_by_its_hashes():
    entries = re.sub(r"\\\n\s*", " ", PINS.read_text("utf-8"))
    lines = [line for line in entries.splitlines() if line and not line.lstrip().startswith("#")]

    assert len(lines) > 50
    for line in lines:
        assert re.match(r"[A-Za-z0-9._-]+(\[[a-z0-9,]+\])?==[^ ]+ ", line), line
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", line), line


def test_no_place_that_packages_come_from_is_named():
    assert "://" not in PINS.read_text("utf-8")
    assert "--index" not in PINS.read_text("utf-8")


def test_every_package_that_is_shipped_is_there_and_none_is_left_out():
    """All but the trials, which are not in the wheel."""
    root = PINS.parent
    named = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["packages"]
    there = {
        str(path.parent.relative_to(root)).replace("/", ".")
        for part in ("capture", "dashboard")
        for path in (root / part).rglob("__init__.py")
        if "trials" not in path.parts
    }

    assert set(named) - {"dashboard.assets", "dashboard.setup.examples"} == there - {
        "dashboard.assets",
        "dashboard.setup.examples",
    }
