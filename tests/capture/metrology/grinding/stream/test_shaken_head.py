"""Positions that last are told from a display that shakes; the displays are made up, from a seed."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.grinding.stream.shaken_head import Second, noted, positions, scatter


def _trace(stays: list[tuple[float, int]], *, shake: float, rate: int, seed: int) -> tuple[Second, ...]:
    rng = np.random.default_rng(seed)
    trace: tuple[Second, ...] = ()
    at = 0.0
    for level, seconds in stays:
        for _ in range(seconds * rate):
            value = round((level + shake * rng.standard_normal()) / 0.001) * 0.001
            trace = noted(trace, at, float(value), at)
            at += 1.0 / rate
    return trace


@pytest.mark.parametrize("seed", range(6))
def test_feeds_are_seen_that_are_smaller_than_the_shake(seed: int):
    trace = _trace([(0.0, 20), (0.002, 18), (0.006, 40)], shake=0.0015, rate=4, seed=seed)

    found = positions(trace, 0.0015)

    assert [one.level for one in found] == pytest.approx([0.0, 0.002, 0.006], abs=0.0006)
    assert [one.ended for one in found] == pytest.approx([20.0, 38.0, 78.0], abs=3.0)


def test_the_scatter_of_a_display_is_known_though_the_head_was_fed_meanwhile():
    rng = np.random.default_rng(1)
    shown = [
        round((0.0015 * x + (0.005 if n > 12 else 0.0)) / 0.001) * 0.001
        for n, x in enumerate(rng.standard_normal(25))
    ]

    assert scatter(shown, 0.001) == pytest.approx(0.0015, rel=0.5)


def test_a_display_that_stands_does_not_shake_and_neither_does_one_that_was_moved_far():
    rng = np.random.default_rng(2)
    still = [round(0.3 * float(x)) * 0.001 for x in rng.standard_normal(25)]

    assert scatter(still, 0.001) == 0.0
    assert scatter([0.1 * n for n in range(25)], 0.001) == 0.0
    assert scatter([0.0, 0.002], 0.001) == 0.0


@given(
    st.lists(st.tuples(st.floats(-0.01, 0.01), st.integers(1, 30)), min_size=1, max_size=5),
    st.integers(0, 1000),
)
def test_positions_follow_one_another_and_hold_every_reading(stays: list[tuple[float, int]], seed: int):
    trace = _trace(stays, shake=0.001, rate=2, seed=seed)

    found = positions(trace, 0.001)

    assert sum(one.number for one in found) == sum(one.number for one in trace)
    assert all(before.ended == after.begun for before, after in pairwise(found))
    assert found[-1].ended == trace[-1].until
