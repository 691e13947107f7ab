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


_KEPT = {0x09, 0x0A, 0x0D}
_CONTROLS = {*range(0x20), *range(0x7F, 0xA0)} - _KEPT
_MARKS = {0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)}
"""They turn the direction of writing (Unicode Bidirectional Algorithm, UAX #9, 2)."""
_UNSEEN = dict.fromkeys(_CONTROLS | _MARKS, 0xFFFD)


def undirected(text: str) -> str:
    r"""*text* for paper: U+FFFD in place of each control and of each mark that turns writing about.

    >>> undirected("\u202e2.5 mm\n")
    '\ufffd2.5 mm\n'
    """
    return text.translate(_UNSEEN)
