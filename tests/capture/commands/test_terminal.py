"""A recording may hold anything; a terminal that shows it obeys nothing of it."""

from __future__ import annotations

import pytest

from capture.commands.terminal import plain

HOSTILE = "\x1b]0;title\x07\x1b[2Jcleared\u202ereversed\u009b31m\r"


def test_letters_of_every_script_pass_and_controls_are_spelt_out():
    assert plain("Ø 55.0021 mm ± 0.7 µm\tгильза 套筒\n") == "Ø 55.0021 mm ± 0.7 µm\tгильза 套筒\n"
    assert plain(HOSTILE).isprintable()
    assert "cleared" in plain(HOSTILE)


@pytest.mark.parametrize("words", [("summary",), ("check",)])
def test_a_hostile_recording_moves_nothing_on_the_screen(tenths, tmp_path, words):
    path = tmp_path / "hostile.jsonl"
    name = HOSTILE.encode("unicode_escape").decode().replace("\\x", "\\u00").replace("\\r", "\\u000d")
    flag = f'"fact":{{"kind":"flag","what":"{name}","pass":0,"of":[],"text":"{name}"}}'
    path.write_text(
        f'{{"format":1,"program":"x","began":"x","job":{{"job":{{"name":"{name}"}}}}}}\n'
        f'{{"seq":0,"at":[0,0],"source":"desk",{flag}}}\n{{"seq":7,"at":[0,0]\n',
        "utf-8",
    )

    said = tenths(*words, str(path), status=1 if words == ("check",) else 0)

    assert all(line.isprintable() for line in said.split("\n"))


def test_a_wrong_request_is_answered_as_plainly(tenths):
    said = tenths("summary", "\x1b[2Jnone", status=2)

    assert all(line.isprintable() for line in said.split("\n"))
