"""Remembers what a pure function made of the same objects, so that what did not change costs nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from cachetools import LRUCache

A = TypeVar("A")
B = TypeVar("B")
R = TypeVar("R")

KEPT = 4
"""Results kept: as made and again, for two recordings."""


def remember(work: Callable[[A, B], R]) -> Callable[[A, B], R]:
    """*work*, done again only for other objects than lately: states are frozen, so the same is equal.

    >>> calls = []
    >>> double = remember(lambda a, b: calls.append(a) or [*a, *b])
    >>> one, other = [1], [2]
    >>> double(one, other) is double(one, other), len(calls)
    (True, 1)
    """

    def both(pair: tuple[A, B]) -> tuple[object, ...]:
        return pair

    by_both = remember_by(both, lambda pair: work(pair[0], pair[1]))
    return lambda a, b: by_both((a, b))


def remember_by(rests_on: Callable[[A], tuple[object, ...]], work: Callable[[A], R]) -> Callable[[A], R]:
    """*work*, done again only where one of the objects that its result rests on is another than lately."""
    kept: LRUCache[tuple[int, ...], tuple[tuple[object, ...], R]] = LRUCache(KEPT)

    def remembered(of: A) -> R:
        wanted = rests_on(of)
        key = tuple(map(id, wanted))
        if key not in kept:
            # The objects are kept beside the result, so that no other can take their identity meanwhile.
            kept[key] = (wanted, work(of))
        return kept[key][1]

    return remembered
