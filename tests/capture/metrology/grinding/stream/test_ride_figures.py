"""What the steps of a riding gauge say of the next pass."""

from __future__ import annotations

import pytest

from capture.metrology.grinding.outlook import GrindLimits, Outlook
from capture.metrology.grinding.stream.ride_figures import (
    ColdReading,
    PassRemoval,
    as_stored,
    by_ride,
    ride_figures,
    stored,
)

LIMITS = GrindLimits(removal=0.0005, confidence=0.95, warm=0.0005, band=(54.997, 54.9985))


def decaying(first: float, left: float, rests: int, u: float = 0.00005) -> list[PassRemoval]:
    return [
        PassRemoval(first, u, False),
        *(PassRemoval(first * left**n, u, True) for n in range(1, rests + 1)),
    ]


@pytest.mark.parametrize("left", [0.3, 0.5, 0.7])
def test_the_share_that_is_left_is_learnt_from_the_rests(left):
    """Geometric decay (1 - K)^N (King and Hahn): what is to come is r q / (1 - q), its series."""
    found = ride_figures(decaying(0.006, left, 4))

    assert found.left == pytest.approx(left, abs=0.03)
    newest = 0.006 * left**4
    assert found.to_come[0] == pytest.approx(sum(newest * left**n for n in range(1, 60)), rel=0.4)


def test_figures_are_kept_by_a_taken_reading():
    found = ride_figures(decaying(0.004, 0.5, 2))

    back = stored(as_stored(found))

    assert back is not None
    assert back.removed == pytest.approx(found.removed, abs=1e-7)
    assert (back.rest, back.seen) == (True, True)
    assert stored({"rides.scatter": 0.0001}) is None


@pytest.mark.parametrize(
    ("rests", "growth", "verdict"),
    [(0, 0.0, "cutting"), (1, 0.0, "sparking-out"), (5, 0.0, "at-size"), (5, 0.002, "warm")],
)
def test_the_verdict_follows_the_next_pass_and_a_warm_part_is_never_done(rests, growth, verdict):
    ride = ride_figures(decaying(0.006, 0.5, rests))
    size = ColdReading(54.998, 0.0003, growth, known=True)

    found = by_ride(Outlook(number=7, verdict="cutting", why=""), ride, size, LIMITS)

    assert found.verdict == verdict


def test_a_size_is_on_size_when_it_is_surely_inside_the_band():
    """0.75 mm/1000 from the nearer limit, u 0.3 µm: 2.5 standard uncertainties, 99.4 % inside."""
    ride = ride_figures(decaying(0.006, 0.5, 9))
    verdicts = {}
    for value in (54.9977, 54.9984):
        size = ColdReading(value, 0.0003, 0.0, known=True)
        verdicts[value] = by_ride(Outlook(number=7, verdict="cutting", why=""), ride, size, LIMITS).verdict

    assert verdicts == {54.9977: "at-size", 54.9984: "sparked-out"}


def test_a_pass_that_only_the_rhythm_told_calls_no_spark_out():
    passes = decaying(0.006, 0.5, 5)
    ride = ride_figures([*passes[:-1], passes[-1]._replace(seen=False)])

    found = by_ride(
        Outlook(number=7, verdict="cutting", why=""),
        ride,
        ColdReading(54.998, 0.0003, 0.0, known=False),
        LIMITS,
    )

    assert found.verdict == "sparking-out"
