"""One reading of a gauge: what its scatter and its step make of it."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.gauges.single_reading import scatter_of, with_rounding


def test_rounding_alone_is_a_rectangle_of_one_step():
    """JCGM 100:2008, F.2.2.1: the standard uncertainty is 0.29 of the step."""
    assert with_rounding(0.0, 1.0) == pytest.approx(0.29, abs=0.002)


@given(st.floats(0, 1), st.floats(0, 1))
def test_variances_add(scatter, step):
    assert with_rounding(scatter, step) ** 2 == pytest.approx(scatter**2 + step**2 / 12)


def test_a_gauge_of_unknown_scatter_is_taken_to_scatter_half_a_step():
    """Common practice, no source: together u² = r²/12 + r²/4 = r²/3."""
    assert with_rounding(scatter_of(None, 0.001), 0.001) == pytest.approx(0.001 / sqrt(3))
    assert scatter_of(0.0, 0.001) == 0.0
