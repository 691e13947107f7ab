"""What the steps of a riding gauge say of the next pass."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from capture.metrology.grinding.outlook import GrindLimits, Outlook
from capture.metrology.grinding.stream.ride_figures import (
    ColdReading,
    RideFigures,
    as_stored,
    by_ride,
    stored,
)

LIMITS = GrindLimits(removal=0.0005, confidence=0.95, warm=0.0005, band=(54.997, 54.9985))


def decayed(first: float, left: float, rests: int) -> RideFigures:
    """A cold part of which every pass took *left* of what the one before it took."""
    removed = first * left**rests
    return RideFigures(
        removed,
        5e-5,
        left,
        0.03,
        rest=rests > 0,
        coming=(left * removed, 0.05 * removed + 2e-5),
        standing=(removed * left / (1.0 - left), 0.1 * removed + 3e-5),
        fall=(removed * left / (1.0 - left), 0.1 * removed + 3e-5),
    )


def test_figures_are_kept_by_a_taken_reading():
    found = decayed(0.004, 0.5, 2)

    back = stored(as_stored(found))

    assert back is not None
    assert back.removed == pytest.approx(found.removed, abs=1e-7)
    assert back.next_removal == pytest.approx(found.next_removal, abs=1e-7)
    assert back.fall == pytest.approx(found.fall, abs=1e-7)
    assert (back.rest, back.seen) == (True, True)
    assert stored({"rides.scatter": 0.0001}) is None


def test_what_an_older_recording_kept_gives_the_same_more_roughly():
    """Geometric decay (1 - K)^N (King and Hahn): what is to come is r q / (1 - q), its series."""
    kept = {"rides.removed": 0.001, "rides.u": 5e-5, "rides.left": 0.4, "rides.u_left": 0.05}

    found = stored({**kept, "rides.rest": 1.0, "rides.seen": 1.0})

    assert found is not None
    assert found.next_removal[0] == pytest.approx(0.0004)
    assert found.to_come[0] == pytest.approx(sum(0.001 * 0.4**n for n in range(1, 60)))


@pytest.mark.parametrize(
    ("rests", "growth", "verdict"),
    [(0, 0.0, "cutting"), (1, 0.0, "sparking-out"), (5, 0.0, "at-size"), (5, 0.002, "warm")],
)
def test_the_verdict_follows_the_next_pass_and_a_warm_part_is_never_done(rests, growth, verdict):
    ride = decayed(0.006, 0.5, rests)
    size = ColdReading(54.998, 0.0003, growth, known=True)

    found = by_ride(Outlook(number=7, verdict="cutting", why=""), ride, size, LIMITS)

    assert found.verdict == verdict


def test_a_size_is_on_size_when_it_is_surely_inside_the_band():
    """0.75 mm/1000 from the nearer limit, u 0.3 µm: 2.5 standard uncertainties, 99.4 % inside."""
    ride = decayed(0.006, 0.5, 9)
    verdicts = {}
    for value in (54.9977, 54.9984):
        size = ColdReading(value, 0.0003, 0.0, known=True)
        verdicts[value] = by_ride(Outlook(number=7, verdict="cutting", why=""), ride, size, LIMITS).verdict

    assert verdicts == {54.9977: "at-size", 54.9984: "sparked-out"}


def test_a_pass_that_only_the_rhythm_told_calls_no_spark_out():
    ride = replace(decayed(0.006, 0.5, 5), seen=False)

    found = by_ride(
        Outlook(number=7, verdict="cutting", why=""),
        ride,
        ColdReading(54.998, 0.0003, 0.0, known=False),
        LIMITS,
    )

    assert found.verdict == "sparking-out"
