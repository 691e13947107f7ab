"""The tightest place: law and simulation against each other and order statistics."""

from __future__ import annotations

import pytest

from capture.metrology.fit.clearance import Shared, StationSize, TravelEngagement
from capture.metrology.fit.tightest import simulate_smallest


def sizes(z, values, u=0.0):
    return [StationSize(each, value, u) for each, value in zip(z, values, strict=True)]


def test_the_law_and_the_simulation_agree_where_one_place_is_tightest():
    bore = sizes([0, 40, 80], [50.012, 50.005, 50.012], 0.0005)
    shaft = sizes([0, 200], [50.0, 50.0], 0.0005)

    # Offset 0 and one position: the middle of the bore is the tightest by far.
    found = simulate_smallest(
        bore,
        shaft,
        TravelEngagement(80, 0, 0),
        trials=200_000,
        seed=1,
        shared=[Shared("master", 0.0004, 1, 0), Shared("thermometer", 0.5, 50e-6, 50e-6, "rectangular")],
    )

    assert found.simulated.u == pytest.approx(found.stated.u, rel=0.01)
    assert found.simulated.value == pytest.approx(found.stated.value, abs=1e-5)
    assert found.comparison.agree


def test_the_simulation_shows_what_many_equal_places_cost():
    """The smallest of several equal clearances is smaller than any of them: the law does not see it."""
    bore, shaft = sizes(range(0, 81, 20), [50.005] * 5, 0.0005), sizes([0, 200], [50.0] * 2, 0.0)

    found = simulate_smallest(bore, shaft, TravelEngagement(80, 0, 120), trials=100_000, seed=2)

    # Mean of the smallest of five normals: -1.16296 standard deviations (order statistics, Tippett 1925).
    assert found.simulated.value == pytest.approx(0.005 - 1.16296 * 0.0005, abs=1e-5)
    assert not found.comparison.agree
    assert "differ" in found.comparison.said


def test_the_same_seed_gives_the_same_simulation_and_another_another():
    bore, shaft = sizes([0, 80], [50.005, 50.006], 0.001), sizes([0, 200], [50.0] * 2)

    first, again, other = (
        simulate_smallest(bore, shaft, TravelEngagement(80, 0, 120), trials=2000, seed=seed)
        for seed in (3, 3, 4)
    )

    assert first == again
    assert first.simulated != other.simulated
