"""`summary` and `check` on recordings that are whole, cut, edited, or not ours."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

GOOD = Path(__file__).parents[3] / "recordings" / "good.jsonl"


@pytest.fixture
def recording(tmp_path):
    path = tmp_path / "good.jsonl"
    shutil.copy(GOOD, path)
    return path


def test_a_summary_counts_what_is_in_the_recording(tenths, recording):
    found = tenths.json("summary", str(recording))["recording"]

    assert found["events"] == len(recording.read_text("utf-8").splitlines()) - 1
    assert found["whole"] is True
    assert found["garbled"] == 0


def test_a_summary_of_a_cut_recording_says_where_it_ends(tenths, recording):
    data = recording.read_bytes()
    recording.write_bytes(data[: len(data) // 2])

    found = tenths.json("summary", str(recording))["recording"]

    assert found["whole"] is False
    assert f"{recording}:" in found["damage"]


def test_a_summary_for_a_person_is_a_table(tenths, recording):
    text = tenths("summary", str(recording))

    assert "predicted" in text
    assert "sparked-out" in text
    assert "at-size" not in text  # the headline is not sure of it
    assert "54.997" in text


def test_other_limits_decide_again(tenths, recording):
    """A limit ten times as wide is met no later, and the recorded decisions are left as they were."""
    made = tenths.json("summary", str(recording))
    wider = tenths.json("summary", str(recording), "--set", "spark_out.limit=0.005")

    first = {row["what"]: row["pass"] for row in reversed(made["flags"])}
    again = {row["what"]: row["pass"] for row in reversed(wider["flags"])}
    assert again["sparked-out"] <= first["sparked-out"]
    assert tenths.json("summary", str(recording)) == made


def test_by_other_limits_the_advice_is_played_beside_what_was_done(tenths, recording):
    """Only when somebody asks what if: it takes as long as a job's advice does."""
    asked = tenths.json("summary", str(recording), "--set", "coach.finish=0.004")["beside"]
    game = asked["played"]

    assert "played" not in tenths.json("summary", str(recording))["beside"]
    assert game["saved"] == asked["passes"] - game["passes"]
    assert game["inside"] is True
    assert game["size"] == pytest.approx(54.997, abs=0.0015)
    assert max(game["infeeds"]) <= 0.010
    assert "Had the advice been followed" in tenths("summary", str(recording), "--afresh")


@pytest.mark.parametrize(
    ("setting", "due"),
    [("spark_out.limt=1", "did you mean spark_out.limit"), ("spark_out.limit", "due key=value")],
)
def test_a_wrong_setting_is_refused_in_one_line(tenths, recording, setting, due):
    said = tenths("summary", str(recording), "--set", setting, status=2)

    assert due in said
    assert len(said.splitlines()) == 1


def test_a_whole_recording_checks_whole(tenths, recording):
    assert tenths("check", str(recording)).endswith("whole\n")


def test_a_cut_tail_is_found_then_mended_to_a_side_file(tenths, recording):
    data = recording.read_bytes()
    cut = data[: data.rindex(b"\n", 0, -1) + 20]
    recording.write_bytes(cut)

    assert "the last line has no end" in tenths("check", str(recording), status=1)
    said = tenths("check", str(recording), "--mend")

    assert "20 bytes" in said or "19 bytes" in said
    assert tenths("check", str(recording)).endswith("whole\n")
    side = [path for path in recording.parent.iterdir() if path.name.startswith("good.jsonl.")]
    assert recording.read_bytes() + side[0].read_bytes() == cut


def test_an_edited_line_is_named(tenths, recording):
    """Each line's chain hashes what stands before it, so an edit shows at its line."""
    lines = recording.read_bytes().splitlines(keepends=True)
    place = next(n for n, line in enumerate(lines) if b'"kind":"taken"' in line)
    lines[place] = lines[place].replace(b'"value":55', b'"value":56')
    recording.write_bytes(b"".join(lines))

    said = tenths("check", str(recording), status=1)

    assert f"{recording}:{place + 1}:" in said


@pytest.mark.parametrize(
    "content", [b"", b"hello\n", b"\x00" * 100, b'{"format":99,"program":"x","began":"x","job":{}}\n']
)
def test_what_is_not_our_recording_is_refused_in_one_line(tenths, tmp_path, content):
    path = tmp_path / "other.jsonl"
    path.write_bytes(content)

    for command in ("summary", "check"):
        said = tenths(command, str(path), status=2)
        assert str(path) in said
        assert len(said.splitlines()) == 1


def test_a_recording_that_is_not_there_is_refused_in_one_line(tenths):
    assert "nothing.jsonl" in tenths("summary", "nothing.jsonl", status=2)


def test_help_names_every_command(tenths):
    text = tenths("--help")

    for command in ("demo", "run", "capture", "say", "replay", "summary", "check", "fit", "plan", "report"):
        assert f"  {command} " in text
