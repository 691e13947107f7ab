from __future__ import annotations

import re
from pathlib import Path

import dashboard
from dashboard.text.screen import WORDS

CODE = "\n".join(path.read_text("utf-8") for path in Path(dashboard.__file__).parent.rglob("*.py"))
ASKED = re.compile(r'word\(\s*f?"([^"]+)"')


def asked() -> list[str]:
    """Keys asked for in the code, as patterns: a part put in at run time may be anything."""
    keys = [
        re.sub(r"\{[^}]*\}", ".+", re.escape(key).replace(r"\{", "{").replace(r"\}", "}"))
        for key in ASKED.findall(CODE)
    ]
    return [key.replace(r"\-", "-") for key in keys]


def test_every_word_asked_for_stands_in_the_table():
    missing = [key for key in asked() if not any(re.fullmatch(key, known) for known in WORDS)]

    assert asked()
    assert missing == []


def test_every_word_of_the_table_is_used_somewhere():
    """So that a translator translates nothing in vain."""
    patterns = asked()
    unused = [
        known
        for known in WORDS
        if f'"{known}"' not in CODE.replace(f'"{known}":', "")
        and not any(re.fullmatch(p, known) for p in patterns)
    ]

    assert [key for key in unused if not key.startswith("flag.")] == []


def test_no_word_speaks_markup():
    assert [key for key, text in WORDS.items() if "<" in text or "&" in text] == []
