"""Strips: what is drawn of a long recording has every extreme that a column could show."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from capture.events import Event, Instant, Pass, Reading
from dashboard.sources.raw_traces import COLUMNS, POINTS, RawTraces, thinned


def event(seq, t, fact, source="mike"):
    return Event(seq, Instant(int(t * 1e9), int(t * 1e9)), source, fact)


@settings(deadline=None, max_examples=30)
@given(arrays(np.float64, st.integers(POINTS + 1, 20_000), elements=st.floats(-1e3, 1e3), fill=st.just(55.0)))
def test_each_columns_least_and_greatest_are_kept(values):
    """The columns are the sampler's own: as many equal bins between the first reading and the last."""
    chosen = thinned(values)

    assert len(chosen) <= POINTS
    assert values[chosen].max() == values.max()
    assert values[chosen].min() == values.min()
    for column in np.array_split(np.arange(len(values)), COLUMNS // 4):
        near = chosen[
            (chosen >= column[0] - len(values) // COLUMNS - 1)
            & (chosen <= column[-1] + len(values) // COLUMNS + 1)
        ]
        assert values[near].max() >= values[column].max()
        assert values[near].min() <= values[column].min()


def test_a_single_spike_among_many_readings_is_drawn():
    values = np.full(1_000_000, 55.0)
    values[777_777] = 55.2

    assert values[thinned(values)].max() == 55.2


def test_few_readings_are_all_drawn_in_order():
    traces = RawTraces()
    traces.add(event(i, i, Reading(55.0 + i, "mm", 4, "x")) for i in range(5))
    traces.add([event(5, 5, Pass(0.004), "person"), event(6, 6, Reading(21.5, "degC", 1, "x"), "probe")])
    mike, probe = traces.window(0.0, 10.0)

    assert mike.values.tolist() == [55.0, 56.0, 57.0, 58.0, 59.0]
    assert (probe.gauge, probe.unit, probe.values.tolist()) == ("probe", "degC", [21.5])
    assert traces.end == 6.0


def test_a_window_holds_what_lies_in_it_and_one_to_either_side():
    traces = RawTraces()
    traces.add(event(i, i, Reading(float(i), "mm", 4, "x")) for i in range(100))
    (mike,) = traces.window(10.0, 20.0)

    assert mike.times.tolist() == [float(t) for t in range(9, 22)]


def test_another_recording_begins_with_empty_strips():
    traces = RawTraces()
    traces.add([event(0, 1, Reading(55.0, "mm", 4, "x"))])
    traces.clear()

    assert traces.window(0.0, 10.0) == []
