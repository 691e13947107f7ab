"""What a fold is: where to start, and one pure step."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import reduce
from typing import Generic, TypeVar

from msgspec import Struct

from capture.events import Event

S = TypeVar("S")


class Fold(Struct, Generic[S], frozen=True):
    """Where to start, and one step.

    ``step`` may look at nothing but its two arguments: no clock, no file, no random
    number. So stopping anywhere and going on gives the same state, and a replay
    gives what was live.
    """

    start: S
    step: Callable[[S, Event], S]

    def over(self, events: Iterable[Event], state: S | None = None) -> S:
        """The state after *events*, from *state* or from the start."""
        return reduce(self.step, events, self.start if state is None else state)

    def each(self, events: Iterable[Event]) -> Iterator[tuple[Event, S]]:
        """Every event with the state just after it."""
        state = self.start
        for event in events:
            state = self.step(state, event)
            yield event, state
