"""The terminal: what others wrote is shown there, and never obeyed."""

from __future__ import annotations

import click


def plain(text: str) -> str:
    r"""*text* with every control character spelt out, so that it cannot move, colour or turn anything.

    >>> plain("wet\x1b[2J hands\n")
    'wet\\x1b[2J hands\n'
    """
    return "".join(
        each if each.isprintable() or each in "\n\t" else each.encode("unicode_escape").decode()
        for each in text
    )


def echo(text: str, *, err: bool = False) -> None:
    """Says a line that may hold what a recording, a gauge or a sheet says."""
    click.echo(plain(text), err=err)
