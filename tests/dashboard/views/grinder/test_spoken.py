"""At the grinder a size that a gauge in a hand was placed for is said; what is asked is answered by a key."""

from __future__ import annotations

from typing import Any

import pytest

from capture.events import Event, Flag, Instant, Reading
from capture.sheet.reader import job_of
from capture.state import decisions
from capture.state import session as session_of
from capture.state.session import State
from capture.state.words.commands import parse_command
from dashboard.sources.scene import Scene
from dashboard.views.grinder.contents import grinding
from dashboard.views.grinder.spoken import announced

SHEET: dict[str, Any] = {
    "job": {"name": "sleeve"},
    "fit": {"nominal": 55.0, "bore": 55.0, "clearance": {"aim": 0.005, "least": 0.003, "most": 0.008}},
    "shaft": {"material": "steel 4140", "stations": [20, 80, 140]},
    "grinder": {"dial": "diameter"},
    "gauge": [
        {
            "name": "mike",
            "measures": "diameter",
            "link": {"serial": "a"},
            "resolution": 0.001,
            "stream": True,
        },
        {"name": "saddle", "measures": "infeed", "link": {"serial": "b"}, "resolution": 0.001},
    ],
}


class Hand:
    """A micrometer that sends ten times a second, closed on the part and opened, as a script."""

    def __init__(self) -> None:
        self.state: State = session_of.start(job_of(SHEET))
        self.seconds, self.level = 0.0, 56.5

    def add(self, source: str, fact: Any) -> None:
        at = Instant(int(self.seconds * 1e9), int(self.seconds * 1e9))
        self.state, _ = decisions.step_and_decide(self.state, Event(self.state.seq + 1, at, source, fact))

    def go(self, level: float, seconds: float) -> Hand:
        start = self.level
        for number in range(1, round(10 * seconds) + 1):
            self.level = start + (level - start) * min(number / (10 * seconds), 1.0)
            self.seconds += 0.1
            self.add("mike", Reading(round(self.level, 3), "mm", 3, f"{self.level:.3f}\r\n"))
        return self

    def measure(self, size: float) -> Hand:
        return self.go(size, 0.5).go(size, 1.5).go(size + 1.5, 0.5)

    def said(self, units: Any = "mm") -> dict[str, str]:
        found = announced(Scene("live", "a.jsonl", self.state), units)["voice"]
        assert found is not None
        return found


@pytest.fixture
def hand() -> Hand:
    return Hand().go(56.5, 1.0).measure(55.012).go(56.5, 3.0)


def test_a_size_is_said_with_its_place_and_how_far_it_is_over_the_aim(hand: Hand):
    """Bore 55.000 less 0.005 of clearance: 54.995, and the size is 17 µm over it; 17 µm are 6.7 tenths."""
    assert hand.said()["text"] == "20: plus 17"
    assert hand.said()["tone"] == "accepted"
    assert hand.said("in")["text"] == "0.787: plus 6.7"


def test_each_size_is_said_once_and_the_next_place_follows(hand: Hand):
    first = hand.said()
    assert hand.go(56.5, 1.0).said() == first

    assert hand.measure(55.013).go(56.5, 3.0).said()["text"] == "80: plus 18"


def test_lifted_and_placed_again_within_two_seconds_it_is_the_same_place_again(hand: Hand):
    hand.measure(55.013).measure(55.010)

    assert hand.said()["text"] == "again, 80: plus 15"


def test_nothing_is_said_of_what_is_replayed_and_what_was_said_is_shown(hand: Hand):
    shown = announced(Scene("replay", "a.jsonl", hand.state), "mm")

    assert shown["voice"] is None
    assert shown["grinding-said"] == "20: plus 17"


def test_where_no_gauge_streams_and_nothing_is_asked_there_is_no_switch(hand: Hand):
    before = Scene("live", "a.jsonl", session_of.start(job_of(SHEET)))

    assert grinding(before, "mm")["grinding-sound-box@data-state"] == "none"
    assert grinding(Scene("live", "a.jsonl", hand.state), "mm")["grinding-sound-box@data-state"] == "open"


def test_what_is_asked_is_said_until_it_is_answered(hand: Hand):
    hand.add("desk", Flag("infeed-sign", 0, (), gauge="saddle", text="Is its sign wrong?"))

    assert (hand.said()["tone"], hand.said()["text"]) == ("question", "Is its sign wrong?")
    hand.add("desk", Flag("infeed-beyond", 0, (), {"moved": 2.54, "most": 0.0508}, gauge="saddle"))
    assert "saddle moved 2.54 mm" in hand.said()["text"]
    assert "saddle moved 0.1 in" in hand.said("in")["text"]
    for _ in range(2):
        assert hand.said()["tone"] == "question"
        hand.add("person", parse_command(["no"], hand.state))
    assert hand.said()["tone"] == "accepted"
