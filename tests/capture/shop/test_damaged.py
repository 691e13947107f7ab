"""A folder with damaged recordings: what can be published is, and no success is claimed for the rest."""

from __future__ import annotations

from pathlib import Path

RECORDINGS = Path(__file__).parents[3] / "recordings"


def test_a_damaged_recording_is_no_success_and_the_others_are_published(shop, tmp_path):
    good = (RECORDINGS / "good.jsonl").read_bytes()
    lines = good.split(b"\n")
    lines[600] = lines[600].replace(b'"seq":', b'"seq" :', 1)
    folder = tmp_path / "damaged"
    folder.mkdir()
    (folder / "good.jsonl").write_bytes(good)
    (folder / "changed.jsonl").write_bytes(b"\n".join(lines))
    (folder / "rubbish.jsonl").write_text("rubbish\n", "utf-8")
    archive = shop.archive()

    publisher = shop.publish("damaged", "--once", "--stored")

    assert publisher.wait(40) == 1
    said = shop.said(publisher)
    assert "changed.jsonl:601" in said
    assert "not a recording" in said
    assert shop.take_out("good") == good
    assert shop.take_out("changed") == b"".join(line + b"\n" for line in lines[:600])
    shop.stop(archive)
