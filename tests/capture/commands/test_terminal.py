"""A recording may hold anything; a terminal that shows it obeys nothing of it."""

from __future__ import annotations

import ast
import json
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import capture.commands
from capture.commands.terminal import echo_json
from capture.text.printable import plain

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


@given(st.recursive(st.text(), lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)))
def test_json_moves_nothing_on_the_screen_and_stays_the_same_json(capsys_of, said):
    """Law: on a terminal it is printable; to a program it is what was meant (RFC 8259)."""
    shown = capsys_of(lambda: echo_json(json.dumps(said, ensure_ascii=False)))

    assert shown.removesuffix("\n").isprintable()
    assert json.loads(shown) == said


@pytest.fixture(scope="session")
def capsys_of():
    """What a function writes to standard output."""

    def shown(does):
        out = StringIO()
        with redirect_stdout(out):
            does()
        return out.getvalue()

    return shown


def test_files_of_hostile_names_beside_a_sheet_move_nothing_on_the_screen(tenths, job, tmp_path):
    (tmp_path / f"{HOSTILE.replace('/', '')}.jsonl").write_text("rubbish\n", "utf-8")

    process = tenths.start("fit", str(job))
    said = "".join(process.communicate(timeout=60))

    assert "passed over" in said
    assert all(line.isprintable() for line in said.split("\n"))


def test_no_command_speaks_to_a_terminal_by_another_way():
    """Names of files, machines and dialects came to it raw, where each module chose its own way to print."""
    for path in Path(capture.commands.__file__).parent.rglob("*.py"):
        called = {
            ast.unparse(node.func)
            for node in ast.walk(ast.parse(path.read_text("utf-8")))
            if isinstance(node, ast.Call)
        }
        assert path.name == "terminal.py" or not called & {"click.echo", "click.secho", "print"}, path
