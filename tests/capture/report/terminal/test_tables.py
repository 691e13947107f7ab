"""Tables of text."""

from __future__ import annotations

from capture.report.terminal.tables import table


def test_columns_are_as_wide_as_their_widest_cell():
    assert table(("a", "long head"), [("wide cell", "1"), ("2", "3")]) == (
        "        a  long head\nwide cell          1\n        2          3"
    )
