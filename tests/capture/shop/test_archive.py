"""Recordings published to a real broker and archived in a real database come out again byte for byte."""

from __future__ import annotations

import shutil
from pathlib import Path

RECORDINGS = Path(__file__).parents[3] / "recordings"


def whole_lines(path: Path) -> bytes:
    """What of a recording can be trusted: all but a tail that a power failure cut."""
    data = path.read_bytes()
    return data[: data.rfind(b"\n") + 1]


def test_every_golden_recording_comes_out_byte_for_byte(shop, tmp_path, wait_until):
    folder = tmp_path / "recordings"
    shutil.copytree(RECORDINGS, folder)
    archive = shop.archive()

    said = shop.run("publish", str(folder), "--broker", shop.broker, "--machine", "g1", "--once", "--stored")

    assert "published: " in said
    paths = sorted(folder.glob("*.jsonl"))
    assert len(shop.stored()) == len(paths)
    for path in paths:
        assert shop.take_out(path.stem) == whole_lines(path), path.name
    words = ("archive", "--database", shop.database, "--take-out", "good", "-o", "good.jsonl")
    assert shop.run(*words) == f"good.jsonl: {len(whole_lines(RECORDINGS / 'good.jsonl'))} bytes\n"
    assert (shop.folder / "good.jsonl").read_bytes() == whole_lines(RECORDINGS / "good.jsonl")
    shop.stop(archive)
