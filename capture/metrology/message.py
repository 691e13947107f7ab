"""What the arithmetic found, as a name and its figures: sentence and unit are chosen where it is shown.

Arithmetic finds that a taper is below what a gauge sees; it does not know whether the person reads
micrometres or tenths, nor in which language. So it gives the name of what it found, and each
length with the way in which people write such a length.
"""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

Way: TypeAlias = Literal["size", "small", "short", "place", "thickness", "indicator", "roughness"]
"""A whole size; a difference; a difference as somebody set it; a place along a part; a thickness or
another length as somebody set it; a movement as an indicator shows it; a mean roughness Ra."""


ByStep: TypeAlias = Literal["round", "up", "no"]
"""A size is rounded to the step; how far it may be off is rounded up, so that it never reads as nothing; a
scatter is no reading, and keeps its decimals."""


class Length(Struct, frozen=True):
    """A length, and how people write such a length."""

    mm: float
    way: Way
    places: int = 1
    """Decimals of a micrometre or of a tenth, for a difference."""
    signed: bool = False
    by_step: ByStep = "round"
    """What becomes of it where the step of the gauge is known, under which nothing is shown."""


class Message(Struct, frozen=True):
    """One thing to be said."""

    name: str
    """By which the table of sentences knows it."""
    figures: tuple[tuple[str, Figure], ...] = ()


Figure: TypeAlias = "Length | Message | float | str"
Reasons: TypeAlias = tuple[Message, ...]
"""Why something is so, or what speaks against it, the weightiest first; empty where there is nothing."""
Sentence: TypeAlias = "Message | str"
"""What names no length may be a text at once."""


class NotPossible(ValueError):
    """Something that was asked for and cannot be, as it is said to the person who asked."""

    def __init__(self, said: Message) -> None:
        super().__init__(f"{said.name}: {dict(said.figures)}")
        self.said = said


def message(name: str, **figures: Figure) -> Message:
    """What is called *name*, with its figures.

    >>> message("taper.unsure").name
    'taper.unsure'
    """
    return Message(name, tuple(figures.items()))


def size(mm: float) -> Length:
    """A whole diameter."""
    return Length(mm, "size")


def small(mm: float, places: int = 1, *, signed: bool = False) -> Length:
    """A difference of diameters, or a movement."""
    return Length(mm, "small", places, signed)


def within(mm: float) -> Length:
    """How far a figure may be off."""
    return Length(mm, "small", by_step="up")


def scatter(mm: float) -> Length:
    """How far readings scatter."""
    return Length(mm, "small", by_step="no")


def place(mm: float) -> Length:
    """A place along a part."""
    return Length(mm, "place")


def thickness(mm: float) -> Length:
    """A thickness, a runout, a radius: a length as short as it goes."""
    return Length(mm, "thickness")
