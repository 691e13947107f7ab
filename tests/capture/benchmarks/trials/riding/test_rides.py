"""Grinds seen by a riding gauge: the trial counts what it should."""

from __future__ import annotations

from msgspec.structs import replace

from capture.benchmarks.rides import rows_of
from capture.benchmarks.trials.riding import rides_stiff
from capture.benchmarks.trials.riding.rides import Ridden, ridden
from capture.benchmarks.trials.riding.rides_apart import any_apart, grind_of
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


def test_by_physics_apart_all_that_was_fed_is_off_or_to_come():
    """Conservation: the wheel takes what it is fed, whatever heat and the finger show."""
    truth, _ = grind_of(any_apart(4, 10.0), 4)

    fed = sum(one.infeed for one in truth.passes)
    assert abs(truth.size - truth.passes[-1].size + truth.passes[-1].to_come - fed) < 1e-9


def test_on_a_machine_that_rubs_all_that_was_fed_is_off_worn_away_or_held_by_the_spring():
    """Conservation: part, wheel and spring share what was fed, and a wheel that only rubs takes nothing."""
    one, gauge = rides_stiff.any_stiff(4, 10.0)
    one = replace(one, wears=0.05, rubs=0.002)
    truth, _ = rides_stiff.grind_of(one, gauge, 4)

    fed, off = sum(one.infeeds), truth.size - truth.passes[-1].size
    held = fed - 1.05 * off
    assert held > one.rubs - 1e-9
    assert abs(held - one.rubs - 1.05 * truth.passes[-1].to_come) < 0.0002


def test_the_rows_name_what_was_measured_and_a_call_too_early_fails_its_goal():
    one = Ridden(9, 9, 0, 8, 8, 8, delay=0, missed=False, come=0.0012, error=0.0004, u=0.0005)

    rows = {row.what: row for row in rows_of("riding, 10 Hz", [one])}

    assert rows["riding, 10 Hz: passes found"].ours == 100.0
    assert rows["riding, 10 Hz: called early"].good is False
    assert rows["riding, 10 Hz: called at twice the limit"].good is False
