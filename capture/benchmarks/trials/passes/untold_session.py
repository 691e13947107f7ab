"""A session fed as a trial's job is done: what gauges send, what a person says, a beat every second."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from capture.events import AnyFact, Beat, Event, Flag, Instant, Reading
from capture.sheet.job import Job
from capture.simulator.infeed_head import Shown
from capture.state import decisions, session
from capture.state.grinding import infeed_doubts
from capture.state.session import PROGRAM, State
from capture.state.words.commands import parse_command


class UntoldJob(NamedTuple):
    """One simulated job: what was done, and what was found."""

    made: tuple[tuple[float | None, ...], ...]
    """True infeeds on diameter from one size to the next."""
    found: tuple[tuple[float | None, ...], ...]
    state: State
    truth: tuple[tuple[float, float], ...]
    """At each reading that was taken: true removal by the next pass without infeed, true final size, mm."""
    asked: int
    """Questions about the number of passes."""
    said: tuple[tuple[float, ...], ...] = ()
    """Where passes are entered: the infeeds as the dial showed them, likewise."""


class TrialSession:
    """One job as the program receives it; times are seconds since its beginning."""

    def __init__(self, job: Job) -> None:
        self.state = session.start(job)
        self.asked = 0
        """Questions about the number of passes, so far."""
        self._beat = 0.0

    def received(self, shown: Iterable[Shown]) -> None:
        """The infeed gauge sends."""
        for at, value in shown:
            self._add("saddle", at, Reading(value, "mm", 4, f"{value:.4f}\r\n"))

    def watts(self, shown: Iterable[tuple[float, float]]) -> None:
        """The gauge of power sends."""
        for at, value in shown:
            self._add("drive", at, Reading(value, "W", 1, f"{value:.1f} W\r\n"))

    def sized(self, at: float, value: float) -> None:
        """The micrometer is pressed."""
        self._add("mike", at, Reading(value, "mm", 3, f"{value:.3f}\r\n"))

    def say(self, at: float, words: str) -> None:
        """A person says *words*."""
        self._add("person", at, Beat())
        self._step("person", at, parse_command(words.split(), self.state))

    def answers(self, at: float, passes: int) -> None:
        """Somebody who knows that *passes* were made before the newest size answers what is asked of that."""
        asked = session.open_question(self.state)
        if asked is None or not isinstance(asked.fact, Flag) or asked.fact.what != infeed_doubts.COUNT:
            return
        self.asked += 1
        self.say(at, "yes" if asked.fact.figures["passes"] == passes else "no")

    def found(self, cycles: int) -> tuple[tuple[float | None, ...], ...]:
        """The infeeds found before each of the newest *cycles* sizes, mm on diameter."""
        numbers = [reading.pass_ for reading in self.state.stations.taken]
        rows = [row.infeed for row in self.state.grind.passes]
        return tuple(tuple(rows[a:b]) for a, b in pairwise(numbers))[-cycles:]

    def _add(self, source: str, at: float, fact: AnyFact) -> None:
        for second in range(int(self._beat), int(at)):
            self._step("daemon", second + 1.0, Beat())
        self._beat = max(self._beat, at)
        self._step(source, at, fact)

    def _step(self, source: str, at: float, fact: AnyFact) -> None:
        now = Instant(int(at * 1e9), int(at * 1e9))
        self.state = session.step(self.state, Event(self.state.seq + 1, now, source, fact))
        while due := decisions.found_and_taken(self.state):
            for own in due:
                self.state = session.step(self.state, Event(self.state.seq + 1, now, PROGRAM, own))
