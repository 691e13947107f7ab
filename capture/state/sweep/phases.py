"""What a streaming bore gauge is doing, and how what is seen of it changes that: the whole table.

`silent` sends nothing; `air` is out of the bore; `withdrawn` is out, and may come back to measure the
place again; `entering` is in the bore with nothing found yet; `rocking`, `still` and `moving` are in it.
"""

from __future__ import annotations

from enum import Enum, auto
from typing import Final, Literal, TypeAlias

Phase: TypeAlias = Literal["silent", "air", "entering", "rocking", "still", "moving", "withdrawn"]


class Seen(Enum):
    """What the stream shows."""

    STARTED = auto()
    """Its first reading, or the first after a silence."""
    LEFT_PLACE = auto()
    """Out of the bore, from a place that was being measured."""
    LEFT = auto()
    """Out of the bore, and nothing was being measured."""
    AWAY = auto()
    """Out for longer than a place may be taken again."""
    BACK = auto()
    """In the bore again."""
    STILL = auto()
    """Not moved for a while."""
    MOVED = auto()
    """Moved after it was still, at a place being measured."""
    MOVED_FIRST = auto()
    """Moved after it was still, nothing being measured yet."""
    RHYTHM_LOST = auto()
    """No turning point for longer than rocks take."""
    ROCK = auto()
    """A rock from turn to turn."""


FROM_ANY: Final[dict[Seen, Phase]] = {
    Seen.STARTED: "entering",
    Seen.LEFT_PLACE: "withdrawn",
    Seen.LEFT: "air",
    Seen.BACK: "entering",
    Seen.STILL: "still",
    Seen.ROCK: "rocking",
}
"""Where these lead from every phase."""
FROM_ONE: Final[dict[tuple[Phase, Seen], Phase]] = {
    ("withdrawn", Seen.AWAY): "air",
    ("still", Seen.MOVED): "moving",
    ("still", Seen.MOVED_FIRST): "entering",
    ("rocking", Seen.RHYTHM_LOST): "moving",
}
"""What changes one phase alone, and no other."""


def after(phase: Phase, seen: Seen) -> Phase:
    """The phase after something was seen.

    >>> after("rocking", Seen.RHYTHM_LOST), after("still", Seen.MOVED), after("air", Seen.MOVED)
    ('moving', 'moving', 'air')
    """
    return FROM_ONE.get((phase, seen), FROM_ANY.get(seen, phase))
