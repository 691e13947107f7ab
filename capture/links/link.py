"""What a link is: an open way to an instrument that carries bytes both ways."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager
from typing import Protocol, TypeAlias, runtime_checkable

from capture.events import AnyFact


class Link(Protocol):
    """An open link."""

    detail: str
    """What was opened, for a person: the port, the device's name."""

    def chunks(self) -> AsyncIterator[tuple[bytes, int]]:
        """The bytes as they come, each chunk with `time.monotonic_ns` at which it was received.

        Ends when the instrument closes the link; raises OSError when the link is lost.
        """
        ...

    async def send(self, data: bytes) -> None:
        """Send *data*; raises OSError when the link is lost."""
        ...


@runtime_checkable
class StatusReporter(Protocol):
    """A link that also receives what is in no reading, such as how full the battery is."""

    tell: Callable[[AnyFact], None] | None
    """Takes such facts; to be set before the first chunk is asked for."""


@runtime_checkable
class Midway(Protocol):
    """A link that may open while the gauge is in the middle of a word."""

    midway: bool
    """Whether bytes were on their way already when it opened: the first ones may lack their head."""


@runtime_checkable
class Pushes(Protocol):
    """A link that can hand over what it receives at the moment in which it receives it."""

    push: Callable[[bytes, int], None] | None
    """Takes each chunk in place of `chunks`, which then only waits for the end."""


Open: TypeAlias = Callable[[], AbstractAsyncContextManager[Link]]
"""How to open a link, again and again; entering raises OSError when it can't be opened.

Whatever a library raises, a link turns into OSError with a sentence for a person:
where, what came, what to do.
"""
