"""Every word that is said aloud, in English; for another language write this one file in it.

A browser's voice reads numbers in the language that `LANGUAGE` names, with `POINT` between
the whole and its tenths.
"""

from __future__ import annotations

from typing import Final

LANGUAGE: Final = "en"
"""BCP 47 tag of the voice."""
POINT: Final = "."

SPOKEN: Final[dict[str, str]] = {
    "accepted": "{place}: {deviation}; next {next}",
    "accepted-last": "{place}: {deviation}",
    "limits": "{place}: {deviation}. Stop: as large as the plating plan can fill",
    "mastered": "zero taken; withdraw",
    "again": "try again",
    "again-at": "try again: {place}",
    "doubted": "far from the others and set aside; again at {place}",
    "slower": "rock more slowly",
    "sized": "{place}: {deviation}",
    "sized-whole": "{place}: {size}",
    "sized-again": "again, {said}",
    "along": "{z}",
    "lost": "link lost: {gauge}",
    "more": "{more} more",
    "differ": "they differ: swing, then rock",
    "place": "{z}, {angle} degrees",
    "anywhere": "here",
    "plus": "plus {number}",
    "minus": "minus {number}",
    "zero": "zero",
}


def spoken(key: str, **fields: object) -> str:
    """What is said for *key* with *fields* put in.

    >>> spoken("place", z="40", angle="60")
    '40, 60 degrees'
    """
    return SPOKEN[key].format(**fields)


def number(value: float, digits: int = 1) -> str:
    """A number as it is said; no digits after the point where they are zeros and none is due.

    >>> number(3.21), number(40.0, 0)
    ('3.2', '40')
    """
    return f"{value:.{digits}f}".replace(".", POINT)
