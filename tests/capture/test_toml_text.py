"""TOML of strangers (TOML 1.0.0): what is good is read, what would take the machine is refused at once."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.toml_text import LONGEST, MOST_PARTS, BadToml, parse_toml


@given(st.lists(st.sampled_from(["a", "b-c", '"d.e = f"', "'g'", ".", " . ", "=", "1", "\n", "[", "]", "#"])))
def test_what_is_short_is_read_as_the_parser_itself_reads_it(pieces):
    """Law: the same tables, or no TOML for both (Python's tomllib, which follows TOML 1.0.0)."""
    text = "".join(pieces)
    try:
        due = tomllib.loads(text)
    except ValueError:
        with pytest.raises(BadToml):
            parse_toml(text)
    else:
        if text.count(".") < MOST_PARTS:
            assert parse_toml(text) == due


@pytest.mark.timeout(30)
@pytest.mark.parametrize(
    "text",
    [
        "a." * 100_000 + "a = 1",
        "[" + "a." * 100_000 + "a]",
        "x = { " + '"a" . ' * 60_000 + "'a' = 1 }",
        "[[" + " . ".join(["a"] * 100_000) + "]]",
    ],
)
def test_a_key_of_a_hundred_thousand_parts_is_refused_with_its_line(text):
    """The parser itself took 3.5 GiB and a minute for 30 000."""
    with pytest.raises(BadToml, match=f"a key of more than {MOST_PARTS} parts came .at line 2."):
        parse_toml("# a sheet\n" + text)


def test_dots_in_text_and_numbers_are_no_parts_of_a_key():
    text = 'note = "' + "... " * 200 + '"\nplaces = [' + "1.5, " * 500 + "]"

    assert parse_toml(text) == tomllib.loads(text)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("x = " + "[" * 5000 + "]" * 5000, "too deep"),
        ("x = " + "9" * 6000, "digits"),
        ("#" * (LONGEST + 1), f"at most {LONGEST}"),
        ("a = ", "Invalid value"),
    ],
)
def test_what_is_too_much_is_refused_and_why(text, why):
    with pytest.raises(BadToml, match=why):
        parse_toml(text)
