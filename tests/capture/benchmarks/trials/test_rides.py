"""Grinds seen by a riding gauge: the trial counts what it should."""

from __future__ import annotations

from capture.benchmarks.rides import ride_rows
from capture.benchmarks.trials.rides import ridden
from capture.simulator.rider import Ride, passes_of


def test_a_plain_grind_is_followed_without_a_word():
    ride = Ride(resolution=0.0001, noise=0.0002)

    found = ridden(1, 10.0, ride)

    assert (found.passes, found.right, found.extra) == (11, 11, 0)
    assert found.delay in {0, 1}
    assert found.come < 0.0005


def test_what_is_removed_and_what_is_to_come_make_what_was_fed():
    """Conservation: all that was fed is off or still to come (a perfect spring, no wear)."""
    ride = Ride()
    passes = passes_of(ride)

    fed = sum(ride.infeeds)
    assert abs(sum(one.removed for one in passes) + passes[-1].to_come - fed) < 1e-12


def test_the_rows_name_what_was_measured():
    rows = [row.what for row in ride_rows(jobs=1, progress=lambda _: None)]

    assert "riding, 10 Hz: passes found" in rows
