"""A plunge under a gauge that rides on the part: the infeed is one pass and the dwell one that rests.

The truth is the textbook's first-order lag (King and Hahn; Malkin and Guo, "Grinding Technology", from
memory).
"""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from capture.benchmarks.trials.riding.plunge_truth import PlungeTruth, RiddenPlunge, plunged
from capture.benchmarks.trials.riding.rides import sheet
from capture.events import Event, Flag, Instant, Pass, Reading, Reject, Taken
from capture.state import decisions, replay
from capture.state import session as session_of
from capture.state.session import State

TEXTBOOK = RiddenPlunge(feeds=((0.001, 40.0),), dwell=60.0, tau=5.0, noise=0.0003)


class Grind:
    """A session that follows one plunge, and what it found."""

    def __init__(self, one: RiddenPlunge, seed: int = 1) -> None:
        self.truth: PlungeTruth
        self.truth, samples = plunged(one, seed)
        self.state: State = session_of.start(sheet(one.resolution))
        self.events: list[Event] = []
        by_hand = False
        for sample in samples:
            self.show(sample.at, "rider", sample.value)
            if not by_hand and sample.at > 10.0:
                by_hand = True
                self.show(sample.at, "mike", round(one.size, 3))

    def show(self, seconds: float, source: str, value: float) -> None:
        at = Instant(int(seconds * 1e9), int(seconds * 1e9))
        event = Event(self.state.seq + 1, at, source, Reading(value, "mm", 4, f"{value:.4f}\r\n"))
        self.state, added = decisions.step_and_decide(self.state, event)
        self.events += [event, *added]

    @property
    def infeeds(self) -> list[float | None]:
        return [fed for event in self.events if isinstance(event.fact, Pass) for fed in event.fact.infeeds]

    def said(self, what: str) -> list[Event]:
        return [event for event in self.events if isinstance(event.fact, Flag) and event.fact.what == what]

    def to_come(self, at: float) -> float:
        return float(self.truth.to_come[int(at / 0.02)])


@pytest.fixture(scope="module")
def textbook() -> Grind:
    return Grind(TEXTBOOK)


def test_infeed_and_dwell_are_two_passes_of_which_the_second_rests(textbook):
    assert textbook.infeeds == [None, 0.0]


def test_spark_out_is_called_when_less_than_the_limit_is_to_come(textbook):
    first = min(event.at.seconds for what in ("warm", "sparked-out") for event in textbook.said(what))

    assert textbook.to_come(first) < 0.0005
    assert first < textbook.truth.leaves


def test_the_cold_size_is_where_the_decay_ends(textbook):
    fact = textbook.said("sparked-out")[0].fact

    assert isinstance(fact, Flag)
    assert fact.figures["predicted"] == pytest.approx(float(textbook.truth.cold[-1]), abs=0.001)


def test_the_time_constant_is_that_of_the_machine(textbook):
    figures = textbook.state.rides["rider"].stream.steps[-1].figures

    assert figures is not None
    assert figures.tau is not None
    assert abs(figures.tau[0] - 5.0) < 3.0 * figures.tau[1]


def test_the_dwell_has_one_size_that_counts(textbook):
    dropped = {event.fact.of for event in textbook.events if isinstance(event.fact, Reject)}
    sizes = [
        event.seq
        for event in textbook.events
        if isinstance(event.fact, Taken) and event.fact.pass_ == 2 and event.seq not in dropped
    ]

    assert len(sizes) == 1


def test_a_replay_gives_the_same_passes_and_verdict(textbook):
    again = replay.state_at_end(sheet(TEXTBOOK.resolution), textbook.events)

    assert [one.infeed for one in again.grind.passes] == [None, 0.0]
    assert again.grind.row == textbook.state.grind.row


def test_a_warm_part_is_not_called_done():
    """Growth of 5 µm at the stop; 70 s of Newton's cooling: no call before it is under half a micrometre."""
    hot = replace(TEXTBOOK, heat=0.14, cools=70.0, dwell=80.0)
    found = Grind(hot)
    grown = 0.14 * 0.035

    for event in found.said("sparked-out"):
        assert grown * 2.718 ** (-(event.at.seconds - found.truth.stops) / 70.0) < 0.001


def test_a_finer_infeed_is_no_dwell():
    found = Grind(replace(TEXTBOOK, feeds=((0.002, 30.0), (0.0006, 25.0)), tau=3.0))

    assert found.infeeds == [None, 0.0]
    rest = [event for event in found.events if isinstance(event.fact, Pass) and event.fact.infeeds == (0.0,)]
    assert rest[0].at.seconds > found.truth.stops


def test_a_gauge_lifted_in_the_infeed_leaves_one_pass():
    truth, samples = plunged(TEXTBOOK, 1)
    state = session_of.start(sheet(TEXTBOOK.resolution))
    found: list[float | None] = []
    for sample in samples:
        value = sample.value + (1.5 if sample.at > truth.stops - 5.0 else 0.0)
        at = Instant(int(sample.at * 1e9), int(sample.at * 1e9))
        fact = Reading(value, "mm", 4, f"{value:.4f}\r\n")
        state, added = decisions.step_and_decide(state, Event(state.seq + 1, at, "rider", fact))
        found += [fed for event in added if isinstance(event.fact, Pass) for fed in event.fact.infeeds]

    assert found == [None]
    assert state.rides["rider"].stream.plunge is None
