"""What the clock promises whatever people do to the wall clock."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from capture.events import Instant
from capture.host.clock import Clock, iso

HOUR = 3600 * 10**9


def test_a_recording_begins_at_zero(hands: Any) -> None:
    clock = hands.clock()

    assert clock.now() == Instant(0, hands.wall)


def test_an_hour_put_on_or_off_the_wall_clock_leaves_intervals_unharmed(hands: Any) -> None:
    clock = hands.clock()
    instants = []
    for step in (0, HOUR, -2 * HOUR):
        hands.wall += step
        hands.pass_(1.0)
        instants.append(clock.now())

    assert [at.mono for at in instants] == [10**9, 2 * 10**9, 3 * 10**9]
    assert instants[1].wall - instants[0].wall == HOUR + 10**9
    assert instants[2].wall < instants[0].wall


def test_a_stamp_from_the_past_has_both_its_times(hands: Any) -> None:
    """A chunk heard 0.3 s before it is numbered is dated by when it was heard."""
    clock = hands.clock()
    hands.pass_(1.0)
    stamp = hands.mono
    then = hands.wall
    hands.pass_(0.3)

    assert clock.at(stamp) == Instant(10**9, then)


def test_a_stamp_from_before_the_start_is_the_start(hands: Any) -> None:
    assert hands.clock().at(0).mono == 0


@given(st.integers(-10 * HOUR, 10 * HOUR))
def test_a_clock_that_goes_on_never_goes_back(pause: int) -> None:
    """The pause is what the wall clock says of it, and never less than nothing."""
    last = Instant(7 * 10**9, 100 * HOUR)
    clock = Clock.start(last, monotonic=lambda: 3, wall=lambda: last.wall + pause)

    assert clock.now().mono == last.mono + max(0, pause)


def test_the_host_is_asked_when_nobody_says_otherwise() -> None:
    clock = Clock.start()
    first, second = clock.now(), clock.at(clock.stamp())

    assert 0 <= first.mono <= second.mono < HOUR
    assert abs(first.wall - datetime.now(UTC).timestamp() * 1e9) < HOUR


@given(st.integers(0, 4_102_444_800_000))
def test_a_moment_is_written_as_the_standard_library_reads_it(milliseconds: int) -> None:
    """ISO 8601 as Python's datetime reads it."""
    assert round(datetime.fromisoformat(iso(milliseconds * 10**6)).timestamp() * 1000) == milliseconds
