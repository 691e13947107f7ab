"""Tables of text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Columns as wide as their widest cell, set to the right."""
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    lines = [
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in [head, *rows]
    ]
    return "\n".join(line.rstrip() for line in lines)
