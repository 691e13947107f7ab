"""Text of others made safe for a terminal or a log: every control is spelt out."""

from __future__ import annotations


def plain(text: str) -> str:
    r"""*text* with every control character spelt out, so that it cannot move, colour or turn anything.

    >>> plain("wet\x1b[2J hands\n")
    'wet\\x1b[2J hands\n'
    """
    return "".join(
        each if each.isprintable() or each in "\n\t" else each.encode("unicode_escape").decode()
        for each in text
    )
