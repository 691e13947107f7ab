"""Waves in a gauge's stream: its rate, and the frequencies that it shows as others."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.grinding.wheel.stream_waves import aliases_of, rate_of, shown_at


@given(st.floats(0.1, 4.9), st.floats(10.0, 60.0))
def test_every_alias_is_shown_where_the_tone_is(frequency, rate):
    """The sampling theorem: frequencies k R ± f give the same readings as f."""
    for one in aliases_of(frequency, rate):
        assert shown_at(one, rate) == pytest.approx(shown_at(frequency, rate), abs=1e-6)


@given(
    st.floats(5, 60),
    st.floats(0.0, 0.2),
    st.floats(0.0, 0.03),
    st.integers(300, 2000),
    st.integers(0, 2**32 - 1),
)
def test_the_rate_is_that_of_the_gauge_though_readings_come_late_or_are_lost(rate, late, lost, n, seed):
    """Readings k / R, each late by a share of 1 / R: a line's slope is off by ``late / R sqrt(12 / n^3)``."""
    draw = np.random.default_rng(seed)
    times = np.arange(n) / rate + draw.uniform(0, late / rate, n)
    times = times[draw.uniform(size=n) >= lost]

    assert rate_of(times) == pytest.approx(rate, rel=2e-4 + 20 * late / len(times) ** 1.5)
