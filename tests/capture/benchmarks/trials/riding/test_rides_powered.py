"""The power of the drive beside a gauge on the part: not worse than either alone."""

from __future__ import annotations

import pytest

from capture.benchmarks.trials.riding.rides_powered import power_of, powered
from capture.simulator.rider import any_ride, passes_of


@pytest.mark.parametrize("seed", [83000, 83005])
def test_both_find_as_many_passes_as_the_better_one_and_no_more_that_are_none(seed):
    part, power, both = (powered(seed, seen) for seen in ("part", "power", "both"))

    assert both.right >= max(part.right, power.right)
    assert both.extra <= max(part.extra, power.extra)


def test_power_grows_with_what_a_stroke_takes_off():
    """Energy for a volume (Malkin and Guo, "Grinding Technology", from memory)."""
    ride = any_ride(83000, 10.0)
    made = passes_of(ride)
    shown = power_of(ride, 83000)
    levels = [sum(shown(one.at + 0.01 * n) for n in range(100)) / 100.0 for one in made]
    most = max(range(len(made)), key=lambda n: made[n].removed)
    least = min(range(len(made)), key=lambda n: made[n].removed)

    assert levels[most] > levels[least] > shown(0.0) - 30.0
