"""Readings of the surface apart from those in keyways, however many of them there are."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.metrology.form.surface import on_surface


@pytest.mark.parametrize("share", [0.05, 0.2, 0.35, 0.44])
def test_keyways_do_not_set_the_scale_though_they_hold_many_readings(share: float):
    """Six times a keyway comes by under a V with two of them; depths as of drawn parts."""
    random = np.random.default_rng(4)
    values = random.normal(0.0, 0.001, 1000)
    floor = np.arange(1000) % 100 < 100 * share
    values[floor] -= random.choice([0.139, 0.232], int(floor.sum()))

    on = on_surface(values, 0.001)

    assert not on[floor].any()
    assert on[~floor].mean() > 0.9


@given(eccentric=st.floats(0.0, 0.04), lobe=st.floats(0.0, 0.01), noise=st.floats(0.0001, 0.001))
def test_no_eccentricity_and_no_lobe_is_taken_for_a_keyway(eccentric: float, lobe: float, noise: float):
    angle = np.linspace(0.0, 20.0 * np.pi, 800)
    values = eccentric * np.cos(angle) + lobe * np.cos(5.0 * angle)
    values = values + np.random.default_rng(1).normal(0.0, noise, 800)

    assert on_surface(values, 0.001).mean() > 0.99
