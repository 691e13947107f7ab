"""The terminal: what others wrote is shown there, and never obeyed."""

from __future__ import annotations

import json

import click

from capture.text.printable import plain


def echo(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Says a line that may hold what a recording, a gauge, a file's name or a sheet says."""
    click.echo(plain(text), err=err, nl=nl)


def echo_json(text: str) -> None:
    r"""Says JSON for a program; what a terminal would obey is spelt as JSON spells it: still the same JSON.

    JSON itself spells no control above U+001F (RFC 8259, 7), and a terminal obeys U+009B as it does ESC [.
    """
    click.echo("".join(each if each.isprintable() or each == "\n" else _escaped(each) for each in text))


def _escaped(character: str) -> str:
    return json.dumps(character)[1:-1]
