"""The rows of sweeps, soaks and tapers name what was tried, and say how far they are."""

from __future__ import annotations

from capture.benchmarks.intervals import (
    measures,
    soak_rows,
    sweep_rows,
    taper_rows,
    unrocked_rows,
    watched_rows,
)
from capture.benchmarks.trials.grinding.intervals import SOAKS, TAPERS
from capture.benchmarks.trials.placing.sweep import HANDS
from capture.benchmarks.trials.placing.unrocked import UNROCKED


def test_every_hand_and_every_stream_has_its_rows_and_is_said_before_it_is_waited_for(monkeypatch):
    """The smallest table there is: few rates, one session."""
    monkeypatch.setattr("capture.benchmarks.intervals.RATES", (10.0, 20.0))
    said: list[str] = []

    hands = list(sweep_rows(sessions=1, progress=said.append))
    streams = list(unrocked_rows(hours=0.01, progress=said.append))

    assert {row.what.split(",")[0] for row in hands} == set(HANDS)
    assert {row.what.rsplit(",", 1)[0] for row in streams} == set(UNROCKED)
    assert len(said) == len({*said}) == len(hands) / 3 + len(streams)


def test_soaks_and_tapers_have_two_rows_a_kind():
    assert len(list(soak_rows(rounds=3))) == 2 * len(SOAKS)
    assert len(list(taper_rows(rounds=3))) == 2 * len(TAPERS)


def test_watched_soaks_have_three_rows_a_kind():
    assert len(list(watched_rows(rounds=1))) == 3 * len(SOAKS)


def test_a_quick_look_names_the_same():
    names = ["sweeps", "unrocked", "soaks", "watched", "tapers"]

    assert list(measures(quick=True, progress=str)) == list(measures(quick=False, progress=str)) == names
