"""The list that only grows: states that share it stay independent."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.state.append_log import Log


@given(st.lists(st.tuples(st.integers(0, 5), st.integers())))
def test_every_view_keeps_its_own_entries_whatever_is_added_to_others(steps: list[tuple[int, int]]):
    """Law: a state that was kept is never changed by going on from it or from another."""
    views: list[tuple[Log[int], list[int]]] = [(Log(), [])]
    for which, entry in steps:
        log, expected = views[which % len(views)]
        views.append((log.added(entry), [*expected, entry]))

    for log, expected in views:
        assert list(log) == expected
        assert len(log) == len(expected)
        assert log == Log(expected)


def test_indexing_is_a_lists():
    log = Log([1, 2]).added(3)

    assert (log[0], log[-1], log[1:]) == (1, 3, [2, 3])
    assert log.last == 3
    assert Log().last is None
    with pytest.raises(IndexError, match="entry 3 of a log of 3"):
        log[3]


def test_an_older_view_does_not_see_what_came_later():
    one = Log([1])
    one.added(2)

    with pytest.raises(IndexError):
        one[1]
    assert list(reversed(one)) == [1]
