"""Lobes of a part that turns, against a simulated truth: none is held to the size of the others."""

from __future__ import annotations

import numpy as np
import pytest

from capture.metrology.form.contacts import RoundnessSetup
from capture.metrology.form.turn_columns import TurnReadings
from capture.metrology.form.turn_search import FoundTurn, NoTurn, find_turn
from capture.simulator.turned_part import Spinning, turned

LARGE, SMALL = {2: 0.0020, 5: 0.0010}, {3: 0.00025, 8: 0.0003, 12: 0.0002}
"""mm."""


def shown(seed: int, how: Spinning) -> TurnReadings:
    random = np.random.default_rng(seed)
    part = np.zeros(16, complex)
    for n, size in {**LARGE, **SMALL}.items():
        part[n] = size * np.exp(1j * random.uniform(0.0, 2.0 * np.pi))
    (one,) = turned(random, part, how, [RoundnessSetup("centres")])
    return TurnReadings(one.times, one.values, one.marks, how.u_mark or 0.05)


def lobe(found: FoundTurn, n: int) -> tuple[float, float]:
    """Amplitude and standard uncertainty of one coefficient."""
    a, b = found.fit.coefficients[2 * n - 2 : 2 * n]
    spread = np.diag(found.fit.covariance)[2 * n - 2 : 2 * n]
    return float(np.hypot(a, b)), float(np.sqrt(spread.mean()))


@pytest.mark.parametrize("keyways", [(), ((1.0, 0.2, 0.5),)], ids=["whole", "a keyway"])
def test_a_small_lobe_is_found_beside_large_ones_within_its_uncertainty(keyways):
    how = Spinning(rpm=30.0, turns=14.0, rate=20.0, noise=0.0003, u_mark=0.02, keyways=keyways)

    found = find_turn(shown(5, how), resolution=how.resolution)

    for n, size in {**LARGE, **SMALL}.items():
        amplitude, u = lobe(found, n)
        assert abs(amplitude - size) < 3.0 * u, n
        assert u < 0.00025, n


def test_what_no_turn_repeats_is_refused():
    random = np.random.default_rng(2)
    times = np.arange(600) / 20.0
    wandering = np.cumsum(random.normal(0.0, 0.002, 600))

    with pytest.raises(NoTurn):
        find_turn(TurnReadings(times, wandering, np.arange(0.0, 30.0, 2.0)), resolution=0.001)
