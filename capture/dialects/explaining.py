"""Explains a taught format in words: what was understood, and what is still open."""

from __future__ import annotations

from collections.abc import Iterator

from capture.dialects.formats import Format


def understood(format_: Format) -> Iterator[str]:
    """What *format_* says, a sentence at a time."""
    yield repr(format_.frame)


def questions(format_: Format) -> Iterator[str]:
    """What to show so that less is refused."""
    yield from ()


def unexplained(count: int, several: bool) -> Iterator[str]:
    """What to do when nothing explains the examples."""
    yield "show another reading"
